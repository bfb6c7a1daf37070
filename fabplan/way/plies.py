"""The plies of a seam that is to be set out: faces of the placed pieces, with what is on them and what is near."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from fabplan.body.formless import why_formless
from fabplan.body.parts import round_openings
from fabplan.body.surfaces import surfaces
from fabplan.drawing.keep_off import keep_off
from fabplan.drawing.limits import web_limit
from fabplan.drawing.put_in import fit_to_take
from fabplan.errors import SetoutError
from fabplan.geom.prism import Solid, solid
from fabplan.geom.surface import Surface
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, bools
from fabplan.model.body import Body
from fabplan.model.clearance import LATER
from fabplan.model.holes import Holes
from fabplan.model.joints import FROM_MATE, PlySpec, RivetSpec, SeamSpec
from fabplan.model.legs import Leg, legs_of
from fabplan.model.lookup import find_head
from fabplan.model.marks import instance_marks
from fabplan.model.part import Part
from fabplan.model.setout import SeamCase, SetoutSpec
from fabplan.model.tables import Section, Tables
from fabplan.rules.bounds import bounds
from fabplan.setout.heads import Heads
from fabplan.setout.limits import Limits
from fabplan.setout.ply import Ply
from fabplan.setout.row import KEPT
from fabplan.way.assembly import Assembly
from fabplan.way.body_layouts import leg_edge
from fabplan.way.check import rule_sets, supplier_of
from fabplan.way.layouts import ordered, stated

Face = tuple[str, str]
"""Mark of a part, and a leg of it ("" for a plate)."""


@dataclass(frozen=True, slots=True, eq=False)
class Added:
    """Holes of a row that were laid on a face, (n, 2) in the frame of the drawing or of the hand that is drawn, mm.

    `new` (n,) is False for holes that were there already, and join the row.
    """

    seam: str
    row: str
    xy: FloatArray
    new: BoolArray
    line: tuple[int, ...]
    diameter: float


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """The body on which seams are set out, and what was laid so far, by face."""

    made: Assembly
    added: dict[Face, list[Added]] = field(default_factory=dict)

    @property
    def body(self) -> Body:
        """The body."""
        return self.made.placing.body


def drawn(part: Part, leg: str, xy: FloatArray) -> FloatArray:
    """Places (n, 2) of a piece as made, in the frame of the hand that is drawn; and back, for it is its own inverse.

    Opposite hand: of a plate x -> -x; of a bar measured from the other end.
    """
    if not part.hand or part.hand == part.spec.drawn:
        return xy
    if part.section is None:
        return xy * [-1.0, 1.0]
    assert part.spec.length is not None
    return np.array([part.spec.length, 0.0]) + xy * [-1.0, 1.0]


def faces(bench: Bench, ply: PlySpec, hole: float, size: float) -> tuple[Ply, ...]:
    """The faces of one listed piece: the plate, or the legs of the bar.

    Args:
        bench: the body.
        ply: the piece with its row.
        hole: diameter of the finished hole, mm.
        size: diameter as drawn in this ply, mm, 0 for none.

    Raises:
        SetoutError: the piece is not placed, or its form is not known.
    """
    body = bench.body
    index = next(i for i, one in enumerate(body.instances) if one.mark == ply.instance)
    part, pose = body.part_of(index), body.poses[index]
    if pose is None:
        mend = "Hold it by another seam that has its holes, or by a [[place]]."
        raise SetoutError(f"{ply.instance} is {body.reasons[index]}", mend)
    doubt = bench.made.placing.doubt
    if doubt is not None and ply.instance in doubt.marks:
        what = f"{ply.instance} can also stand {' or '.join(doubt.ways) or 'elsewhere'} while this seam has no holes"
        raise SetoutError(what, f"Settle it by {'; or by '.join(doubt.cures)}.")
    if part.spec.tapers or part.spec.formed or not part.panels:
        raise _no_form(ply.instance, part)
    own = surfaces(part, pose)
    common = {"instance": ply.instance, "row": ply.row, "size": size}
    if part.section is None:
        if size:
            fit_to_take(bench.made.files[part.spec.drawing], bench.made.job.roles, ply.row)
        return (_plate(bench, part, own[""], common, hole),)
    legs = {leg.name: leg for leg in legs_of(part.section)}
    return tuple(_leg(bench, part, (leg, own[leg.name]), common) for leg in legs.values())


def _no_form(mark: str, part: Part) -> SetoutError:
    """What is wrong with the form of a piece that no seam is set out on."""
    if part.spec.tapers or part.spec.formed:
        why = "is thinned" if part.spec.tapers else "is formed to template"
        return SetoutError(f"{mark} {why}", "Set this seam out by hand, or leave its holes to be drilled in place.")
    why, mend = why_formless(part)
    return SetoutError(f"{mark} is of no known form: {why}", mend)


def drawn_size(seam: SeamSpec, ply: PlySpec, rivet: RivetSpec, stated: float | None) -> float:
    """Diameter of a seam's holes as drawn in one ply, mm; 0 where it takes them from its mates.

    Raises:
        SetoutError: they are opened to size later, and nothing says how large they are drawn.
    """
    if ply.state == FROM_MATE:
        return 0.0
    if rivet.tapped is not None and ply == seam.plies[-1]:
        return rivet.tapped
    if ply.state not in LATER:
        return rivet.hole
    if stated is None or not stated <= rivet.hole:
        what = f"holes of {ply.instance} are cut as {ply.state}, and nothing says how large they are drawn"
        raise SetoutError(what, f"State `hole` in the [[setout]], up to {rivet.hole:g} mm.")
    return stated


def _plate(bench: Bench, part: Part, surface: Surface, common: Mapping[str, Any], hole: float) -> Ply:
    job = bench.made.job
    assert part.blank is not None
    assert part.blank.outline is not None
    blank = part.blank
    holes = _with_added(bench, part, "", blank.holes)
    supplier = supplier_of(job, part.spec)
    return Ply(
        **common,
        leg="",
        surface=surface,
        outline=part.blank.outline,
        cutouts=(*blank.cutouts, *round_openings(holes)),
        edge=part.blank.outline,
        holes=holes,
        spare=_spare(bench, part, holes),
        keep_off=tuple(keep_off(blank, part.thickness, ordered(job, part.spec), hole)),
        web=web_limit(supplier, part.thickness).least,
    )


def _leg(bench: Bench, part: Part, of: tuple[Leg, Surface], common: Mapping[str, Any]) -> Ply:
    leg, surface = of
    panels, bored = part.straight or part.panels, part.straight_holes or part.holes
    index = next(k for k, panel in enumerate(panels) if panel.name == leg.name)
    own = np.nonzero(bored.panel == index)[0].tolist()
    old = bored.holes
    columns = (tuple(column[k] for k in own) for column in (old.row, old.number, old.purpose, old.handle))
    holes = _with_added(bench, part, leg.name, Holes(old.xy[own], old.diameter[own], *columns))
    outline = panels[index].outline
    assert part.section is not None
    sign = 1.0 if outline.vertices[:, 1].sum() > 0.0 else -1.0
    return Ply(
        **common,
        leg=leg.name,
        surface=surface,
        outline=outline,
        cutouts=panels[index].cutouts,
        edge=leg_edge(part, outline, index),
        holes=holes,
        spare=np.zeros(len(holes), dtype=np.bool_),
        back_mark=sign * _gauge(bench.made.tables, part.section, leg),
    )


def _gauge(tables: Tables, section: Section, leg: Leg) -> float:
    """The usual back mark of a single row: by the table of gauges, of a flat its middle; NaN where none is usual."""
    if section.kind in ("flat", "half-round"):
        return section.a / 2.0
    of = {"angle": "leg", "channel": "leg", "tee": "stem"}[section.kind]
    if leg.name == "w" or (section.kind == "tee" and leg.name == "a"):
        return float("nan")
    rows = (one.back_mark for one in tables.gauges if one.of == of and abs(one.width - leg.high) <= FIGURE)
    return next(rows, float("nan"))


def _with_added(bench: Bench, part: Part, leg: str, holes: Holes) -> Holes:
    """Holes of a face with those that were laid on it before."""
    for one in bench.added.get((part.spec.mark, leg), ()):
        xy = drawn(part, leg, one.xy)[one.new]
        row = _renamed(holes, drawn(part, leg, one.xy)[~one.new], one.row)
        names = tuple(one.row for _ in xy)
        holes = Holes(
            np.vstack([holes.xy, xy]),
            np.append(holes.diameter, np.full(len(xy), one.diameter)),
            (*row, *names),
            (*holes.number, *names),
            (*holes.purpose, *("rivet" for _ in xy)),
            (*holes.handle, *("" for _ in xy)),
        )
    return holes


def _renamed(holes: Holes, xy: FloatArray, row: str) -> tuple[str, ...]:
    """Names of the rows of holes, once those at some places (k, 2) have joined a row."""
    joined = set(at_places(holes, xy))
    return tuple(row if k in joined else old for k, old in enumerate(holes.row))


def at_places(holes: Holes, xy: FloatArray) -> list[int]:
    """Numbers of the holes that are at some places (k, 2)."""
    apart = np.linalg.norm(holes.xy[:, None] - xy[None], axis=2)
    found: list[int] = np.nonzero((apart <= 2.0 * KEPT).any(axis=1))[0].tolist()
    return found


def _spare(bench: Bench, part: Part, holes: Holes) -> BoolArray:
    """(n,) True for rivet holes of a plate that no seam, level or location of the job names."""
    job = bench.made.stated
    own = {mark for mark, _ in instance_marks(part.spec)}
    listed = [ply for seam in job.seams for ply in seam.plies] + [row for level in job.levels for row in level.rows]
    named = {ply.row.casefold() for ply in listed if ply.instance in own}
    named |= {location.row.casefold() for location in job.locations if location.instance in own}
    pairs = zip(holes.row, holes.purpose, strict=True)
    return bools([purpose == "rivet" and row.casefold() not in named for row, purpose in pairs])


def limits_of(bench: Bench, seam: SeamSpec, plies: Sequence[Ply], spec: SetoutSpec) -> Limits:
    """The limits of a seam's spacing, by the rule set of the job and those that are always read beside it."""
    job = bench.made.job
    rivet = next(one for one in job.rivets if one.mark == seam.rivet)
    thick = [ply.surface.thickness for ply in plies]
    index = {one.mark: i for i, one in enumerate(bench.body.instances)}
    parts = [bench.body.part_of(index[ply.instance]).spec for ply in plies]
    sets = rule_sets(job.rules)
    refused = next((one for one in sets if one.purpose == "structure" and one.material != parts[0].material), None)
    if refused is not None:
        what = f"the rule set {refused.name} is for {refused.material}, {plies[0].instance} is {parts[0].material}"
        raise SetoutError(what, "Name a rule set for this material in [job] rules.")
    case = SeamCase(
        rivet=rivet.diameter,
        hole=rivet.hole,
        outer=min(thick[0], thick[-1]),
        thickest=max(thick),
        tight=seam.tight,
        load=seam.load,
        exposed=job.exposed is not False,
        sheared=any(stated(job, part).edge == "sheared" for part in parts),
        lines=spec.rows,
        staggered=spec.zigzag,
        riveted=rivet.kind == "rivet",
    )
    return Limits(bounds(sets, case), case)


def heads_of(bench: Bench, seam: SeamSpec, plies: Sequence[Ply]) -> Heads:
    """The heads of a seam's rivets, and the metal that may stand in their way."""
    job, tables, body = bench.made.job, bench.made.tables, bench.body
    rivet = next(one for one in job.rivets if one.mark == seam.rivet)
    rows = [find_head(tables, rivet, form) for form in (rivet.head, rivet.point)]
    made, point = (
        (row.head_diameter, row.head_height) if row is not None and row.form == "round" else None for row in rows
    )
    own = {ply.instance: ply.surface.shape for ply in plies}
    metal: list[tuple[str, Solid]] = []
    for index, instance in enumerate(body.instances):
        pose, part = body.poses[index], body.part_of(index)
        if pose is None or (instance.mark in own and part.section is not None):
            continue  # the other leg of a bar: its root has a check of its own
        for panel in part.panels:
            if not (instance.mark in own and panel.kind != "flat"):  # of a round a hole has its own flat
                metal.append((instance.mark, solid(panel, pose)))
    return Heads((made, point), tables.near.ordinary, tables.near.plus, metal)
