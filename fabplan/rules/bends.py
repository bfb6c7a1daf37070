"""Bends as stated, against the least inside radii of their grade, and formed sizes against the stated ones."""

import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.bends import FoldSpec
from fabplan.model.checks import CHECKS
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.forming import FormingRecord
from fabplan.model.job import Job, PartSpec
from fabplan.model.layers import plain_name
from fabplan.model.tables import BendRadius, Tables
from fabplan.rules.tables import read_tables

SQUARE = 5.0  # degrees by which a fold may leave the square to the grain and count as across it: else as along it
RIGHT = 90.0  # degrees up to which the table holds
ROLL = 10.0  # t: least inside radius of rolls, with care (from memory)
MEND = "Take a larger radius, another grade or the grain the other way; or ask the bender and have a test piece bent."


def check_bends(drawing: Drawing, spec: PartSpec | None, thickness: float | None) -> Iterator[Finding]:
    """Folds and rolls of a part that are bent sharper than its plate should be.

    Args:
        drawing: of the part, for the direction of its lines.
        spec: what the job states of the part; None checks nothing.
        thickness: mm; None checks nothing.
    """
    if spec is None or thickness is None or spec.material != "steel":
        return
    for fold in spec.folds:
        yield from _fold(drawing, spec, fold, thickness)
    for joggle in spec.joggles:
        yield from _fold(drawing, spec, FoldSpec(joggle.line, RIGHT, joggle.inside_radius), thickness)
    least = ROLL * thickness
    for name, line, radius in _rolls(spec, thickness):
        if not radius >= least - FIGURE:
            what = f"{name}: inside radius {radius:g} mm, least {least:g} mm ({ROLL:g} t)"
            mend = "Ask the roller what his rolls take, or have it pressed."
            yield _finding(drawing, spec, line, what, (radius, least, "from memory", mend))


def _rolls(spec: PartSpec, thickness: float) -> Iterator[tuple[str, str, float]]:
    """What is rolled, the layer of its first line, and the least inside radius, mm."""
    for roll in spec.rolls:
        name = f"roll {roll.start} to {roll.end}" if roll.start else "the roll of the whole plate"
        yield name, roll.start, abs(roll.inside_radius)
    if spec.cone is not None:
        yield "the narrow end of the cone", "", round(max(min(spec.cone.mean_radii) - thickness / 2.0, 0.0), 3)


def _fold(drawing: Drawing, spec: PartSpec, fold: FoldSpec, thickness: float) -> Iterator[Finding]:
    grade, stated = _grade(spec.grade)
    rows = [one for one in read_tables().bend_radii if one.grade == grade]
    row = next((one for one in rows if one.over < thickness <= one.to + FIGURE), None)
    if row is None:
        what = f"fold {fold.line}: no least inside radius is published for plate of {thickness:g} mm"
        yield _ask(_finding(drawing, spec, fold.line, what, (fold.inside_radius, None, rows[0].source, MEND)))
        return
    least, grain = _least(drawing, spec, fold, row)
    source = f"{row.source}; {grain}" + ("" if stated else f"; grade not stated, {grade} taken")
    if not fold.inside_radius >= least - FIGURE:
        what = f"fold {fold.line}: inside radius {fold.inside_radius:g} mm, least {least:g} mm for "
        what += f"{thickness:g} mm of {grade}"
        yield _finding(drawing, spec, fold.line, what, (fold.inside_radius, least, source, MEND))
    elif not abs(fold.angle) <= RIGHT + FIGURE:
        what = f"fold {fold.line}: bent by {abs(fold.angle):g} degrees; the published radii hold up to {RIGHT:g}"
        yield _ask(_finding(drawing, spec, fold.line, what, (fold.inside_radius, least, source, MEND)))


def _ask(finding: Finding) -> Finding:
    return replace(finding, level=Level.NOTE)


def _grade(words: str) -> tuple[str, bool]:
    """The grade of the table: that of the job, else the hardest to bend; and whether it was stated.

    >>> _grade("S275JRC+N"), _grade("")
    (('S275', True), ('S355', False))
    """
    found = re.match(r"\s*(S235|S275|S355)", words)
    return (found[1], True) if found else ("S355", False)


def _least(drawing: Drawing, spec: PartSpec, fold: FoldSpec, row: BendRadius) -> tuple[float, str]:
    """The least radius of a fold, mm, and in words which way of the grain was taken."""
    if not spec.grain:
        return row.along, "grain not stated, a fold along it taken"
    axis = np.array([1.0, 0.0]) if spec.grain == "x" else np.array([0.0, 1.0])
    for line in _drawn(drawing, fold.line):
        way = line.points[-1] - line.points[0]
        off = math.degrees(math.acos(min(abs(float(way @ axis)) / max(float(np.hypot(*way)), 1e-9), 1.0)))
        if not off >= RIGHT - SQUARE:
            return row.along, "along the grain"
    return row.across, "across the grain"


def _drawn(drawing: Drawing, name: str) -> list[Line]:
    return [line for line in (*drawing.folds, *drawing.rolls) if plain_name(line.name) == plain_name(name)]


def _finding(
    drawing: Drawing, spec: PartSpec, name: str, what: str, told: tuple[float, float | None, str, str]
) -> Finding:
    """A finding at the first line of a bend; `told`: radius, least, source, remedy."""
    found, least, source, mend = told
    lines = _drawn(drawing, name)
    at = lines[0].points.mean(axis=0).tolist() if lines else None
    where = Where(
        drawing=drawing.name,
        part=spec.mark,
        handles=tuple(line.handle for line in lines[:1]),
        xy=(at[0], at[1]) if at else None,
    )
    return Finding("tight-bend", CHECKS["tight-bend"].level, what, where, found, least, "mm", source, mend)


def check_formed_sizes(job: Job, records: Sequence[FormingRecord], tables: Tables) -> Iterator[Finding]:
    """Formed plates that are not of the size that the job states."""
    stated = {part.mark + hand: part for part in job.parts for hand in ("", "R", "L")}
    for record in records:
        spec = stated.get(record.mark)
        if spec is None or spec.formed_size is None:
            continue
        for axis, size, wanted in zip(("along x", "along y", "high"), record.size, spec.formed_size, strict=True):
            what = f"{record.mark} comes out {size:.1f} mm {axis} over its outside; stated are {wanted:g} mm"
            mend = "Draw the blank anew by the bender's own allowance, or mend the stated size."
            yield from _differs(spec, record, (size, wanted), (what, mend), tables)


def check_sectors(job: Job, records: Sequence[FormingRecord], tables: Tables) -> Iterator[Finding]:
    """Blanks of cones that are not the sector of the stated radii and height."""
    stated = {part.mark + hand: part for part in job.parts for hand in ("", "R", "L")}
    for record in records:
        if record.cone is None:
            continue
        (outer, inner, angle), (out, low, turn) = record.cone.sector, record.cone.drawn
        pairs = (
            ("outer radius", out, outer),
            ("inner radius", low, inner),
            ("outer arc", math.radians(turn) * out, math.radians(angle) * outer),
        )
        for name, size, wanted in pairs:
            what = f"{record.mark}: {name} of the sector {size:.2f} mm; by radii and height of the cone {wanted:.2f} mm"
            mend = "Draw the sector by the figures of the forming sheet, or mend radii or height."
            yield from _differs(stated[record.mark], record, (size, wanted), (what, mend), tables)


def _differs(
    spec: PartSpec, record: FormingRecord, sizes: tuple[float, float], words: tuple[str, str], tables: Tables
) -> Iterator[Finding]:
    """A finding where a size is off by more than its tolerance; `sizes` found and wanted, `words` fault and remedy."""
    tolerance, source = tolerance_of(sizes[1], tables)
    if not abs(sizes[0] - sizes[1]) <= tolerance + FIGURE:
        where = Where(drawing=spec.drawing, part=record.mark)
        level = CHECKS["formed-size-differs"].level
        told = f"{source}: {tolerance:g} mm either way"
        yield Finding("formed-size-differs", level, words[0], where, *sizes, "mm", told, words[1])


def tolerance_of(length: float, tables: Tables) -> tuple[float, str]:
    """How far a length may be off, mm; beyond the table its last row holds."""
    rows = tables.lengths_off
    row = next((one for one in rows if length <= one.to), rows[-1])
    return row.tolerance, row.source
