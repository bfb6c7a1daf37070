"""Bodies that fit as well as the one taken: how pieces stand in them, and what the job may state to settle it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fabplan.body.fit import fit
from fabplan.body.kit import Kit, centre, inwards, looks, same_place
from fabplan.geom.turn import turn_between
from fabplan.model.arrays import FloatArray
from fabplan.model.job import Job
from fabplan.model.part import Instance
from fabplan.model.pose import Pose

MOVED = 0.5
"""Shift, mm, and turn, degrees, under which a piece counts as not shifted, not turned."""

MOST = 2  # statements offered beside the places

Found = Mapping[int, Pose]


@dataclass(frozen=True, slots=True)
class Doubt:
    """Why there is more than one body.

    Attributes:
        marks: of the pieces that stand elsewhere.
        ways: how the first of them stands in each other body, against the one that is taken.
        cures: single statements, any one of which settles it; a [[place]] where nothing less does.
    """

    marks: tuple[str, ...]
    ways: tuple[str, ...]
    cures: tuple[str, ...]


def doubt(job: Job, instances: Sequence[Instance], kit: Kit, found: Sequence[Found]) -> Doubt | None:
    """What tells the bodies found apart, the first of which is taken; None where there is but one."""
    free = [
        i for i, pose in sorted(found[0].items()) if any(not _same(kit, i, pose, body.get(i)) for body in found[1:])
    ]
    if not free:
        return None
    first = free[0]
    ways = [_way(kit, instances, first, (found[0], body)) for body in found[1:]]
    return Doubt(
        tuple(instances[i].mark for i in free),
        tuple(dict.fromkeys(way for way in ways if way)),
        tuple(_cures(job, instances, kit, found, free)),
    )


def _same(kit: Kit, instance: int, one: Pose, other: Pose | None) -> bool:
    return other is not None and same_place(kit, instance, one, other)


def _way(kit: Kit, instances: Sequence[Instance], instance: int, bodies: tuple[Found, Found]) -> str:
    """How a piece stands in another body, against the first, in words; "" where it stands alike."""
    one, other = bodies[0][instance], bodies[1].get(instance)
    if other is None or same_place(kit, instance, one, other):
        return ""
    axis, angle = turn_between(one, other)
    words = [_turned(axis, angle, bar=kit.parts[instance].section is not None)] if angle > MOVED else []
    faces = _other_faces(kit, instance, bodies)
    words += [f"on the other face of {' and '.join(instances[i].mark for i in faces)}"] if faces else []
    away = one.rotation.T @ (centre(kit.solids[instance], other) - centre(kit.solids[instance], one))
    if np.hypot(*away[:2]) > MOVED or (abs(away[2]) > MOVED and not faces):
        words.append(_moved(away))
    return ", ".join(words)


def _other_faces(kit: Kit, instance: int, bodies: tuple[Found, Found]) -> list[int]:
    """The pieces that a piece lies on by its seams, in another body on their other face."""
    faces = []
    for link in (kit.every[number] for number in kit.links.get(instance, ())):
        mate = link.b if link.a == instance else link.a
        fits = [fit(link, body[link.a], body[link.b]) for body in bodies if link.a in body and link.b in body]
        backs = {one.back_a if link.a == mate else one.back_b for one in fits}
        if len(backs) == 2 and mate not in faces:
            faces.append(mate)
    return faces


def _moved(away: FloatArray) -> str:
    """A shift (3,) of a middle, in the piece's own frame, in words."""
    size, along = float(np.linalg.norm(away)), int(np.abs(away).argmax())
    if abs(away[along]) >= size - MOVED:
        return f"moved {size:.1f} mm along its {'xyz'[along]}"
    return f"its middle moved {size:.1f} mm"


def _turned(axis: FloatArray, angle: float, bar: bool) -> str:
    along = int(np.abs(axis).argmax())
    if not (abs(angle - 180.0) <= MOVED and abs(axis[along]) > 0.999):
        return f"turned by {angle:.0f} degrees"
    if bar:
        return "turned half round about its length" if along == 0 else "turned end for end"
    return "turned half round in its plane" if along == 2 else f"turned over about its {'xy'[along]}"


def _cures(job: Job, instances: Sequence[Instance], kit: Kit, found: Sequence[Found], free: list[int]) -> Iterator[str]:
    """Statements that no two of the bodies share, single ones, else two together; and the places that part them."""
    answers = [
        (f'marked = "inside" or "outside" on {instances[i].mark}', [_look(kit, i, body) for body in found])
        for i in free
        if not kit.parts[i].spec.marked
    ]
    answers += [
        (f'head = "inside" or "outside" on seam {seam.mark}', [_side(kit, number, body) for body in found])
        for number, seam in enumerate(job.seams)
        if not seam.head
    ]
    answers = [(text, told) for text, told in answers if all(told)]
    for size in (1, 2):
        cures = [
            " with ".join(text for text, _ in some)
            for some in combinations(answers, size)
            if len(set(zip(*(told for _, told in some), strict=True))) == len(found)
        ]
        if cures:
            yield from cures[:MOST]
            break
    places = " with ".join(_place(instances[i].mark, found[0][i]) for i in _telling(kit, found, free))
    yield f"{places}, if it is meant as in these papers"


def _look(kit: Kit, instance: int, body: Found) -> str:
    """Where the marked face of a piece looks in one body, "" where it stands in none or nothing tells."""
    return looks(kit, instance, body[instance]) if instance in body else ""


def _side(kit: Kit, seam: int, body: Found) -> str:
    """Where the heads of a seam would be: "" where its links differ."""
    sides = set()
    for link in kit.every:
        if link.seam == seam and link.a in body and link.b in body:
            towards = fit(link, body[link.a], body[link.b]).towards
            sides.add("outside" if float(towards @ inwards(kit, link, body[link.a])) > 0.0 else "inside")
    return sides.pop() if len(sides) == 1 else ""


def _telling(kit: Kit, found: Sequence[Found], free: list[int]) -> list[int]:
    """The fewest pieces whose places tell all bodies apart."""
    pairs = list(combinations(found, 2))
    alike = {i: {k for k, pair in enumerate(pairs) if _as_in(kit, i, pair)} for i in free}
    for size in range(1, len(free)):
        for some in combinations(free, size):
            if not set.intersection(*(alike[i] for i in some)):
                return list(some)
    return free


def _as_in(kit: Kit, instance: int, pair: tuple[Found, Found]) -> bool:
    """True where a piece stands alike in two bodies."""
    one, other = (body.get(instance) for body in pair)
    return one is None or other is None or same_place(kit, instance, one, other)


def _place(mark: str, pose: Pose) -> str:
    """The place of a piece as the job file states it."""
    columns = (pose.origin, pose.rotation[:, 0], pose.rotation[:, 1])
    origin, x, y = (
        f"[{', '.join(f'{value:g}' for value in (np.round(column, 4) + 0.0).tolist())}]" for column in columns
    )
    return f'[[place]] part = "{mark}", origin = {origin}, x = {x}, y = {y}'
