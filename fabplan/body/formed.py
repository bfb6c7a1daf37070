"""A plate as formed: folds and rolls of the job on the lines of its drawing, and the panels that come of them."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.body.bend_lines import drawn, ends, factor
from fabplan.body.cone import cone_record
from fabplan.body.joggle import bends_of, joggle_lines, joggle_records
from fabplan.body.ring import ring_record
from fabplan.errors import FormingError
from fabplan.geom.bend import Bend, allowance, rolled
from fabplan.geom.facets import facets
from fabplan.geom.forming import BendLine, Formed, form, overall, whole_roll
from fabplan.geom.prism import polygon, profiles
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.bends import RollSpec
from fabplan.model.checks import CHECKS
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.forming import BendRecord, FormingRecord
from fabplan.model.job import PartSpec
from fabplan.model.panel import Panel, PartHoles
from fabplan.model.part import Part
from fabplan.model.profile import Profile

PARALLEL = 1e-3  # radians by which the two lines of a rolled zone may differ


def formed(spec: PartSpec, drawing: Drawing, cutouts: Sequence[Profile]) -> Formed:
    """A plate as the job and its drawing form it.

    Args:
        spec: thickness, folds and rolls.
        drawing: the blank, of the hand that is made.
        cutouts: its openings, round ones too.

    Raises:
        FormingError: a line is not drawn, or the blank cannot be formed as stated.
    """
    if drawing.outline is None or spec.thickness is None:
        raise FormingError("no closed outline or no thickness", "Draw the one and state the other.")
    face = polygon(drawing.outline, tuple(cutouts))
    whole = [roll for roll in spec.rolls if roll.axis]
    if whole:
        if spec.folds or len(spec.rolls) > 1:
            raise FormingError("a plate rolled as a whole has no other bend", "State `rolls` between two lines.")
        x0, y0, x1, y1 = face.bounds
        wide = y1 - y0 if whole[0].axis == "x" else x1 - x0
        return whole_roll(face, rolled(wide, whole[0].inside_radius, spec.thickness), whole[0].axis == "x")
    still = np.array(spec.fixed) if spec.fixed else None
    lines = [*_folds(spec, spec.thickness, drawing), *_rolls(spec, spec.thickness, drawing)]
    lines += joggle_lines(spec, drawing)
    return form(face, spec.thickness, lines, still)


def formed_panels(shape: Formed, drawing: Drawing) -> tuple[tuple[Panel, ...], PartHoles]:
    """Panels of a formed plate, a round region as narrow ones, and its holes on them.

    A hole that lies in no region, across an edge, is put on the still piece; its own check tells it.
    """
    found, owner, local = facets(shape, drawing.holes.xy)
    panels = []
    for one in found:
        outline, cutouts = profiles(one.face)
        kind = "cylindrical" if one.round else "flat"
        panels.append(Panel(kind, outline, shape.thickness, one.frame, cutouts))
    holes = drawing.holes
    placed = type(holes)(local, holes.diameter, holes.row, holes.number, holes.purpose, holes.handle)
    return tuple(panels), PartHoles(placed, np.maximum(owner, 0))


def _folds(spec: PartSpec, thickness: float, drawing: Drawing) -> Iterator[BendLine]:
    for fold in spec.folds:
        k = factor(fold.k, fold.inside_radius, thickness)
        bend = Bend(float(np.radians(fold.angle)), fold.inside_radius, thickness, k)
        for line in drawn(fold.line, drawing.folds, "FOLD"):
            yield BendLine(fold.line, *ends(line), bend)


def _rolls(spec: PartSpec, thickness: float, drawing: Drawing) -> Iterator[BendLine]:
    for roll in spec.rolls:
        (first, *_), (last, *_) = (drawn(name, drawing.rolls, "ROLL") for name in (roll.start, roll.end))
        yield _zone(roll, thickness, ends(first), ends(last))


def _zone(
    roll: RollSpec, thickness: float, first: tuple[FloatArray, FloatArray], last: tuple[FloatArray, FloatArray]
) -> BendLine:
    """A rolled zone as the band between its two lines."""
    name = f"the zone from {roll.start} to {roll.end}"
    along, other = first[1] - first[0], last[1] - last[0]
    if float(along @ other) < 0.0:
        last, other = last[::-1], -other
    unit = along / np.hypot(*along)
    if not abs(unit[0] * other[1] - unit[1] * other[0]) <= PARALLEL * float(np.hypot(*other)):
        raise FormingError(
            f"the lines of {name} are not parallel", "A cone is not formed by rolls between parallel lines."
        )
    away = last[0] - first[0]
    wide = abs(float(unit[0] * away[1] - unit[1] * away[0]))
    if not wide > 0.0:
        raise FormingError(f"{name} has no width", "Draw two lines.")
    return BendLine(
        name, (first[0] + last[0]) / 2.0, (first[1] + last[1]) / 2.0, rolled(wide, roll.inside_radius, thickness)
    )


def forming_records(parts: Sequence[Part]) -> tuple[FormingRecord, ...]:
    """What the forming sheets tell, of every formed plate and every bent bar whose form is known."""
    plates = tuple(_record(part) for part in parts if part.blank is not None and part.panels and bent(part.spec))
    cones = tuple(cone_record(part) for part in parts if part.spec.cone is not None and part.panels)
    return (*plates, *cones, *(ring_record(part) for part in parts if part.straight))


def bent(spec: PartSpec) -> bool:
    """Whether the job has a plate bent."""
    return bool(spec.folds or spec.rolls or spec.joggles)


def _record(part: Part) -> FormingRecord:
    assert part.blank is not None
    shape = formed(part.spec, part.blank, part.blank.cutouts)
    size = overall(shape)
    whose = {fold.line: _whose(fold.k, fold.by) for fold in part.spec.folds}
    whose |= {name: _whose(one.k, "") for one in part.spec.joggles for name in bends_of(one)}
    assert part.blank.outline is not None
    edge = flattened(part.blank.outline, SAGITTA)
    bends = tuple(_bend_record(line, whose.get(line.name, ""), edge) for line in shape.lines)
    over = (float(size[0]), float(size[1]), float(size[2]))
    return FormingRecord(part.mark, part.thickness, bends, over, joggles=joggle_records(part.spec, part.thickness))


def _bend_record(line: BendLine, whose: str, edge: FloatArray) -> BendRecord:
    """What is told of one bend of a blank with an edge (n, 2), mm; one without anybody's factor is rolled."""
    bend = line.bend
    way = (line.end - line.start) / np.linalg.norm(line.end - line.start)
    off = (edge - line.start) @ np.array([-way[1], way[0]])
    return BendRecord(
        line.name,
        (float(line.start[0]), float(line.start[1])),
        (float(line.end[0]), float(line.end[1])),
        float(np.degrees(bend.angle)),
        bend.radius,
        bend.factor,
        bend.width,
        allowance(bend) if whose else 0.0,
        not whose,
        whose or "the middle of the plate",
        (float(min(off.max(), -off.min())), float(max(off.max(), -off.min()))),
    )


def _whose(k: float | None, by: str) -> str:
    return "DIN 6935" if k is None else by or "as the job states"


def form_findings(parts: Sequence[Part]) -> tuple[Finding, ...]:
    """Pieces that cannot be formed, or cut at their ends, as the job states."""
    row = CHECKS["cannot-form"]
    return tuple(
        Finding(
            "cannot-form",
            row.level,
            f"{part.mark} cannot be formed as stated: {part.trouble.split('. ')[0]}",
            Where(drawing=part.spec.drawing, part=part.mark),
            source=row.source,
            mend=part.trouble.split(". ", 1)[1],
        )
        for part in parts
        if part.trouble
    )
