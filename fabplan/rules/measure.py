"""What the spacing rules measure on one plate: pitches, row distances, diagonals, end and edge distances.

line        holes of one row that stand in one straight line; a row may have several
pitch       between neighbours in a line (or along a bent row)
end         along the line, at its two ends
edge        across the line
"""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import span_places
from fabplan.geom.near import close_pairs
from fabplan.geom.rows import along_row, found_rows
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.layout import HoleLayout

PARALLEL = 0.996  # cosine of 5 degrees: rows that run together
IN_STEP = 0.25  # share of the pitch: rows shifted by less stand in chain, by more are staggered (common practice)
FAR = 2.5  # a gap of this many times the least pitch of its line is a break in the run, not a pitch


@dataclass(frozen=True, slots=True, eq=False)
class Measure:
    """Values of one kind.

    Attributes:
        holes: (k, 2) the holes concerned; the second is the first again where one hole has the value by itself.
        value: (k,) mm.
        staggered: (k,) True between staggered rows.
        lines: (k,) parallel lines of the row, 1 to 3.
    """

    holes: IntArray
    value: FloatArray
    staggered: BoolArray
    lines: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Lines:
    """The straight lines of a plate's rows.

    Attributes:
        of: (n,) line of each hole, -1 for none.
        direction: (n, 2) unit vector along the line, NaN where there is none.
        end: (n,) True for the first and last hole of a line.
        count: (n,) lines of the hole's row that run parallel, 1 to 3.
        runs: the holes of each line (or bent row) in order.
    """

    of: IntArray
    direction: FloatArray
    end: BoolArray
    count: IntArray
    runs: tuple[IntArray, ...]


def lines_of(layout: HoleLayout) -> Lines:
    """The lines of all rows of a layout; open holes stand in none."""
    xy, total = layout.holes.xy, len(layout.holes)
    of = np.full(total, -1, dtype=np.int64)
    direction = np.full((total, 2), np.nan)
    end, count = np.zeros(total, dtype=np.bool_), np.ones(total, dtype=np.int64)
    runs: list[IntArray] = []
    for name in dict.fromkeys(layout.holes.row):
        own = np.array([i for i, row in enumerate(layout.holes.row) if row == name], dtype=np.int64)
        own = own[[layout.holes.purpose[i] != "open" for i in own]]
        if not name or len(own) == 0:
            continue
        straight = [own[line] for line in _straight(xy[own])]
        for line in straight or [own]:
            line = line[along_row(xy[line])]
            runs.append(line)
            if straight and len(line) > 1:
                of[line] = len(runs) - 1
                along = xy[line[-1]] - xy[line[0]]
                direction[line] = along / np.linalg.norm(along)
                end[line[[0, -1]]] = True
        count[own] = min(max(_parallel(xy, straight), 1), 3)
    return Lines(of, direction, end, count, tuple(runs))


def _straight(xy: FloatArray) -> list[IntArray]:
    """The straight lines of one row; none where it bends (most holes in no line)."""
    if len(xy) == 2:
        return [np.array([0, 1])]
    found = found_rows(xy)
    return found if sum(len(line) for line in found) >= 0.8 * len(xy) else []


def _parallel(xy: FloatArray, lines: list[IntArray]) -> int:
    """How many lines of one row run side by side with its longest."""
    if not lines:
        return 1
    along = [xy[line[-1]] - xy[line[0]] for line in lines]
    unit = [vector / np.linalg.norm(vector) for vector in along]
    side = 0
    for line, direction in zip(lines, unit, strict=True):
        across = abs(float(unit[0] @ direction)) > PARALLEL
        place = (xy[line] - xy[lines[0][0]]) @ unit[0]
        beside = float(np.median(place)) > -1.0 and float(np.median(place)) < float(np.linalg.norm(along[0])) + 1.0
        side += across and beside
    return side


def pitches(layout: HoleLayout, lines: Lines) -> Measure:
    """Neighbours along each line; a gap of over `FAR` least pitches is a break in the run."""
    xy = layout.holes.xy
    pairs, values = [np.zeros((0, 2), dtype=np.int64)], [np.zeros(0)]
    for run in lines.runs:
        if len(run) > 1:
            apart = np.linalg.norm(np.diff(xy[run], axis=0), axis=1)
            close = apart <= FAR * apart.min()
            pairs.append(np.column_stack([run[:-1], run[1:]])[close])
            values.append(apart[close])
    holes = np.vstack(pairs)
    return Measure(holes, np.concatenate(values), np.zeros(len(holes), dtype=np.bool_), lines.count[holes[:, 0]])


def crowded(layout: HoleLayout, lines: Lines, reach: float) -> Measure:
    """Pairs of rivet holes within `reach` that are not neighbours of one line: rows that meet, rowless holes."""
    pairs, apart = close_pairs(layout.holes.xy, reach)
    rivet = np.array([purpose != "open" for purpose in layout.holes.purpose], dtype=np.bool_)
    a, b = pairs[:, 0], pairs[:, 1]
    side_by_side = _run_together(lines, a, b) & (_row_of(layout, a) == _row_of(layout, b))
    kept = rivet[a] & rivet[b] & ((lines.of[a] != lines.of[b]) | (lines.of[a] < 0)) & ~side_by_side
    pairs, apart = pairs[kept], apart[kept]
    return Measure(pairs, apart, np.zeros(len(pairs), dtype=np.bool_), lines.count[pairs[:, 0]])


def _row_of(layout: HoleLayout, index: IntArray) -> IntArray:
    names = {name: number for number, name in enumerate(dict.fromkeys(layout.holes.row))}
    return np.array([names[layout.holes.row[i]] for i in index], dtype=np.int64)


def _run_together(lines: Lines, a: IntArray, b: IntArray) -> BoolArray:
    cosine = np.abs(np.sum(lines.direction[a] * lines.direction[b], axis=1))
    together: BoolArray = (lines.of[a] != lines.of[b]) & (cosine > PARALLEL)
    return together


def between_rows(layout: HoleLayout, lines: Lines) -> tuple[Measure, Measure]:
    """Distances between neighbouring parallel lines of one row, and the slant distances of staggered ones."""
    xy = layout.holes.xy
    holes: list[tuple[int, int]] = []
    across: list[float] = []
    slant: list[float] = []
    staggered: list[bool] = []
    for one, run in enumerate(lines.runs):
        for other in lines.runs[one + 1 :]:
            if (
                layout.holes.row[run[0]] != layout.holes.row[other[0]]
                or not _run_together(lines, run[:1], other[:1])[0]
            ):
                continue
            apart = np.linalg.norm(xy[run][:, None] - xy[other][None], axis=2)
            i, j = np.unravel_index(int(apart.argmin()), apart.shape)
            step = xy[other[j]] - xy[run[i]]
            along = abs(float(step @ lines.direction[run[0]]))
            pitch = float(np.linalg.norm(xy[run[1]] - xy[run[0]]))
            holes.append((int(run[i]), int(other[j])))
            across.append(float(np.sqrt(max(step @ step - along * along, 0.0))))
            slant.append(float(apart[i, j]))
            staggered.append(along > IN_STEP * pitch)
    pairs, shifted = np.array(holes, dtype=np.int64).reshape(-1, 2), np.array(staggered, dtype=np.bool_)
    count = lines.count[pairs[:, 0]]
    return (
        Measure(pairs, np.array(across), shifted, count),
        Measure(pairs[shifted], np.array(slant)[shifted], shifted[shifted], count[shifted]),
    )


def to_edges(layout: HoleLayout, lines: Lines) -> tuple[Measure, Measure]:
    """End distances (along the line) and edge distances (across it) of all rivet holes, to the nearest edge each way.

    A place on an edge counts as an end where it lies within 45 degrees of the line's direction; a hole without a line
    has edge distances only.
    """
    xy = layout.holes.xy
    ends, edges = np.full(len(xy), np.inf), np.full(len(xy), np.inf)
    direction = np.nan_to_num(lines.direction)
    for profile in (layout.outline, *layout.cutouts):
        away = span_places(profile, xy) - xy[:, None, :]
        distance = np.linalg.norm(away, axis=2)
        along = np.abs(np.einsum("nmx,nx->nm", away, direction)) >= distance * np.sqrt(0.5)
        known = (lines.of >= 0)[:, None]
        ends = np.minimum(ends, np.where(along & known, distance, np.inf).min(axis=1))
        edges = np.minimum(edges, np.where(along & known, np.inf, distance).min(axis=1))
    rivet = np.nonzero([purpose != "open" for purpose in layout.holes.purpose])[0]
    return _single(rivet, ends, lines), _single(rivet, edges, lines)


def _single(index: IntArray, values: FloatArray, lines: Lines) -> Measure:
    kept = index[np.isfinite(values[index]) | np.isnan(values[index])]
    still = np.zeros(len(kept), dtype=np.bool_)
    return Measure(np.column_stack([kept, kept]), values[kept], still, lines.count[kept])


def by_itself(layout: HoleLayout, values: FloatArray, lines: Lines) -> Measure:
    """A value that each rivet hole has by itself; holes whose value is not known are left out."""
    rivet = np.nonzero([purpose == "rivet" for purpose in layout.holes.purpose])[0]
    kept = rivet[~np.isnan(values[rivet])]
    still = np.zeros(len(kept), dtype=np.bool_)
    return Measure(np.column_stack([kept, kept]), values[kept], still, lines.count[kept])
