"""Equal spaces that run out whole between two ends, stepping around what is in the way. Lengths mm."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray

STEP = 0.5  # mm: pitches and end distances are laid to the half millimetre where they may (common practice)
TRIES = 4000  # divisions that are tried before another way is sought
ODD = 1.0  # mm: by so much a whole millimetre is preferred to a half one
ENDS = 0.25  # mm of pitch that a millimetre of end distance is worth

Ask = Callable[[FloatArray], BoolArray]


@dataclass(frozen=True, slots=True)
class Blocked:
    """Where no hole may be: `place` for places (n,) of the first line, `row` for holes (n,) with those beside them."""

    place: Ask
    row: Ask


@dataclass(frozen=True, slots=True)
class Pitches:
    """Least and greatest pitch, and the one that is wanted."""

    least: float
    greatest: float
    wanted: float


@dataclass(frozen=True, slots=True)
class End:
    """Where an end hole may be: from `low` to `high` along the row, best at `wanted`; fixed where all are one."""

    low: float
    high: float
    wanted: float

    @property
    def fixed(self) -> bool:
        """True where nothing is left to choose."""
        return self.high - self.low <= FIGURE


def at(place: float) -> End:
    """An end that is settled."""
    return End(place, place, place)


def divided(start: End, end: End, pitches: Pitches, blocked: Blocked) -> FloatArray | None:
    """Places (n,) of a row of equal spaces; where nothing equal is free, of equal runs beside what is in the way.

    None where no row keeps the limits.
    """
    equal = equal_spaces(start, end, pitches, blocked)
    if equal is not None:
        return equal
    gaps = _gaps(start, end, blocked)
    ways = [[gap] for gap in gaps] + ([gaps] if len(gaps) > 1 else [])
    found = (_around(start, end, way, (pitches, blocked)) for way in ways)
    return next((row for row in found if row is not None), None)


def equal_spaces(start: End, end: End, pitches: Pitches, blocked: Blocked) -> FloatArray | None:
    """Places (n,) of a row all of whose spaces are equal and none of whose holes is blocked; None where there is none.

    Of all divisions the one nearest to what is wanted: a pitch of whole millimetres before one of halves, these before
    any other.
    """
    for first, pitch, count in _divisions(start, end, pitches, blocked.place):
        row: FloatArray = first + pitch * np.arange(count + 1, dtype=np.float64)
        if not blocked.row(row).any():
            return row
    return None


def _divisions(start: End, end: End, pitches: Pitches, ask: Ask) -> Iterator[tuple[float, float, int]]:
    """First hole, pitch and number of spaces, the best first."""
    if not (start.fixed and end.fixed):
        yield from _round_figures(start, end, pitches, ask)
    for first, last in _settled(start, end):
        span = last - first
        if span <= FIGURE:
            continue
        low = max(1, int(np.ceil(span / pitches.greatest - FIGURE)))
        high = int(np.floor(span / pitches.least + FIGURE))
        for count in sorted(range(low, high + 1), key=lambda n: (abs(span / n - pitches.wanted), n)):
            yield first, span / count, count


def _settled(start: End, end: End) -> Iterator[tuple[float, float]]:
    """Ends as wanted; then, where there is a choice, at the outermost and the innermost places."""
    yield start.wanted, end.wanted
    if not (start.fixed and end.fixed):
        yield start.low, end.high
        yield start.high, end.low


def _round_figures(start: End, end: End, pitches: Pitches, ask: Ask) -> Iterator[tuple[float, float, int]]:
    """Divisions with pitch and place of the first hole on whole steps and free ends, the best `TRIES` of them."""
    firsts = _steps(start)
    firsts = firsts[~ask(firsts)]
    pitch = np.arange(np.ceil(pitches.least / STEP - FIGURE), np.floor(pitches.greatest / STEP + FIGURE) + 1.0) * STEP
    if not len(pitch):
        return
    first, wide = (one.ravel() for one in np.meshgrid(firsts, pitch, indexing="ij"))
    count = np.maximum(np.round((end.wanted - first) / wide), 1.0)
    first, wide, count = (np.concatenate([one, one, one]) for one in (first, wide, count))
    count = count + np.repeat([-1.0, 0.0, 1.0], len(count) // 3)
    last = first + wide * count
    held = (count >= 1.0) & (last >= end.low - FIGURE) & (last <= end.high + FIGURE)
    first, wide, count, last = (one[held] for one in (first, wide, count, last))
    first, wide, count, last = (one[~ask(last)] for one in (first, wide, count, last))
    off = np.abs(wide - pitches.wanted) + np.where(np.abs(wide - np.round(wide)) > FIGURE, ODD, 0.0)
    off += ENDS * (np.abs(first - start.wanted) + np.abs(last - end.wanted))
    uneven = np.abs((first - start.wanted) - (end.wanted - last))  # of as good ones that with both ends alike
    order = np.lexsort((first, count, np.round(uneven, 6), np.round(off, 6)))[:TRIES]
    for k in order.tolist():
        yield float(first[k]), float(wide[k]), int(count[k])


def _steps(end: End) -> FloatArray:
    """Places (n,) for an end hole: whole steps off the wanted one, and that itself."""
    low, high = np.ceil((end.low - end.wanted) / STEP - FIGURE), np.floor((end.high - end.wanted) / STEP + FIGURE)
    steps: FloatArray = end.wanted + STEP * np.arange(low, high + 1.0)
    return steps


def _gaps(start: End, end: End, blocked: Blocked) -> list[tuple[float, float]]:
    """What is in the way between two ends: from the last free place before it to the first one after it."""
    count = max(2, int(np.ceil((end.high - start.low) / STEP)) + 1)
    places = np.linspace(start.low, end.high, count)
    free = np.nonzero(~blocked.place(places))[0]
    return [
        (float(places[k]), float(places[m]))
        for k, m in pairwise(free.tolist())
        if m > k + 1 and places[k] >= start.low - FIGURE
    ]


def _around(start: End, end: End, gaps: list[tuple[float, float]], given: tuple[Pitches, Blocked]) -> FloatArray | None:
    """A row with a hole on either side of each gap, equal spaces between; None where a part of it cannot be."""
    pitches, blocked = given
    stops: list[tuple[float, float]] = []
    for low, high in gaps:
        wide = _widened(low, high, max(pitches.least - (high - low), 0.0), blocked.place)
        if wide is None:
            return None
        stops.append(wide)
    # an end hole nearer to a gap than the least pitch is the hole on that side of it
    if start.fixed and stops[0][0] - start.wanted < pitches.least - FIGURE:
        stops[0] = (start.wanted, max(stops[0][1], start.wanted + pitches.least))
    if end.fixed and end.wanted - stops[-1][1] < pitches.least - FIGURE:
        stops[-1] = (min(stops[-1][0], end.wanted - pitches.least), end.wanted)
    if not all(pitches.least - FIGURE <= high - low <= pitches.greatest + FIGURE for low, high in stops):
        return None
    ends = [start, *(one for low, high in stops for one in (at(low), at(high))), end]
    rows = []
    for one, other in zip(ends[::2], ends[1::2], strict=True):
        if one.fixed and other.fixed and abs(other.wanted - one.wanted) <= FIGURE:
            alone = np.array([one.wanted])
            row = None if blocked.place(alone).any() else alone
        else:
            row = equal_spaces(one, other, pitches, blocked)
        if row is None:
            return None
        rows.append(row)
    return np.concatenate(rows)


def _widened(low: float, high: float, short: float, ask: Ask) -> tuple[float, float] | None:
    """The gap widened by what it is short of the least pitch, to one side or to both, where holes may be."""
    for share in (0.5, 0.0, 1.0):
        ends = np.array([low - share * short, high + (1.0 - share) * short])
        if not ask(ends).any():
            return float(ends[0]), float(ends[1])
    return None


def runs(places: FloatArray) -> tuple[tuple[int, float], ...]:
    """A row in words: runs of equal spaces, how many and how wide, mm.

    >>> runs(np.array([0.0, 40.0, 80.0, 110.0]))
    ((2, 40.0), (1, 30.0))
    """
    found: list[tuple[int, float]] = []
    for space in np.diff(places).tolist():
        if found and abs(found[-1][1] - space) <= 1e-4:
            found[-1] = (found[-1][0] + 1, found[-1][1])
        else:
            found.append((1, space))
    return tuple(found)
