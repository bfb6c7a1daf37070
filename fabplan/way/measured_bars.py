"""Measured holes of bars: each where its table has it, from the marked end and the heel, and what that tells."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job, PartSpec, RowSpec
from fabplan.model.measured import Measured, MeasuredHole, MeasuredRecord
from fabplan.rules.drawn import next_size

TURNED = 2.0
"""How many times better places must fit from the other end for it to be the one measured from (assumed)."""

BarsTaken = tuple[Job, tuple[Finding, ...], tuple[MeasuredRecord, ...]]


def bars_as_measured(job: Job) -> BarsTaken:
    """The job with holes of bars where they were measured, what is found about them, and their records.

    A bar has a datum of its own, its marked end and its heel: places are taken as they are, and nothing is fitted.
    """
    parts, found, records = [], list[Finding](), list[MeasuredRecord]()
    for spec in job.parts:
        measured = spec.measured
        if not spec.section or measured is None or not measured.holes:
            parts.append(spec)
            continue
        unknown = [hole.number for hole in measured.holes if hole.number not in dict(_numbered(spec))]
        if unknown:
            what = f"{spec.mark}: {len(unknown)} measured holes are in none of its rows: {', '.join(unknown[:6])}"
            found.append(_finding("measured-unknown", spec, what, "Number them by their rows, as A 1.", (None, None)))
            parts.append(spec)
            continue
        taken, told, record = _taken(spec, measured)
        parts.append(taken)
        found += told
        records.append(record)
    return replace(job, parts=tuple(parts)), tuple(found), tuple(records)


def _numbered(spec: PartSpec) -> Iterator[tuple[str, RowSpec]]:
    """Each hole by its number, with a row of it alone: rows of several lines are numbered on."""
    before: Counter[str] = Counter()
    for row in spec.rows:
        for at in row.at:
            before[row.row] += 1
            yield f"{row.row} {before[row.row]}", replace(row, at=(at,))


def _taken(spec: PartSpec, measured: Measured) -> tuple[PartSpec, list[Finding], MeasuredRecord]:
    drawn = dict(_numbered(spec))
    old = np.array([(drawn[one.number].at[0], drawn[one.number].back_mark) for one in measured.holes])
    new, within = np.array([(one.x, one.y) for one in measured.holes]), np.array(measured.within)
    far = np.column_stack([(spec.length or math.nan) - new[:, 0], new[:, 1]])
    across = np.array([(one.diameter or math.nan, one.least or math.nan) for one in measured.holes])
    numbers = tuple(one.number for one in measured.holes)
    record = MeasuredRecord(spec.mark, numbers, old, new, across)
    turned = _mean(new - old, within) > TURNED and _mean(new - old, within) >= TURNED * _mean(far - old, within)
    if turned:
        off = float(np.linalg.norm(new - old, axis=1).max())
        what = (
            f"{spec.mark}: its measured holes fit from its other end, as measured {off:.2f} mm off; they are not taken"
        )
        mend = "Measure from the marked end, and give each hole x along the bar and y from its heel."
        limit = float(np.linalg.norm(far - old, axis=1).max())
        found = [_finding("measured-mirrored", spec, what, mend, (off, limit))]
        return spec, found, replace(record, taken=False)
    own = {one.number: one for one in measured.holes}
    rows = tuple(_moved(row, own[number]) if number in own else row for number, row in _numbered(spec))
    return replace(spec, rows=rows), [_told(spec, measured, new - old), *_ovals(spec, measured.holes)], record


def _mean(off: FloatArray, within: FloatArray) -> float:
    """Root of the mean square of how far holes are off (n, 2), in parts of their accuracy (n,)."""
    return float(np.sqrt(np.mean(np.sum(off**2, axis=1) / within**2)))


def _moved(row: RowSpec, hole: MeasuredHole) -> RowSpec:
    """The row of one hole where it was measured; of a diameter beyond its accuracy the least is taken."""
    least = hole.least or hole.diameter
    worn = least is not None and not abs(least - row.diameter) <= hole.diameter_accuracy + FIGURE
    return replace(row, at=(hole.x,), back_mark=hole.y, diameter=least if worn and least is not None else row.diameter)


def _told(spec: PartSpec, measured: Measured, off: FloatArray) -> Finding:
    size, within = np.linalg.norm(off, axis=1), np.array(measured.within)
    worst, how = int((size / within).argmax()), "; ".join(filter(None, [measured.source, measured.doubt]))
    beyond = int(np.sum(~(size <= within + FIGURE)))
    what = (
        f"{spec.mark}: {len(size)} holes are taken as measured{f' ({how})' if how else ''}, from its marked end and "
        f"heel; {beyond} off its rows by more than the accuracy of {measured.accuracy_words}, the worst "
        f"{measured.holes[worst].number} by {off[worst, 0]:+.2f} along it, {off[worst, 1]:+.2f} from its heel"
    )
    mend = "The measured pattern is master: draw or drill its mates from it."
    return _finding("measured-holes", spec, what, mend, (float(size[worst]), float(within[worst])))


def _ovals(spec: PartSpec, holes: Sequence[MeasuredHole]) -> Iterator[Finding]:
    for one in holes:
        oval = None if one.least is None or one.diameter is None else one.diameter - one.least
        if oval is not None and one.diameter is not None and not oval <= one.diameter_accuracy + FIGURE:
            what = f"{spec.mark}: hole {one.number} is oval, {one.diameter:g} by {one.least:g} mm, diameters within "
            what += f"{one.diameter_accuracy:g} mm"
            found = _finding("oval-hole", spec, what, next_size(one.diameter), (oval, one.diameter_accuracy))
            yield replace(found, where=replace(found.where, holes=(one.number,)))


def _finding(check: str, spec: PartSpec, what: str, mend: str, figures: tuple[float | None, float | None]) -> Finding:
    row = CHECKS[check]
    return Finding(check, row.level, what, Where(part=spec.mark), *figures, "mm", row.source, mend)
