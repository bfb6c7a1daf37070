"""Pieces of the kit from the job file and the drawings: each a tuple of panels with its holes."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np

from fabplan.body.as_built import as_built
from fabplan.body.bar_ends import cut_ends
from fabplan.body.bend_table import by_bender
from fabplan.body.cone import cone_panels
from fabplan.body.formed import bent, formed_panels
from fabplan.body.ring import bar_ring, ring_panels, settled
from fabplan.errors import FormingError
from fabplan.geom import profile as plane
from fabplan.geom.taper import missed, undecided
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.holes import Holes
from fabplan.model.job import Job, PartSpec, RowSpec
from fabplan.model.legs import LEGS, legs_of
from fabplan.model.marks import instance_marks
from fabplan.model.panel import Panel, PartHoles, Taper
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile
from fabplan.model.tables import Section, Tables

# Frame of a bar (DEVELOPERS.md): x along, heel on x, leg a in +y, leg b in +z. The outer faces, the ones that lie
# against plates, are the panels' z = 0; across the leg a panel's y runs from the heel, of leg a in -y.
_LEG_A = np.array([[1.0, 0.0, 0.0], [0.0, -1.0, 0.0], [0.0, 0.0, -1.0]]).T
_LEG_B = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]]).T

HALVED = "the line of a taper halves it, so that neither side has less metal. Say by `from` and `to` which is thinned."
MISSED = "the line of a taper does not part it: nothing lies beyond. Correct `from` and `to`."

OtherHand = Callable[[Drawing], Drawing]
FindSection = Callable[[str], Section]


def make_parts(
    job: Job, drawings: Mapping[str, Drawing], tables: Tables, find_section: FindSection, other_hand: OtherHand
) -> tuple[tuple[Part, ...], tuple[Instance, ...]]:
    """One part for each mark and hand, and one instance for each piece of steel, in the order of the job.

    Args:
        job: the job.
        drawings: the drawing of each plate by its mark.
        tables: shop tables (density).
        find_section: section by name.
        other_hand: the drawing of the opposite hand.
    """
    parts: list[Part] = []
    instances: list[Instance] = []
    for stated in job.parts:
        spec = by_bender(job, stated)
        marks = instance_marks(spec)
        for hand in dict.fromkeys(hand for _, hand in marks):
            parts.append(_make(spec, hand, drawings, (tables, find_section, other_hand)))
            instances += [Instance(mark, len(parts) - 1) for mark, own in marks if own == hand]
    return tuple(parts), tuple(instances)


def _make(
    spec: PartSpec,
    hand: str,
    drawings: Mapping[str, Drawing],
    shop: tuple[Tables, FindSection, OtherHand],
) -> Part:
    tables, find_section, other_hand = shop
    opposite = bool(hand) and hand != spec.drawn
    if spec.section:
        return _bar(spec, hand, find_section(spec.section), opposite)
    drawing = drawings[spec.mark]
    if not opposite:
        return _plate(spec, hand, drawing, tables.density)
    fixed = (-spec.fixed[0], spec.fixed[1]) if spec.fixed else None
    tapers = tuple(replace(one, line=_mirrored(one.line)) for one in spec.tapers)
    return _plate(replace(spec, fixed=fixed, tapers=tapers), hand, other_hand(drawing), tables.density)


def _mirrored(line: tuple[tuple[float, float], tuple[float, float]]) -> tuple[tuple[float, float], tuple[float, float]]:
    (x0, y0), (x1, y1) = line
    return (-x0, y0), (-x1, y1)


def _plate(stated: PartSpec, hand: str, drawing: Drawing, density: float) -> Part:
    """A plate, of the thickness that was measured where one was."""
    spec = replace(stated, thickness=stated.measured_thickness or stated.thickness)
    thickness = spec.thickness or float("nan")
    panels, holes, trouble = _plate_form(spec, drawing)
    volume = float("nan")
    if drawing.outline is not None:
        volume = _metal_area(drawing.outline, drawing.cutouts, drawing.holes) * thickness
    mass, source = (spec.mass, "stated in the job") if spec.mass else (volume * density * 1e-9, "from its drawing")
    mark = spec.mark + hand
    return Part(mark, stated, panels, holes, mass, source, thickness, blank=drawing, hand=hand, trouble=trouble)


def _plate_form(spec: PartSpec, drawing: Drawing) -> tuple[tuple[Panel, ...], PartHoles, str]:
    """Panels of a plate, its holes on them, and why there are none."""
    holes = PartHoles(drawing.holes, np.zeros(len(drawing.holes), dtype=np.int64))
    cutouts = (*drawing.cutouts, *round_openings(drawing.holes))
    if drawing.outline is None or spec.thickness is None or spec.formed:
        return (), holes, ""
    if not bent(spec) and spec.cone is None:
        tapers = tuple(Taper(one.line, one.edge, one.face == "marked") for one in spec.tapers)
        panel = Panel("flat", drawing.outline, spec.thickness, cutouts=cutouts, tapers=tapers)
        trouble = MISSED if missed(panel) else HALVED if undecided(panel) else ""
        return ((), holes, trouble) if trouble else ((panel,), holes, "")
    try:
        if spec.cone is not None:
            return *cone_panels(spec, drawing, cutouts), ""
        return *formed_panels(as_built(spec, drawing, cutouts), drawing), ""
    except FormingError as error:
        return (), holes, str(error)


def round_openings(holes: Holes) -> tuple[Profile, ...]:
    """Round openings as cut-outs: a hatch lets a man through, a rivet hole is filled."""
    return tuple(
        plane.circle((float(x), float(y)), float(size) / 2.0)
        for (x, y), size, purpose in zip(holes.xy, holes.diameter, holes.purpose, strict=True)
        if purpose == "open"
    )


def _metal_area(outline: Profile, cutouts: tuple[Profile, ...], holes: Holes) -> float:
    openings = sum(abs(plane.area(cutout)) for cutout in cutouts)
    return abs(plane.area(outline)) - openings - float(np.sum(np.pi / 4.0 * holes.diameter**2))


def _bar(spec: PartSpec, hand: str, section: Section, opposite: bool) -> Part:
    spec, trouble = settled(spec, section)
    length = spec.length or float("nan")
    legs = _bar_panels(section, length) if np.isfinite(length) else ()
    holes = PartHoles(*_bar_holes([_row(row, length, opposite) for row in spec.rows], section))
    try:
        sawn, off = cut_ends(spec, section, legs, opposite) if legs and spec.ends else (legs, 0.0)
    except FormingError as error:
        sawn, off, trouble = (), 0.0, str(error)
    straight = Part(
        spec.mark + hand,
        spec,
        () if trouble else sawn,
        holes,
        *_bar_mass(spec, section, length, off),
        section.t,
        section=section,
        hand=hand,
        trouble=trouble,
    )
    if spec.ring is None or not straight.panels:
        return straight
    bent, bent_holes = ring_panels(bar_ring(spec.ring, section, length), legs, holes)
    return replace(straight, panels=bent, holes=bent_holes, straight=legs, straight_holes=holes)


def _bar_mass(spec: PartSpec, section: Section, length: float, off: float) -> tuple[float, str]:
    """Mass of a bar, kg, and how it was found; `off`: metal that the cuts of its ends take, mm3."""
    if spec.mass:
        return spec.mass, "stated in the job"
    density = section.mass / section.area
    words = f"{section.mass:g} kg/m, {section.source}; holes not taken off"
    return (section.mass * length - density * off) * 1e-3, words


def _bar_panels(section: Section, length: float) -> tuple[Panel, ...]:
    """One panel a leg.

    A half-round, which lies on its flat face, counts as a flat as thick as its middle: the grip there is true, clash
    and reach are on the safe side, its round back has no panel. A tapered flange counts as parallel.
    """
    panels = []
    for leg in legs_of(section):
        frame = _leg_frame(section, leg.name)
        y = (-leg.high, -leg.low) if _runs_back(section, leg.name) else (leg.low, leg.high)
        outline = plane.rectangle(0.0, y[0], length, y[1])
        panels.append(Panel("flat", outline, leg.thickness, frame, name=leg.name))
    return tuple(panels)


def _leg_frame(section: Section, leg: str) -> Pose:
    if section.kind in ("flat", "half-round"):
        return Pose()
    if leg == "a":
        return Pose(_LEG_A)
    if section.kind == "channel" and leg == "b":
        return Pose(np.eye(3), np.array([0.0, 0.0, section.web]))
    beside = (section.a - section.web_thickness) / 2.0 if section.kind == "tee" else 0.0
    return Pose(_LEG_B, np.array([0.0, beside, 0.0]))


def _runs_back(section: Section, leg: str) -> bool:
    """Whether a panel's y runs towards the heel."""
    return leg == "a" and section.kind in ("angle", "channel", "tee")


def _row(row: RowSpec, length: float, opposite: bool) -> tuple[RowSpec, FloatArray]:
    """The row with its places along the bar; the opposite hand is measured from the other end."""
    places = np.array(row.at, dtype=np.float64)
    return row, length - places if opposite else places


def _bar_holes(rows: list[tuple[RowSpec, FloatArray]], section: Section) -> tuple[Holes, IntArray]:
    before: Counter[str] = Counter()
    places = []
    for row, at in rows:  # a row of several lines stands in several entries, and is numbered on
        places += [(row, before[row.row] + index, place) for index, place in enumerate(at, start=1)]
        before[row.row] += len(at)
    across = [_across(row, section) for row, _, _ in places]
    holes = Holes(
        xy=np.array([[x, y] for (_, _, x), y in zip(places, across, strict=True)], dtype=np.float64),
        diameter=np.array([row.diameter for row, _, _ in places], dtype=np.float64),
        row=tuple(row.row for row, _, _ in places),
        number=tuple(f"{row.row} {index}".strip() for row, index, _ in places),
        purpose=tuple(row.purpose for row, _, _ in places),
        handle=("",) * len(places),
    )
    order = LEGS[section.kind]
    return holes, np.array([order.index(row.leg) for row, _, _ in places], dtype=np.int64)


def _across(row: RowSpec, section: Section) -> float:
    """The back mark as y of the leg's panel."""
    return -row.back_mark if _runs_back(section, row.leg) else row.back_mark
