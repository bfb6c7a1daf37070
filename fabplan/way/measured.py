"""Measured patterns: the drawing of a piece with its holes where they were measured, and what that tells."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.laid_over import laid_over, standing_out
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job, PartSpec
from fabplan.model.measured import Measured, MeasuredRecord
from fabplan.rules.drawn import next_size
from fabplan.way.measured_unit import other_unit
from fabplan.way.taped import NAMED, Pattern, pattern

LEAST = 3
"""Holes that a pattern must have to be laid over the drawing."""

TURNED = 2.0
"""How many times better a pattern must fit one way round than the other for its face to be proved by it (assumed)."""

GROWN = 2.0
"""How many times the accuracy a row may be longer or shorter than drawn before it is told."""


Taken = tuple[Drawing, list[Finding], MeasuredRecord | None]
"""A drawing with the holes of its piece, what is found about them, and the record of how they were laid over it."""


def as_measured(
    job: Job, drawings: Mapping[str, Drawing]
) -> tuple[dict[str, Drawing], tuple[Finding, ...], tuple[MeasuredRecord, ...]]:
    """The drawings with measured holes in place of drawn ones, what is found about them, and their records.

    The measured pattern is laid over the drawing as a whole, by a turn and a shift; it is never mirrored or smoothed.
    """
    taken, found, records = dict(drawings), [], []
    for spec in job.parts:
        measured = spec.measured
        if measured is not None and measured.holes and spec.mark in drawings:
            drawing, told, record = _taken(spec, measured, drawings[spec.mark])
            taken[spec.mark] = drawing
            found += told
            records += [record] if record is not None else []
    return taken, tuple(found), tuple(records)


@dataclass(frozen=True, slots=True, eq=False)
class _Laid:
    """The measured holes of a piece laid over its drawing, mm.

    `own` (n, 2) in axes of their own, `index` (n,) of the drawn ones, `xy` (n, 2) where they lie over the drawing,
    `out` (n,) True for those that stand out from all others, and were left out of the fit.
    """

    spec: PartSpec
    measured: Measured
    drawing: Drawing
    index: IntArray
    own: FloatArray
    xy: FloatArray
    out: BoolArray

    @property
    def drawn(self) -> FloatArray:
        """(n, 2) where they are drawn."""
        return self.drawing.holes.xy[self.index]

    @property
    def within(self) -> FloatArray:
        """(n,) how far the place of each may be off."""
        return np.array(self.measured.within)

    @property
    def off(self) -> FloatArray:
        """(n, 2) measured less drawn."""
        return self.xy - self.drawn


def _taken(spec: PartSpec, measured: Measured, drawing: Drawing) -> Taken:
    numbers = list(drawing.holes.number)
    unknown = [hole.number for hole in measured.holes if hole.number not in numbers]
    if unknown or len(measured.holes) < LEAST:
        return drawing, [_unused(spec, unknown)], None
    holes = tuple(sorted(measured.holes, key=lambda hole: numbers.index(hole.number)))
    measured = replace(measured, holes=holes)
    index = np.array([numbers.index(hole.number) for hole in holes], dtype=np.int64)
    drawn = drawing.holes.xy[index]
    unit = other_unit(measured, drawn)
    if unit is not None:
        return drawing, [_in_other_unit(spec, *unit)], None
    taped = pattern(measured, drawn) if measured.tape else None
    own = taped.xy if taped is not None else np.array([(hole.x, hole.y) for hole in measured.holes])
    laid = _laid(spec, measured, drawing, index, own)
    if taped is not None and taped.trouble is not None:
        return drawing, [_not_taken(spec, *taped.trouble)], _record(laid, taped, taken=False)
    over = _laid(spec, measured, drawing, index, own * [-1.0, 1.0])
    astray = laid.out & over.out  # misread from either face: tells neither
    if _beyond(laid, astray) > GROWN + FIGURE and _mean(laid, astray) >= TURNED * _mean(over, astray):
        return drawing, [_mirrored(laid, over)], _record(laid, taped, taken=False)
    pairs = _exchanged(laid)
    misread = sorted(set(np.flatnonzero(laid.out).tolist()) - {k for pair in pairs for k in pair})
    found = [_told(laid), *_face(laid, over, astray), *_formed(laid), *(_pair(laid, *pair) for pair in pairs)]
    found += [*(_misread(laid, k) for k in misread), *_ovals(laid), *_grown(laid)]
    return _changed(laid), found, _record(laid, taped, taken=True)


def _laid(spec: PartSpec, measured: Measured, drawing: Drawing, index: IntArray, own: FloatArray) -> _Laid:
    """Points (n, 2) laid over the drawn holes, by those that do not stand out, each weighed by its accuracy."""
    drawn, within = drawing.holes.xy[index], np.array(measured.within)
    out = standing_out(own, drawn, within)
    return _Laid(spec, measured, drawing, index, own, laid_over(own, drawn, np.where(out, 0.0, within**-2.0)), out)


def _record(laid: _Laid, taped: Pattern | None, *, taken: bool) -> MeasuredRecord:
    across = [(hole.diameter or math.nan, hole.least or math.nan) for hole in laid.measured.holes]
    record = MeasuredRecord(
        laid.spec.mark,
        tuple(hole.number for hole in laid.measured.holes),
        laid.drawn,
        laid.xy,
        np.array(across),
        taken,
        tuple(_growths(laid)),
        laid.measured.tape,
        out=laid.out,
    )
    return record if taped is None else replace(record, by_tape=taped.by_tape, proved=taped.proved)


def _changed(laid: _Laid) -> Drawing:
    """The drawing with its holes where they were measured; of a diameter beyond its accuracy the least is taken."""
    holes = laid.drawing.holes
    xy, diameter = holes.xy.copy(), holes.diameter.copy()
    xy[laid.index] = laid.xy
    for k, hole in zip(laid.index.tolist(), laid.measured.holes, strict=True):
        least = hole.least or hole.diameter
        if least is not None and not abs(least - diameter[k]) <= hole.diameter_accuracy + FIGURE:
            diameter[k] = least
    return replace(laid.drawing, holes=replace(holes, xy=xy, diameter=diameter))


def _worst(off: FloatArray) -> float:
    return float(np.linalg.norm(off, axis=1).max())


def _beyond(laid: _Laid, astray: BoolArray) -> float:
    """How many times its accuracy the worst hole is off the drawing, but those astray (n,)."""
    return float((np.linalg.norm(laid.off, axis=1) / laid.within)[~astray].max())


def _mean(laid: _Laid, astray: BoolArray) -> float:
    """Root of the mean square of how far off the drawing holes are, in parts of their accuracy; but those astray."""
    return float(np.sqrt(np.mean((np.sum(laid.off**2, axis=1) / laid.within**2)[~astray])))


def _finding(check: str, what: str, mend: str, where: Where, figures: tuple[float | None, float | None]) -> Finding:
    row = CHECKS[check]
    return Finding(check, row.level, what, where, *figures, "" if check == "measured-unit" else "mm", row.source, mend)


def _unused(spec: PartSpec, unknown: list[str]) -> Finding:
    what = f"{spec.mark}: {len(unknown)} measured holes are not on its drawing: {', '.join(unknown[:6])}"
    if not unknown:
        what = f"{spec.mark}: fewer than {LEAST} measured holes cannot be laid over its drawing"
    mend = "Number them as its check sheet does."
    return _finding("measured-unknown", what, mend, Where(part=spec.mark), (None, None))


def _not_taken(spec: PartSpec, check: str, what: str, figure: float, limit: float, mend: str) -> Finding:
    words = f"{spec.mark}: {what}; it stays as drawn"
    return _finding(check, words, mend, Where(spec.drawing, spec.mark), (figure, limit))


def _in_other_unit(spec: PartSpec, unit: str, size: float, times: float) -> Finding:
    what = (
        f"{spec.mark}: its measured sizes are {times:.1f} times smaller than drawn, as if in {unit}, and are not taken"
    )
    mend = f"State places, sizes and accuracy in mm, {size:g} times what stands there."
    return _finding("measured-unit", what, mend, Where(spec.drawing, spec.mark), (times, 1.0))


def _mirrored(laid: _Laid, over: _Laid) -> Finding:
    mark, off, turned = laid.spec.mark, _worst(laid.off), _worst(over.off)
    what = (
        f"{mark}: its measured holes fit as their mirror image, within {turned:.2f} mm, as drawn within {off:.2f} mm, "
        "and are not taken"
    )
    mend = "Measure on the marked face, x to the right and y up; or correct `marked` or the hand."
    return _finding("measured-mirrored", what, mend, Where(part=mark), (off, turned))


def _face(laid: _Laid, over: _Laid, astray: BoolArray) -> Iterator[Finding]:
    """A query where holes are off the drawing, and would be elsewhere if they had been measured from the other face."""
    apart = np.linalg.norm(over.xy - laid.xy, axis=1)
    if _mean(over, astray) <= TURNED * _mean(laid, astray) + FIGURE and not np.all(
        apart <= GROWN * laid.within + FIGURE
    ):
        worst = int((apart / laid.within).argmax())
        what = (
            f"{laid.spec.mark}: its measured holes do not prove their face; seen from the other one, "
            f"{laid.measured.holes[worst].number} would lie {apart[worst]:.2f} mm elsewhere"
        )
        mend = "See from which face it was measured, or measure a hole off the line too."
        figures = (float(apart[worst]), GROWN * float(laid.within[worst]))
        yield _finding("measured-face", what, mend, Where(laid.spec.drawing, laid.spec.mark), figures)


def _formed(laid: _Laid) -> Iterator[Finding]:
    """A query where sizes between holes of a formed plate are no sizes of its blank, over which they are laid."""
    spec, drawing = laid.spec, laid.drawing
    lines = {line.name: line.points for line in (*drawing.folds, *drawing.rolls)}
    names = [fold.line for fold in spec.folds] + [joggle.line for joggle in spec.joggles]
    names += [end for roll in spec.rolls for end in (roll.start, roll.end)]
    parted = [name for name in names if name in lines and _on_both_sides(lines[name], laid.drawn)]
    if parted or spec.cone is not None or any(one.axis for one in spec.rolls):
        where = f"on both sides of {', '.join(parted)}" if parted else "on a round"
        what = f"{spec.mark}: its measured holes lie {where}, and are laid over its blank, which is flat"
        mend = (
            "State places as they would lie on the blank; of a piece that is formed measure the holes of one flat "
            "alone, and its form as `over` or `across`."
        )
        yield _finding("measured-formed", what, mend, Where(spec.drawing, spec.mark), (None, None))


def _on_both_sides(line: FloatArray, xy: FloatArray) -> bool:
    """Whether points (n, 2) lie on both sides of a line from its first point to its last."""
    way, off = line[-1] - line[0], xy - line[0]
    side = np.sign(way[0] * off[:, 1] - way[1] * off[:, 0])
    return bool(np.any(side > 0.0) and np.any(side < 0.0))


def _exchanged(laid: _Laid) -> list[tuple[int, int]]:
    """Pairs of holes off the drawing that each lie nearer to where the other is drawn: lines of a table exchanged."""
    size = np.linalg.norm(laid.off, axis=1)
    apart = np.linalg.norm(laid.xy[:, None] - laid.drawn[None], axis=2)
    nearer = (TURNED * apart <= size[:, None]) & (size > GROWN * laid.within + FIGURE)[:, None]
    return [(one, other) for one, other in np.argwhere(np.triu(nearer & nearer.T, 1)).tolist()]


def _pair(laid: _Laid, one: int, other: int) -> Finding:
    names = laid.measured.holes[one].number, laid.measured.holes[other].number
    what = f"{laid.spec.mark}: holes {names[0]} and {names[1]} lie where the other is drawn"
    mend = "Exchange their lines in the table, if they were written down in the wrong order."
    where = Where(laid.spec.drawing, laid.spec.mark, holes=names)
    figures = (float(np.linalg.norm(laid.off[one])), GROWN * float(laid.within[one]))
    return _finding("measured-exchanged", what, mend, where, figures)


def _misread(laid: _Laid, k: int) -> Finding:
    """A hole that stands out: what it is off by the others, and what its size would be where it is drawn."""
    number, rest = laid.measured.holes[k].number, np.linalg.norm(laid.off, axis=1)[~laid.out]
    x, y = laid.off[k].tolist()
    what = (
        f"{laid.spec.mark}: hole {number} stands out, {x:+.2f} in x, {y:+.2f} in y off the drawing, where {len(rest)} "
        f"others keep within {rest.max():.2f} mm: it was misread, or made there"
    )
    mend = f"Measure it again: where it is drawn, {_would_read(laid, k)}. The body has it where it was measured."
    where = Where(laid.spec.drawing, laid.spec.mark, holes=(number,))
    figures = (float(np.linalg.norm(laid.off[k])), GROWN * float(laid.within[k]))
    return _finding("measured-misread", what, mend, where, figures)


def _would_read(laid: _Laid, k: int) -> str:
    """What the table, or the tape, would have said of a hole that is where it is drawn."""
    number = laid.measured.holes[k].number
    if not laid.measured.tape:
        weight = np.where(laid.out, 0.0, laid.within**-2.0)
        x, y = laid_over(laid.drawn, laid.own, weight)[k].tolist()
        return f"its line would read x = {x:.1f}, y = {y:.1f}"
    at = {hole.number: xy for hole, xy in zip(laid.measured.holes, laid.drawn, strict=True)}
    words = []
    for one in laid.measured.tape:
        if number in (one.start, one.end):
            way, far = at[one.end] - at[one.start], at[one.along or one.end] - at[one.start]
            words.append(f"{one.start} to {one.end} would be {float(way @ far / np.linalg.norm(far)):.1f} mm")
    return ", ".join(words[:NAMED])


def _one_row(laid: _Laid) -> bool:
    """Whether the holes are drawn in one straight row, which looks alike from both faces."""
    return _worst(laid_over(laid.drawn * [-1.0, 1.0], laid.drawn) - laid.drawn) <= GROWN * float(laid.within.max())


def _told(laid: _Laid) -> Finding:
    """One note on all holes of a piece, with the one that is furthest from its drawing."""
    size, within = np.linalg.norm(laid.off, axis=1), laid.within
    worst = int((size / within).argmax())
    beyond = int(np.sum(~(size <= within + FIGURE)))
    how = "; ".join(filter(None, [laid.measured.source, laid.measured.doubt and f"doubt: {laid.measured.doubt}"]))
    how = f" ({how})" if how else ""
    x, y = laid.off[worst].tolist()
    what = (
        f"{laid.spec.mark}: {len(size)} holes are taken as measured{how}; {beyond} off the drawing by more than the "
        f"accuracy of {laid.measured.accuracy_words}, the worst {laid.measured.holes[worst].number} by {x:+.2f} in x, "
        f"{y:+.2f} in y"
    )
    what += "; one straight row cannot prove from which face it was measured" if _one_row(laid) else ""
    mend = "The measured pattern is master: draw or drill its mates from it."
    where = Where(laid.spec.drawing, laid.spec.mark)
    return _finding("measured-holes", what, mend, where, (float(size[worst]), float(within[worst])))


def _ovals(laid: _Laid) -> Iterator[Finding]:
    mark = laid.spec.mark
    for hole in laid.measured.holes:
        if (
            hole.least is not None
            and hole.diameter is not None
            and not hole.diameter - hole.least <= hole.diameter_accuracy + FIGURE
        ):
            what = f"{mark}: hole {hole.number} is oval, {hole.diameter:g} by {hole.least:g} mm"
            what += f", diameters within {hole.diameter_accuracy:g} mm"
            where = Where(laid.spec.drawing, mark, holes=(hole.number,))
            yield _finding(
                "oval-hole", what, next_size(hole.diameter), where, (hole.diameter - hole.least, hole.diameter_accuracy)
            )


def _grown(laid: _Laid) -> Iterator[Finding]:
    """Rows whose spaces add up to more or less than drawn: the error grows from one end to the other."""
    rows = np.array([laid.drawing.holes.row[k] for k in laid.index.tolist()])
    for row, length, grown in _growths(laid):
        limit = GROWN * float(laid.within[rows == row].max())
        if not abs(grown) <= limit + FIGURE:
            word = "longer" if grown > 0 else "shorter"
            what = f"{laid.spec.mark}: row {row} is {abs(grown):.2f} mm {word} than drawn, over {length:.0f} mm"
            mend = "Look for a pitch that was added up, or at the tape; mates take their holes from this piece."
            yield _finding("measured-grows", what, mend, Where(laid.spec.drawing, laid.spec.mark), (grown, limit))


def _growths(laid: _Laid) -> Iterator[tuple[str, float, float]]:
    """Each row of three measured holes or more, its length, and how much longer it is than drawn."""
    rows = [laid.drawing.holes.row[k] for k in laid.index.tolist()]
    for row in dict.fromkeys(row for row in rows if row):
        own = np.array([k for k, name in enumerate(rows) if name == row])
        if len(own) >= LEAST:
            grown, length = _growth(laid.drawn[own], laid.off[own])
            yield row, length, grown


def _growth(drawn: FloatArray, off: FloatArray) -> tuple[float, float]:
    """How much longer a row (n, 2) is than drawn, by the median of the slopes from hole to hole; and its length, mm.

    Source: Theil and Sen: one hole that was misread does not tilt it, as it tilts a least squares line.
    """
    centred = drawn - drawn.mean(axis=0)
    way = np.linalg.svd(centred, full_matrices=False)[2][0]
    along = centred @ way
    length = float(np.ptp(along))
    error = off @ way
    one, other = np.triu_indices(len(along), 1)
    apart = along[other] - along[one]
    slopes = (error[other] - error[one])[np.abs(apart) > FIGURE] / apart[np.abs(apart) > FIGURE]
    return float(np.median(slopes)) * length if len(slopes) else 0.0, length
