"""Every rivet as one stack of plies: all holes on one axis whose faces touch."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from fabplan.geom.pose import to_outer, turned
from fabplan.geom.stack import least_radius, touching_groups
from fabplan.geom.taper import thickness_at
from fabplan.geom.tolerance import CAPTURE, FIGURE, TOUCH
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.clearance import LATER
from fabplan.model.job import Job
from fabplan.model.joints import FROM_MATE


@dataclass(frozen=True, slots=True, eq=False)
class BodyHoles:
    """All holes of the placed pieces in the body frame, n of them, those of purpose "open" included.

    Attributes:
        instance, panel, hole: (n,) indices: instance, panel within the part, hole within the part.
        marked, back: (n, 3) centres on the two faces of the panel, mm.
        normal: (n, 3) outward from the marked face.
        diameter, thickness: (n,) mm; the thickness at the hole where the plate is thinned.
        thinned: (n,) how much thinner it is there, mm.
        open: (n,) True for a stated open purpose.
    """

    instance: IntArray
    panel: IntArray
    hole: IntArray
    marked: FloatArray
    back: FloatArray
    normal: FloatArray
    diameter: FloatArray
    thickness: FloatArray
    thinned: FloatArray
    open: BoolArray


def body_holes(body: Body) -> BodyHoles:
    """The holes of all placed pieces, instance by instance."""
    columns: dict[str, list[NDArray[np.generic]]] = {name: [] for name in BodyHoles.__slots__}
    for index, pose in enumerate(body.poses):
        part = body.part_of(index)
        if pose is None or not part.panels:
            continue
        for number, panel in enumerate(part.panels):
            own = np.nonzero(part.holes.panel == number)[0]
            flat = np.column_stack([part.holes.holes.xy[own], np.zeros(len(own))])
            up = turned(pose, turned(panel.frame, np.array([0.0, 0.0, 1.0])))
            marked = to_outer(pose, to_outer(panel.frame, flat))
            columns["instance"].append(np.full(len(own), index))
            columns["panel"].append(np.full(len(own), number))
            columns["hole"].append(own)
            thick = thickness_at(panel, part.holes.holes.xy[own])
            lost = np.outer(panel.thickness - thick, up)
            from_marked = bool(panel.tapers) and panel.tapers[0].from_marked
            columns["marked"].append(marked - lost if from_marked else marked)
            columns["back"].append(marked - panel.thickness * up + (0.0 if from_marked else lost))
            columns["normal"].append(np.tile(up, (len(own), 1)))
            columns["diameter"].append(part.holes.holes.diameter[own])
            columns["thickness"].append(thick)
            columns["thinned"].append(panel.thickness - thick)
            columns["open"].append(np.array([part.holes.holes.purpose[i] == "open" for i in own], dtype=np.bool_))
    empty: dict[str, NDArray[np.generic]] = {name: np.zeros((0, 3)) for name in ("marked", "back", "normal")}
    empty |= {name: np.zeros(0, dtype=np.int64) for name in ("instance", "panel", "hole")}
    empty["open"] = np.zeros(0, dtype=np.bool_)
    joined = {
        name: np.concatenate(arrays) if arrays else empty.get(name, np.zeros(0)) for name, arrays in columns.items()
    }
    return BodyHoles(**joined)  # type: ignore[arg-type]  # columns differ in type; each was made with its own


def stack(job: Job, body: Body, holes: BodyHoles) -> Stacks:
    """The stacks of a body, numbered seam by seam in the order of the job, unclaimed ones last."""
    faces = np.stack([holes.marked, holes.back], axis=1)
    group = touching_groups(faces, holes.normal, ~holes.open, CAPTURE, TOUCH + _sprung(body, holes))
    members = [np.nonzero(group == label)[0] for label in range(int(group.max(initial=-1)) + 1)]
    claims = claims_of(job, body)
    drafts = [_draft(job, body, holes, own, claims) for own in members]
    order = sorted(range(len(drafts)), key=lambda i: drafts[i].key)
    return _joined(job, body, holes, [drafts[i] for i in order])


def _sprung(body: Body, holes: BodyHoles) -> FloatArray:
    """(n,) mm by which plies may stand off at a hole in a thinned place, over which they are sprung: its plate's."""
    whole = [max((panel.thickness for panel in body.part_of(i).panels), default=0.0) for i in range(len(body.poses))]
    sprung: FloatArray = np.where(holes.thinned > FIGURE, np.array([*whole, 0.0])[holes.instance], 0.0)
    return sprung


@dataclass(frozen=True, slots=True, eq=False)
class _Draft:
    """One stack before numbering: its holes from the head side, its axis, its seam, and where it sorts."""

    holes: IntArray
    axis: FloatArray
    seam: int
    listed: BoolArray
    key: tuple[int, int, int]


Claims = Mapping[tuple[int, int], Sequence[tuple[int, int]]]


def claims_of(job: Job, body: Body) -> Claims:
    """For each hole (instance, hole of its part) the seams that list it, and the place of its ply among theirs."""
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    claims: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for number, seam in enumerate(job.seams):
        for place, ply in enumerate(seam.plies):
            i = index[ply.instance]
            for hole in ply.among(body.part_of(i).holes.holes.row):
                claims.setdefault((i, hole), []).append((number, place))
    return claims


def _draft(job: Job, body: Body, holes: BodyHoles, own: IntArray, claims: Claims) -> _Draft:
    axis = holes.normal[own[0]]
    middle = (holes.marked[own] + holes.back[own]) / 2.0
    own = own[np.argsort(middle @ axis, kind="stable")]
    listed_by = [dict(claims.get((int(holes.instance[k]), int(holes.hole[k])), ())) for k in own]
    counts = Counter(seam for seams in listed_by for seam in seams)
    if not counts:
        return _Draft(own, axis, -1, np.zeros(len(own), dtype=np.bool_), (len(job.seams), int(own[0]), 0))
    seam = min(counts, key=lambda number: (-counts[number], number))
    places = [seams.get(seam, -1) for seams in listed_by]
    known = [place for place in places if place >= 0]
    if known[0] > known[-1]:
        own, axis, places = own[::-1], -axis, places[::-1]
    lead = min((place, i) for i, place in enumerate(places) if place >= 0)[1]
    number = body.part_of(int(holes.instance[own[lead]])).holes.holes.number[holes.hole[own[lead]]]
    return _Draft(own, axis, seam, np.array(places) >= 0, (seam, _along(number), int(own[0])))


def _along(number: str) -> int:
    """The place along the row at the end of a hole number."""
    last = number.rsplit(" ", 1)[-1]
    return int(last) if last.isdigit() else 0


def _joined(job: Job, body: Body, holes: BodyHoles, drafts: list[_Draft]) -> Stacks:
    """The drafts as columns."""
    plies = np.concatenate([draft.holes for draft in drafts]) if drafts else np.zeros(0, dtype=np.int64)
    counts = np.array([len(draft.holes) for draft in drafts], dtype=np.int64)
    first = np.concatenate([[0], np.cumsum(counts)]).astype(np.int64)
    owner = np.repeat(np.arange(len(drafts)), counts)
    axis = np.array([draft.axis for draft in drafts]).reshape(-1, 3)
    seam = np.array([draft.seam for draft in drafts], dtype=np.int64)
    faces = np.stack([holes.marked[plies], holes.back[plies]], axis=1)
    height = np.einsum("kfx,kx->kf", faces, axis[owner])
    centre = faces.mean(axis=1)
    across = centre - np.einsum("kx,kx->k", centre, axis[owner])[:, None] * axis[owner]
    foot = _sums(across, owner, len(drafts)) / np.maximum(counts, 1)[:, None]
    bottom, top = _extremes(height, first)
    faying = height.max(axis=1)[first[:-1]] if drafts else np.zeros(0)
    offset = across - foot[owner]
    along = _places(seam)
    rivet, diameter = _rivets(job, seam, along)
    finished, clear = _sizes(job, body, holes, drafts, rivet)
    grip = top - bottom
    sprung = np.zeros(len(drafts), dtype=np.bool_)
    np.logical_or.at(sprung, owner, holes.thinned[plies] > FIGURE)
    grip[sprung] = np.bincount(owner, holes.thickness[plies], len(drafts))[sprung]  # the plies drawn together
    return Stacks(
        number=_numbers(job, seam, along),
        seam=seam,
        rivet=rivet,
        point=foot + faying[:, None] * axis,
        axis=axis,
        grip=grip,
        head_face=foot + bottom[:, None] * axis,
        point_face=foot + top[:, None] * axis,
        diameter=diameter,
        hole=finished,
        clear=clear,
        misfit=_greatest_offset(offset, first, axis),
        first=first,
        ply_instance=holes.instance[plies].astype(np.int64),
        ply_panel=holes.panel[plies].astype(np.int64),
        ply_hole=holes.hole[plies].astype(np.int64),
        ply_thickness=holes.thickness[plies],
        ply_offset=offset,
        ply_listed=np.concatenate([draft.listed for draft in drafts]) if drafts else np.zeros(0, dtype=np.bool_),
        ply_gap=_gaps(height, first),
    )


def _sizes(
    job: Job, body: Body, holes: BodyHoles, drafts: list[_Draft], rivet: IntArray
) -> tuple[FloatArray, FloatArray]:
    """(n,) mm, the largest finished hole of each stack, and its smallest as cut, 0 where a ply has none yet."""
    states = [{ply.instance: ply.state for ply in seam.plies} for seam in job.seams]
    finished, clear = np.zeros(len(drafts)), np.zeros(len(drafts))
    for i, draft in enumerate(drafts):
        drawn = holes.diameter[draft.holes]
        marks = [body.instances[k].mark for k in holes.instance[draft.holes].tolist()] if draft.seam >= 0 else []
        own = {states[draft.seam].get(mark, "full") for mark in marks}
        final = job.rivets[int(rivet[i])].hole if rivet[i] >= 0 and own.intersection(LATER) else 0.0
        finished[i] = max(float(drawn.max()), final)
        clear[i] = 0.0 if own.intersection((FROM_MATE, "mark")) else float(drawn.min())
    return finished, clear


def _sums(values: FloatArray, owner: IntArray, count: int) -> FloatArray:
    total = np.zeros((count, values.shape[1]))
    np.add.at(total, owner, values)
    return total


def _extremes(height: FloatArray, first: IntArray) -> tuple[FloatArray, FloatArray]:
    if len(first) < 2:
        return np.zeros(0), np.zeros(0)
    return (
        np.minimum.reduceat(height.min(axis=1), first[:-1]),
        np.maximum.reduceat(height.max(axis=1), first[:-1]),
    )


def _gaps(height: FloatArray, first: IntArray) -> FloatArray:
    """(k,) mm from each ply's nearer face to the further one of the ply before it; `height` (k, 2) of its faces."""
    gap = np.zeros(len(height))
    gap[1:] = height[1:].min(axis=1) - height[:-1].max(axis=1)
    gap[first[:-1]] = 0.0
    return gap


def _greatest_offset(offset: FloatArray, first: IntArray, axis: FloatArray) -> FloatArray:
    """(n,) mm, diameter of the least circle across each axis that holds the centres of all holes of the stack."""
    greatest = np.zeros(len(first) - 1)
    for i, (start, end) in enumerate(pairwise(first.tolist())):
        own = offset[start:end]
        greatest[i] = np.linalg.norm(own[:, None, :] - own[None, :, :], axis=2).max()
        if end - start > 2 and greatest[i] > FIGURE:
            greatest[i] = 2.0 * least_radius(own, axis[i])
    return greatest


def _places(seam: IntArray) -> IntArray:
    """(n,) the place of each stack along its seam, from 1."""
    seen: Counter[int] = Counter()
    places = []
    for index in seam.tolist():
        seen[index] += 1
        places.append(seen[index])
    return np.array(places, dtype=np.int64)


def _rivets(job: Job, seam: IntArray, along: IntArray) -> tuple[IntArray, FloatArray]:
    """Index of the rivet, or of what stands in its place, and its diameter for each stack; -1 and 0 without a seam."""
    by_mark = {rivet.mark: i for i, rivet in enumerate(job.rivets)}
    of_seam = np.array([by_mark.get(spec.rivet, -1) for spec in job.seams] + [-1], dtype=np.int64)
    rivet = of_seam[seam]
    for number, spec in enumerate(job.seams):
        for one in spec.instead:
            rivet[(seam == number) & np.isin(along, one.holes)] = by_mark.get(one.rivet, -1)
    size = np.array([one.diameter for one in job.rivets] + [0.0])
    return rivet, size[rivet]


def _numbers(job: Job, seam: IntArray, along: IntArray) -> tuple[str, ...]:
    """Rivet numbers: seam mark and place along the seam."""
    marks = [spec.mark for spec in job.seams] + ["?"]
    return tuple(f"{marks[index]} {place}" for index, place in zip(seam.tolist(), along.tolist(), strict=True))
