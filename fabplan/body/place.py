"""Putting the pieces together from their seams, starting at the datum."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from fabplan.body.doubt import Doubt, doubt
from fabplan.body.fit import NEAR
from fabplan.body.kit import kit_of as whole_kit
from fabplan.body.kit import looks, upside_down
from fabplan.body.rows import Link, links, rough_lies, widened
from fabplan.body.search import bodies, closing_bodies
from fabplan.body.settle import settled
from fabplan.model.body import Body
from fabplan.model.job import Job
from fabplan.model.joints import PlaceSpec
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose

OPEN = NEAR
"""Faults of a body of which at least one seam does not close (see `body.fit.faults`)."""


@dataclass(frozen=True, slots=True, eq=False)
class Placing:
    """The body, and what the search learnt on the way.

    Attributes:
        body: the best body.
        links: the links of all seams.
        doubt: how other bodies differ that fit equally well; None where there are none.
        faults: how many faults the best body has (see `body.fit.faults`).
        upside_down: True where the body stands on the side of the datum that should look outside.
        datum_mirrored: True where the kit closes only with its datum turned over, as if drawn of the other hand.
        rough: instances that no seam places hole on hole; where they stand, they lie on its rows roughly.
    """

    body: Body
    links: tuple[Link, ...]
    doubt: Doubt | None
    faults: int
    upside_down: bool = False
    datum_mirrored: bool = False
    rough: frozenset[int] = frozenset()


def place(job: Job, parts: tuple[Part, ...], instances: tuple[Instance, ...], *, by_holes: bool = False) -> Placing:
    """The body of the kit, by its holes alone where `by_holes` is True. A piece that nothing holds has no pose."""
    kit_of = partial(whole_kit, by_holes=by_holes)
    every = links(job, parts, instances)
    stated = start_of(job, instances)
    start = {i: pose for i, pose in stated.items() if not parts[instances[i].part].spec.formed}
    datum = next(i for i, instance in enumerate(instances) if instance.mark == job.datum)
    pieces = tuple(parts[instance.part] for instance in instances)
    kit = kit_of(pieces, every, datum, start)
    found, faults = bodies(kit, start)
    wide = widened(every) if faults or len(found[0]) < len(instances) else None
    if wide is not None:
        wider = kit_of(pieces, wide, datum, start)
        again, left = bodies(wider, start)
        if (-len(again[0]), left) < (-len(found[0]), faults):
            every, kit, found, faults = wide, wider, again, left
    rough = frozenset(range(len(instances))) - frozenset(found[0])
    roughly = _roughly(every, rough)
    if roughly is not None:
        every = roughly
        kit = kit_of(pieces, every, datum, start)
        found, faults = bodies(kit, start)
    mirrored = False
    if faults >= OPEN and pieces[datum].section is None:
        over = kit_of(_turned_over(pieces, datum), every, datum, start)
        closing = closing_bodies(over, start)
        mirrored = closing is not None
        kit, (found, faults) = (over, closing) if closing is not None else (kit, (found, faults))
    best = settled(found[0], start, every)
    body = Body(
        parts,
        instances,
        tuple(best.get(i, stated.get(i)) for i in range(len(instances))),
        tuple(_reason(job, i, instances, found[0], every) for i in range(len(instances))),
        tuple(looks(kit, i, best[i]) if i in best else "" for i in range(len(instances))),
    )
    return Placing(body, every, doubt(job, instances, kit, found), faults, upside_down(kit, best), mirrored, rough)


def _roughly(every: tuple[Link, ...], unplaced: frozenset[int]) -> tuple[Link, ...] | None:
    """The links once rows of pieces that nothing holds lie roughly on their seams; None where there are none."""
    loose = tuple(
        replace(link, lies=rough_lies(link.row_a, link.row_b))
        if not link.lies and unplaced.intersection((link.a, link.b))
        else link
        for link in every
    )
    return loose if any(len(one.lies) > len(link.lies) for one, link in zip(loose, every, strict=True)) else None


def _turned_over(pieces: tuple[Part, ...], datum: int) -> tuple[Part, ...]:
    """The pieces with the datum's marked face looking the other way: what a datum of the other hand amounts to."""
    old = pieces[datum]
    other = replace(old, spec=replace(old.spec, marked="inside" if old.spec.marked == "outside" else "outside"))
    return tuple(other if piece is old else piece for piece in pieces)


def start_of(job: Job, instances: tuple[Instance, ...]) -> dict[int, Pose]:
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


def _reason(
    job: Job, instance: int, instances: tuple[Instance, ...], found: Mapping[int, Pose], every: tuple[Link, ...]
) -> str:
    mark = instances[instance].mark
    if mark in {spec.part for spec in job.places}:
        return "placed as the job states"
    if mark == job.datum:
        return "the datum"
    if instance not in found:
        return _unplaced(instance, instances, found, every)
    held = [job.seams[link.seam].mark for link in every if instance in (link.a, link.b)]
    return "placed by seam " + ", ".join(dict.fromkeys(held))


def _unplaced(
    instance: int, instances: tuple[Instance, ...], found: Mapping[int, Pose], every: tuple[Link, ...]
) -> str:
    """Why the search gave a piece no pose."""
    own = [link for link in every if instance in (link.a, link.b)]
    if not own:
        return "not placed: no seam holds it"
    if all(min(len(link.row_a.points), len(link.row_b.points)) < 2 for link in own):
        return "not placed: a single hole leaves it free to turn"
    ends = {end for link in own for end in (link.a, link.b)} - {instance}
    if not ends.intersection(found):
        marks = ", ".join(instances[end].mark for end in sorted(ends))
        return f"not placed: its seams lead only to {marks}, and no seam leads from there to the datum"
    return "not placed: its rows lie on none of those that its seams name"
