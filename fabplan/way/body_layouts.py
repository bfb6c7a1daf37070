"""Layouts of holes for the spacing checks, from the stacks of the body."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.geom.profile import merged
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.holes import Holes
from fabplan.model.job import Job
from fabplan.model.joints import RivetSpec
from fabplan.model.layout import HoleLayout
from fabplan.model.legs import legs_of
from fabplan.model.lookup import find_head
from fabplan.model.part import Part
from fabplan.model.profile import Profile
from fabplan.model.tables import Tables
from fabplan.way.layouts import Stated, layout, stated

FAR = 10_000.0
"""How far the outline of a leg is opened where another leg stands, mm: past any edge distance that a rule bounds."""

Face = tuple[Profile, tuple[Profile, ...], Holes]
"""Outline, cut-outs and holes of a flat face."""


def body_layouts(job: Job, body: Body, stacks: Stacks, tables: Tables) -> Iterator[HoleLayout]:
    """The layouts of all panels of the kit, one for each part, with what the stacks tell of each hole.

    Of several instances of one part the first in the body speaks for all; where another has a thicker grip the
    finding stands at that rivet's own plate all the same.
    """
    ply_stack = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    for number, part in enumerate(body.parts):
        instance = next((i for i, one in enumerate(body.instances) if one.part == number), None)
        if instance is None:
            continue
        mine = np.nonzero(stacks.ply_instance == instance)[0]
        for own, plies, shape in _faces(part, mine, stacks):
            outline, cutouts, holes = shape
            known = replace(_of_part(job, part), thickness=part.panels[int(part.holes.panel[own[0]])].thickness)
            bare = layout(part.blank.name if part.blank else part.spec.drawing, outline, cutouts, holes, known)
            bare = replace(bare, measured=_measured(part, holes))
            yield _with_stacks(job, bare, stacks, (own, plies, ply_stack), tables)


def _measured(part: Part, holes: Holes) -> BoolArray:
    """(n,) True for holes whose diameter is one that was measured."""
    stated = part.spec.measured.holes if part.spec.measured is not None else ()
    sizes = {hole.number: hole.least or hole.diameter for hole in stated}
    pairs = zip(holes.number, holes.diameter.tolist(), strict=True)
    return np.array([sizes.get(number) == diameter for number, diameter in pairs], dtype=np.bool_)


def _faces(part: Part, mine: IntArray, stacks: Stacks) -> Iterator[tuple[IntArray, IntArray, Face]]:
    """The blank of a plate and the straight legs of a bar: holes, plies of the stacks, and the face itself.

    Holes that a formed plate takes from its mates are on no blank, and left out.
    """
    if part.blank is not None and part.blank.outline is not None and part.panels:
        shown = part.holes.holes if len(part.panels) == 1 else part.blank.holes
        own = np.arange(len(shown))
        if len(own):
            plies = mine[stacks.ply_hole[mine] < len(own)]
            yield own, plies, (part.blank.outline, part.blank.cutouts, shown)
        return
    legs, holes = (part.straight or part.panels), (part.straight_holes or part.holes)
    for index, panel in enumerate(legs):
        own = np.nonzero(holes.panel == index)[0]
        if len(own):
            plies = mine[np.isin(stacks.ply_hole[mine], own)]
            yield own, plies, (leg_edge(part, panel.outline, index), panel.cutouts, _taken(holes.holes, own))


def leg_edge(part: Part, outline: Profile, index: int) -> Profile:
    """The outline of a leg of a bar, opened where another leg stands on it: that is no edge of the metal."""
    if part.section is None:
        return outline
    leg = legs_of(part.section)[index]
    sign = np.sign(outline.vertices[:, 1].sum())
    for edge, outward, heel in ((leg.low, -1.0, leg.starts_at_root), (leg.high, 1.0, leg.ends_at_root)):
        if heel:
            outline = _opened(outline, sign * edge, sign * outward * FAR)
    return outline


def _opened(outline: Profile, edge: float, by: float) -> Profile:
    """An outline of straight lines whose stretch at y = `edge` is carried outwards; what slants to it stays."""
    here = outline.vertices
    on = np.isclose(here[:, 1], edge)
    vertices = []
    for corner, before, at, after in zip(here, np.roll(on, 1), on, np.roll(on, -1), strict=True):
        moved = corner + np.array([0.0, by])
        if not at or not (before or after):
            vertices.append(corner)
        else:
            vertices += [moved] if before and after else [moved, corner] if before else [corner, moved]
    return merged(Profile(np.array(vertices), np.zeros(len(vertices))))  # a straight end is one edge


def _of_part(job: Job, part: Part) -> Stated:
    return replace(stated(job, part.spec), part=part.mark, thickness=part.thickness)


def _taken(holes: Holes, own: IntArray) -> Holes:
    def pick(column: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(column[i] for i in own)

    return Holes(
        holes.xy[own],
        holes.diameter[own],
        pick(holes.row),
        pick(holes.number),
        pick(holes.purpose),
        pick(holes.handle),
    )


def _with_stacks(
    job: Job, bare: HoleLayout, stacks: Stacks, places: tuple[IntArray, IntArray, IntArray], tables: Tables
) -> HoleLayout:
    """A layout with thicknesses, grips, loads, tightness and countersinks of the stacks that its holes are in."""
    own, plies, ply_stack = places
    at = {int(hole): k for k, hole in enumerate(own)}
    columns: dict[str, FloatArray] = {
        name: np.array(getattr(bare, name))
        for name in ("rivet_diameter", "stated_hole", "thinner_outer", "thickest", "grip")
    }
    flags = {
        name: np.array(getattr(bare, name)) for name in ("tight", "tension", "compression", "countersunk", "riveted")
    }
    sink = np.array(bare.sink_depth)
    for ply in plies.tolist():
        k, stack = at[int(stacks.ply_hole[ply])], int(ply_stack[ply])
        first, last = int(stacks.first[stack]), int(stacks.first[stack + 1]) - 1
        thick = stacks.ply_thickness[first : last + 1]
        columns["thinner_outer"][k] = min(thick[0], thick[-1])
        columns["thickest"][k] = thick.max()
        columns["grip"][k] = stacks.grip[stack]
        seam = job.seams[int(stacks.seam[stack])] if stacks.seam[stack] >= 0 else None
        if seam is not None:
            flags["tight"][k] = seam.tight
            flags["tension"][k] = seam.load in ("", "tension")
            flags["compression"][k] = seam.load in ("", "compression")
        if stacks.rivet[stack] >= 0:
            rivet = job.rivets[int(stacks.rivet[stack])]
            columns["rivet_diameter"][k] = rivet.diameter
            flags["riveted"][k] = rivet.kind == "rivet"
            columns["stated_hole"][k] = rivet.tapped if rivet.tapped is not None and ply == last else rivet.hole
            depth = _sink(rivet, tables, ply == first, ply == last)
            flags["countersunk"][k], sink[k] = not np.isnan(depth), depth
    return replace(
        bare,
        rivet_diameter=columns["rivet_diameter"],
        stated_hole=columns["stated_hole"],
        thinner_outer=columns["thinner_outer"],
        thickest=columns["thickest"],
        grip=columns["grip"],
        tight=flags["tight"],
        tension=flags["tension"],
        compression=flags["compression"],
        countersunk=flags["countersunk"],
        riveted=flags["riveted"],
        sink_depth=sink,
    )


def _sink(rivet: RivetSpec, tables: Tables, at_head: bool, at_point: bool) -> float:
    """Depth of the countersink in a ply, mm: of the head in the first, of the point in the last; NaN for none."""
    forms = [form for form, here in ((rivet.head, at_head), (rivet.point, at_point)) if here]
    heads = [find_head(tables, rivet, form) for form in forms if form == "countersunk"]
    depths = [head.head_height for head in heads if head is not None]
    return max(depths, default=float("nan"))
