"""Putting the pieces together from their seams, starting at the datum."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.fit import NEAR, fit, touching
from fabplan.body.kit import Kit, kit_of, looks, same_place, upside_down
from fabplan.body.rows import Link, links
from fabplan.body.search import bodies, closing_bodies
from fabplan.geom.pose import best_fit, to_own
from fabplan.geom.tolerance import TOUCH
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.job import Job, PlaceSpec
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose

OPEN = NEAR
"""Faults of a body of which at least one seam does not close (see `body.fit.faults`)."""

OFF_FACE = 100.0
"""Distance of the second point that stands for a face, mm: a row alone leaves the turn about itself free."""

SWEEPS = 12
"""Times that all pieces are laid anew, at most; a sound kit is still after one."""

STILL = 0.002
"""Movement of a piece, mm, under which a sweep has changed nothing."""

SETTLED = 0.2
"""Offset, mm, at which a hole's weight halves: one strayed hole must not drag its piece along."""


@dataclass(frozen=True, slots=True, eq=False)
class Placing:
    """The body, and what the search learnt on the way.

    Attributes:
        body: the best body.
        links: the links of all seams.
        others: marks of instances that other, equally good bodies put elsewhere.
        faults: how many faults the best body has (see `body.fit.faults`).
        upside_down: True where the body stands on the side of the datum that should look outside.
        datum_mirrored: True where the kit closes only with its datum turned over, as if drawn of the other hand.
    """

    body: Body
    links: tuple[Link, ...]
    others: tuple[str, ...]
    faults: int
    upside_down: bool = False
    datum_mirrored: bool = False


def place(job: Job, parts: tuple[Part, ...], instances: tuple[Instance, ...]) -> Placing:
    """The body of the kit. A piece that nothing holds has no pose."""
    every = links(job, parts, instances)
    start = _start(job, instances)
    datum = next(i for i, instance in enumerate(instances) if instance.mark == job.datum)
    pieces = tuple(parts[instance.part] for instance in instances)
    kit = kit_of(pieces, every, datum, start[datum])
    found, faults = bodies(kit, start)
    mirrored = False
    if faults >= OPEN and pieces[datum].section is None:
        over = kit_of(_turned_over(pieces, datum), every, datum, start[datum])
        closing = closing_bodies(over, start)
        mirrored = closing is not None
        kit, (found, faults) = (over, closing) if closing is not None else (kit, (found, faults))
    best = _settled(found[0], start, every)
    others = tuple(
        instances[i].mark for i in sorted(best) if any(_moved(kit, i, found[0][i], body.get(i)) for body in found[1:])
    )
    body = Body(
        parts,
        instances,
        tuple(best.get(i) for i in range(len(instances))),
        tuple(_reason(job, i, instances, found[0], every) for i in range(len(instances))),
        tuple(looks(kit, i, best[i]) if i in best else "" for i in range(len(instances))),
    )
    return Placing(body, every, others, faults, upside_down(kit, best), mirrored)


def _turned_over(pieces: tuple[Part, ...], datum: int) -> tuple[Part, ...]:
    """The pieces with the datum's marked face looking the other way: what a datum of the other hand amounts to."""
    old = pieces[datum]
    other = replace(old, spec=replace(old.spec, marked="inside" if old.spec.marked == "outside" else "outside"))
    return tuple(other if piece is old else piece for piece in pieces)


def _start(job: Job, instances: tuple[Instance, ...]) -> dict[int, Pose]:
    """The pieces whose place is stated, and the datum."""
    index = {instance.mark: i for i, instance in enumerate(instances)}
    start = {index[spec.part]: _stated(spec) for spec in job.places if spec.part in index}
    start.setdefault(index[job.datum], Pose())
    return start


def _stated(spec: PlaceSpec) -> Pose:
    """The pose of an explicit place; y is squared to x."""
    x = np.array(spec.x) / np.linalg.norm(spec.x)
    y = np.array(spec.y) - (np.array(spec.y) @ x) * x
    y /= np.linalg.norm(y)
    return Pose(np.column_stack([x, y, np.cross(x, y)]), np.array(spec.origin))


def _settled(found: Mapping[int, Pose], start: Mapping[int, Pose], every: tuple[Link, ...]) -> dict[int, Pose]:
    """Each piece laid best on all pieces placed before it, then on all its neighbours until nothing moves any more.

    Strayed holes count little, so that a row that is out stays out by itself and is not smeared over its neighbours.
    """
    done = {i: found[i] for i in start}
    for instance in found:
        if instance not in done:
            done[instance] = _laid(instance, found[instance], done, every)
    for _ in range(SWEEPS):
        moved = 0.0
        for instance in found:
            if instance not in start:
                laid = _laid(instance, done[instance], done, every)
                moved = max(moved, _apart(laid, done[instance]))
                done[instance] = laid
        if moved <= STILL:
            break
    return done


def _apart(one: Pose, other: Pose) -> float:
    """How far two poses lie apart, mm, at the origin and a metre from it."""
    turn = float(np.abs(one.rotation - other.rotation).max())
    return float(np.abs(one.origin - other.origin).max()) + 1000.0 * turn


def _laid(instance: int, pose: Pose, done: Mapping[int, Pose], every: tuple[Link, ...]) -> Pose:
    for _ in range(3):
        own, outer = _pairs(instance, pose, done, every)
        if len(own) < 6:
            return pose
        miss = np.linalg.norm(own @ pose.rotation.T + pose.origin - outer, axis=1)
        pose = best_fit(own, outer, 1.0 / (1.0 + (miss / SETTLED) ** 2))
    return pose


def _pairs(
    instance: int, pose: Pose, done: Mapping[int, Pose], every: tuple[Link, ...]
) -> tuple[FloatArray, FloatArray]:
    """Points of the piece (own frame) and where the placed pieces want them (body frame), two for each mated hole."""
    own, outer = [np.zeros((0, 3))], [np.zeros((0, 3))]
    for link in every:
        other = link.b if link.a == instance else link.a
        if instance not in (link.a, link.b) or other not in done:
            continue
        mine = link.b == instance
        pose_a, pose_b = (done[link.a], pose) if mine else (pose, done[link.b])
        found = fit(link, pose_a, pose_b)
        if not abs(found.gap) <= TOUCH:  # a seam whose faces do not meet has no say
            continue
        points_a, points_b = touching(link, found, pose_a, pose_b)
        here, there = points_b[found.mate_b], points_a[found.mate_a]
        here, there = (here, there) if mine else (there, here)
        own += [to_own(pose, here), to_own(pose, here + OFF_FACE * found.towards)]
        outer += [there, there + OFF_FACE * found.towards]
    return np.vstack(own), np.vstack(outer)


def _moved(kit: Kit, instance: int, one: Pose, other: Pose | None) -> bool:
    return other is None or not same_place(kit, instance, one, other)


def _reason(
    job: Job, instance: int, instances: tuple[Instance, ...], found: Mapping[int, Pose], every: tuple[Link, ...]
) -> str:
    mark = instances[instance].mark
    if mark in {spec.part for spec in job.places}:
        return "placed as the job states"
    if mark == job.datum:
        return "the datum"
    if instance not in found and any(instance in (link.a, link.b) for link in every):
        return "not placed: its rows lie on none of those that its seams name"
    if instance not in found:
        return "not placed: no seam holds it"
    held = [job.seams[link.seam].mark for link in every if instance in (link.a, link.b)]
    return "placed by seam " + ", ".join(dict.fromkeys(held))
