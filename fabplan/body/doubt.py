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
    ways = [_way(kit, first, found[0][first], body.get(first)) for body in found[1:]]
    return Doubt(
        tuple(instances[i].mark for i in free),
        tuple(dict.fromkeys(way for way in ways if way)),
        tuple(_cures(job, instances, kit, found, free)),
    )


def _same(kit: Kit, instance: int, one: Pose, other: Pose | None) -> bool:
    return other is not None and same_place(kit, instance, one, other)


def _way(kit: Kit, instance: int, one: Pose, other: Pose | None) -> str:
    """How a piece stands in another pose, in words of its own frame; "" where it stands alike."""
    if other is None or same_place(kit, instance, one, other):
        return ""
    axis, angle = turn_between(one, other)
    apart = float(np.linalg.norm(centre(kit.solids[instance], other) - centre(kit.solids[instance], one)))
    words = [_turned(axis, angle, bar=kit.parts[instance].section is not None)] if angle > MOVED else []
    words += [f"with its middle {apart:.1f} mm away"] if apart > MOVED else []
    return " ".join(words)


def _turned(axis: FloatArray, angle: float, bar: bool) -> str:
    along = int(np.abs(axis).argmax())
    if not (abs(angle - 180.0) <= MOVED and abs(axis[along]) > 0.999):
        return f"turned by {angle:.0f} degrees"
    if bar:
        return "turned half round about its length" if along == 0 else "turned end for end"
    return "turned half round in its plane" if along == 2 else f"turned over about its {'xy'[along]}"


def _cures(job: Job, instances: Sequence[Instance], kit: Kit, found: Sequence[Found], free: list[int]) -> Iterator[str]:
    """Single statements that no two of the bodies share; else the places of as few pieces as tell them apart."""
    for i in free:
        if not kit.parts[i].spec.marked and _apart([looks(kit, i, body[i]) if i in body else "" for body in found]):
            yield f'marked = "inside" or "outside" on {instances[i].mark}'
    for number, seam in enumerate(job.seams):
        if not seam.head and _apart([_side(kit, number, body) for body in found]):
            yield f'head = "inside" or "outside" on seam {seam.mark}'
    yield " with ".join(_place(instances[i].mark, found[0][i]) for i in _telling(kit, found, free))


def _apart(answers: Sequence[str]) -> bool:
    """True where each body gives an answer of its own."""
    return all(answers) and len(set(answers)) == len(answers)


def _side(kit: Kit, seam: int, body: Found) -> str:
    """Where the heads of a seam would be: "" where its links differ."""
    sides = set()
    for link in kit.every:
        if link.seam == seam and link.a in body and link.b in body:
            towards = fit(link, body[link.a], body[link.b]).towards
            sides.add("outside" if float(towards @ inwards(kit, link, body[link.a])) > 0.0 else "inside")
    return sides.pop() if len(sides) == 1 else ""


def _telling(kit: Kit, found: Sequence[Found], free: list[int]) -> list[int]:
    """A piece whose place tells all bodies apart, or all that stand elsewhere."""
    for i in free:
        poses = [body.get(i) for body in found]
        if not any(one is not None and _same(kit, i, one, other) for one, other in combinations(poses, 2)):
            return [i]
    return free


def _place(mark: str, pose: Pose) -> str:
    """The place of a piece as the job file states it."""
    columns = (pose.origin, pose.rotation[:, 0], pose.rotation[:, 1])
    origin, x, y = (
        f"[{', '.join(f'{value:g}' for value in (np.round(column, 4) + 0.0).tolist())}]" for column in columns
    )
    return f'[[place]] part = "{mark}", origin = {origin}, x = {x}, y = {y}, as it stands in these papers'
