"""Holes that are drawn in no piece of their own: drilled through from the mate when both are bolted or clamped up."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.stacks import BodyHoles, body_holes
from fabplan.geom.pose import to_own
from fabplan.geom.prism import contains, solid
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body
from fabplan.model.holes import Holes
from fabplan.model.job import Job
from fabplan.model.joints import FROM_MATE, PlySpec, RivetSpec, SeamSpec
from fabplan.model.panel import PartHoles
from fabplan.model.part import Instance, Part

SQUARE = 0.9996  # cosine of 1.6 degrees: facets of two rounds may lie by half of one each off one another
NEAR = 60.0  # mm from the mate's marked face to that of the ply: past any grip of this trade


@dataclass(frozen=True, slots=True, eq=False)
class _Through:
    """A row of holes that a ply takes from its mate: (n,) panel, (n, 2) place on it, (n,) diameter, mm."""

    row: str
    panel: IntArray
    xy: FloatArray
    diameter: FloatArray


def drilled(job: Job, body: Body) -> Body:
    """The body with the holes that its pieces take from their mates.

    Pieces of one part that differ then have parts of their own, of the same mark, behind those of the kit.
    """
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    taking = [(seam, ply) for seam in job.seams for ply in seam.plies if ply.state == FROM_MATE]
    if not taking:
        return body
    holes = body_holes(body)
    rivets = {rivet.mark: rivet for rivet in job.rivets}
    added: dict[int, list[_Through]] = {}
    for seam, ply in taking:
        instance, mate = index[ply.instance], _mate(body, index, seam)
        if body.poses[instance] is not None and ply.row not in body.part_of(instance).holes.holes.row:
            own = _row(body, holes, index[mate.instance], mate)
            through = _through(ply.row, body, instance, holes, own)
            if ply is seam.plies[-1]:
                through = replace(through, diameter=_tapped(seam, rivets, through.diameter))
            added.setdefault(instance, []).append(through)
    return _with_parts(body, added)


def _mate(body: Body, index: Mapping[str, int], seam: SeamSpec) -> PlySpec:
    """The ply that the others of a seam are drilled from: the first with holes of its own, formed to template last."""
    own = [ply for ply in seam.plies if ply.state != FROM_MATE]
    return min(own, key=lambda ply: bool(body.part_of(index[ply.instance]).spec.formed))


def _tapped(seam: SeamSpec, rivets: Mapping[str, RivetSpec], diameter: FloatArray) -> FloatArray:
    """Diameters (n,) of a last ply's holes, mm: of the tapping drill where what goes in is screwed."""
    specs = [rivets.get(seam.fastener(place)) for place in range(1, len(diameter) + 1)]
    taps = [spec.tapped if spec is not None and spec.tapped is not None else np.nan for spec in specs]
    return np.where(np.isnan(taps), diameter, taps)


def _row(body: Body, holes: BodyHoles, instance: int, ply: PlySpec) -> IntArray:
    """Indices of the holes of one ply of a seam."""
    named = set(ply.among(body.part_of(instance).holes.holes.row))
    own = [i for i in np.nonzero(holes.instance == instance)[0].tolist() if holes.hole[i] in named]
    return np.array(own, dtype=np.int64)


def _through(row: str, body: Body, instance: int, holes: BodyHoles, own: IntArray) -> _Through:
    """Where holes of a mate go through a piece: through its nearest panel that lies square to them."""
    pose, many = body.poses[instance], len(own)
    nearest, panel, xy = np.full(many, NEAR), np.full(many, -1), np.zeros((many, 2))
    for number, one in enumerate(body.part_of(instance).panels):
        metal = solid(one, pose)
        place = to_own(metal.frame, holes.marked[own])
        square = np.abs(holes.normal[own] @ metal.frame.rotation[:, 2]) > SQUARE
        better = square & contains(metal.face, place[:, :2]) & (np.abs(place[:, 2]) < nearest)
        nearest[better], panel[better], xy[better] = np.abs(place[better, 2]), number, place[better, :2]
    found = panel >= 0
    return _Through(row, panel[found], xy[found], holes.diameter[own][found])


def _with_parts(body: Body, added: dict[int, list[_Through]]) -> Body:
    """The body with its pieces drilled; the first that is, where no other keeps it undrilled, stays in its part."""
    parts, instances = list(body.parts), list(body.instances)
    kept = {instance.part for number, instance in enumerate(body.instances) if number not in added}
    for number, rows in added.items():
        own, mark = instances[number].part, instances[number].mark
        part = _with_holes(body.parts[own], rows)
        if own in kept:
            instances[number] = Instance(mark, len(parts))
            parts.append(part)
        else:
            parts[own] = part
            kept.add(own)
    return replace(body, parts=tuple(parts), instances=tuple(instances))


def _with_holes(part: Part, rows: list[_Through]) -> Part:
    """A part with more holes, to be riveted."""
    old = part.holes.holes
    names = tuple(row.row for row in rows for _ in row.panel)
    numbers = tuple(f"{name} {names[:k].count(name) + 1}" for k, name in enumerate(names))  # on from mate to mate
    holes = Holes(
        np.vstack([old.xy, *(row.xy for row in rows)]),
        np.concatenate([old.diameter, *(row.diameter for row in rows)]),
        (*old.row, *names),
        (*old.number, *numbers),
        (*old.purpose, *("rivet",) * len(names)),
        (*old.handle, *("",) * len(names)),
    )
    panel = np.concatenate([part.holes.panel, *(row.panel for row in rows)]).astype(np.int64)
    return replace(part, holes=PartHoles(holes, panel))
