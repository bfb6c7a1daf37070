"""Rows of holes: found by their lines where no layer names them, and numbered along.

Numbers run along a row from the end that lies lower, or, where both lie as low, from the end further left. A closed row
runs counter-clockwise from its lowest hole. Of a row in several lines one line is numbered after the other, the lower
one first. Holes without a row are numbered by y, then x. The order of the drawing's entities plays no part.
"""

import heapq
from collections.abc import Iterator, Sequence
from itertools import combinations, pairwise

import numpy as np

from fabplan.geom.lines import ON_LINE, Run, runs_of
from fabplan.geom.round import circle_through
from fabplan.model.arrays import FloatArray, IntArray

LEAST = 3  # holes that make a row
NEAREST = 4  # neighbours of a hole towards which a row is sought
ROUND = 6  # holes that make a row in a circle: five may stand on one by chance
WIDER = 1.5  # times the spaces of a circle: a line of fewer holes that has a wider one takes none from it
STRETCH = 3.5  # a gap of this many times the least pitch ends a row (a skipped hole or two does not)

_Row = tuple[tuple[float, ...], tuple[int, ...], float]  # rank, holes in order, pitch


def rows_shown(xy: FloatArray) -> list[IntArray]:
    """Rows among holes (n, 2): straight ones and those in a circle; each hole in one row at most.

    Circles in or beside one another have holes in line by chance again and again: a circle has its holes before a line
    of fewer, one of whose spaces is wider by far.
    """
    rows, rounds = found_rows(xy), list[IntArray]()
    wide = [(row, float(_spaces(xy[row]).max())) for row in rows]
    left = _others(len(xy), [row for row, widest in wide if widest <= WIDER * _nearest(xy, row)])
    for own in (left[own] for own in found_rounds(xy[left])):
        least = WIDER * _round_space(xy[own])
        if all(widest > least and len(row) < len(own) for row, widest in wide if np.isin(row, own).any()):
            rounds.append(own)
    taken = np.concatenate([np.zeros(0, dtype=np.int64), *rounds])
    kept = [part for row in rows for part in _without(xy, row, taken)]
    left = _others(len(xy), [*kept, *rounds])
    return [*kept, *rounds, *(left[own] for own in found_rounds(xy[left]))]


def _others(count: int, rows: Sequence[IntArray]) -> IntArray:
    """Those of some holes that stand in none of some rows."""
    return np.setdiff1d(np.arange(count), np.concatenate([np.zeros(0, dtype=np.int64), *rows]))


def _without(xy: FloatArray, row: IntArray, taken: IntArray) -> list[IntArray]:
    """A straight row as it is without some holes."""
    left = row[~np.isin(row, taken)]
    if len(left) == len(row):
        return [row]
    return _unbroken(xy, left, float(_spaces(xy[left]).min())) if len(left) >= LEAST else []


def _spaces(row: FloatArray) -> FloatArray:
    """(n - 1,) the spaces of a straight row (n, 2)."""
    spaces: FloatArray = np.linalg.norm(np.diff(row, axis=0), axis=1)
    return spaces


def _nearest(xy: FloatArray, row: IntArray) -> float:
    """How near a hole of a row stands to any other hole."""
    apart = np.linalg.norm(xy[row][:, None] - xy[None], axis=2)
    apart[np.arange(len(row)), row] = np.inf
    return float(apart.min())


def _round_space(row: FloatArray) -> float:
    """The widest space of a row in a circle (n, 2), along it, but for the one where it may be open."""
    centre, radius = circle_through(row)
    return radius * float(_gaps(row, centre)[-2])


def _gaps(row: FloatArray, centre: FloatArray) -> FloatArray:
    """(n,) angles from hole to hole about a centre, radians, the widest last."""
    turn = np.sort(np.arctan2(*(row - centre).T))
    return np.sort(np.diff(np.append(turn, turn[0] + 2.0 * np.pi)))


def found_rows(xy: FloatArray) -> list[IntArray]:
    """Straight rows among holes (n, 2), fullest first, of as full ones the shortest; each hole in one row at most.

    >>> [row.tolist() for row in found_rows(np.array([[0.0, 0.0], [10.0, 0.0], [20.0, 0.0], [0.0, 15.0]]))]
    [[0, 1, 2]]
    """
    queue = list(_candidates(xy))
    heapq.heapify(queue)
    free = np.ones(len(xy), dtype=np.bool_)
    rows: list[IntArray] = []
    while queue:
        _, held, pitch = heapq.heappop(queue)
        row = np.array(held, dtype=np.int64)
        if free[row].all():
            free[row] = False
            rows.append(row)
            continue
        for part in _unbroken(xy, row[free[row]], pitch):
            heapq.heappush(queue, _ranked(xy, part, pitch))
    return rows


def found_rounds(xy: FloatArray) -> list[IntArray]:
    """Rows in a circle or most of one among holes (n, 2) that stand in no straight row, those of low numbers first.

    >>> turn = np.radians(np.arange(0.0, 360.0, 45.0))
    >>> found_rounds(50.0 * np.column_stack([np.cos(turn), np.sin(turn)]))[0].tolist()
    [0, 1, 2, 3, 4, 5, 6, 7]
    """
    free = np.arange(len(xy))
    rounds: list[IntArray] = []
    for k in range(len(xy)):
        if k not in free or len(free) < ROUND:
            continue
        near = free[np.argsort(np.linalg.norm(xy[free] - xy[k], axis=1), kind="stable")][1 : NEAREST + 1]
        tried = (_round_through(xy, free, np.array([k, *pair])) for pair in combinations(near.tolist(), 2))
        row = max(tried, key=len)
        if len(row):
            rounds.append(row)
            free = np.setdiff1d(free, row)
    return rounds


def _round_through(xy: FloatArray, free: IntArray, three: IntArray) -> IntArray:
    """Those of some holes that stand on the circle through three, none where a second wide gap parts them."""
    none = np.zeros(0, dtype=np.int64)
    (ax, ay), (bx, by) = xy[three[1:]] - xy[three[0]]
    if 2.0 * abs(ax * by - ay * bx) <= ON_LINE * np.hypot(ax, ay):  # in line, as near as drawn places tell
        return none
    row, count, centre = three, 0, xy[three[0]]
    while len(row) > count:  # where places are rounded three tell a large circle badly, more of it well
        count = len(row)
        centre, radius = circle_through(xy[row])
        row = free[np.abs(np.linalg.norm(xy[free] - centre, axis=1) - radius) <= ON_LINE]
    if len(row) < ROUND:
        return none
    gaps = _gaps(xy[row], centre)
    return row if gaps[-2] <= STRETCH * gaps[0] else none


def _candidates(xy: FloatArray) -> Iterator[_Row]:
    """All lines of holes through neighbours, each once."""
    if len(xy) < LEAST:
        return
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    nearest = np.argsort(apart, axis=1, kind="stable")[:, : min(NEAREST, len(xy) - 1)]
    seeds = np.unique(
        np.sort(np.stack([np.repeat(np.arange(len(xy)), nearest.shape[1]), nearest.ravel()]), axis=0), axis=1
    ).T
    seeds = seeds[np.argsort(np.round(apart[seeds[:, 0], seeds[:, 1]], 6), kind="stable")]
    covered: set[tuple[int, int]] = set()
    for one, other in seeds.tolist():
        if (one, other) in covered or not apart[one, other] > ON_LINE:
            continue
        along = (xy[other] - xy[one]) / apart[one, other]
        near = np.nonzero(np.abs((xy - xy[one]) @ np.array([-along[1], along[0]])) <= ON_LINE)[0]
        for part in _unbroken(xy, near[np.argsort((xy[near] - xy[one]) @ along, kind="stable")], apart[one, other]):
            held = part.tolist()
            covered |= {(min(pair), max(pair)) for pair in pairwise(held)}
            yield _ranked(xy, part, float(apart[one, other]))


def _unbroken(xy: FloatArray, row: IntArray, pitch: float) -> list[IntArray]:
    """The parts of a line of holes without a wide gap that are long enough for a row."""
    step = np.linalg.norm(np.diff(xy[row], axis=0), axis=1)
    parts = np.split(row, np.nonzero(step > STRETCH * pitch)[0] + 1)
    return [part for part in parts if len(part) >= LEAST]


def _ranked(xy: FloatArray, row: IntArray, pitch: float) -> _Row:
    """A row with its rank: more holes first, then the shorter, then the lower, then the one further left."""
    long = float(np.linalg.norm(xy[row[-1]] - xy[row[0]]))
    x, y = xy[row].mean(axis=0).tolist()
    return (-float(len(row)), round(long, 3), round(y, 3), round(x, 3)), tuple(row.tolist()), pitch


def along_row(xy: FloatArray) -> IntArray:
    """The order (n,) in which the holes of one row are numbered."""
    if len(xy) < 2:
        return np.arange(len(xy))
    lines = [_from_low_end(xy, run) for run in runs_of(xy)]
    lines.sort(key=lambda line: _low_first(xy[line[0]]))
    order = np.concatenate(lines)
    return order[np.sort(np.unique(order, return_index=True)[1])]


def _low_first(place: FloatArray) -> tuple[float, float]:
    return round(float(place[1]), 3), round(float(place[0]), 3)


def _from_low_end(xy: FloatArray, run: Run) -> IntArray:
    line = run.order
    if run.closed:
        start = min(range(len(line)), key=lambda k: _low_first(xy[line[k]]))
        line = np.roll(line, -start)
        x, y = xy[line].T
        turns = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
        return line if turns > 0.0 else np.concatenate([line[:1], line[:0:-1]])
    rise, run_out = (xy[line[-1]] - xy[line[0]])[::-1].tolist()
    level = abs(rise) <= ON_LINE
    return line[::-1] if (run_out < 0.0 if level else rise < 0.0) else line


def numbered(xy: FloatArray, rows: Sequence[str]) -> tuple[IntArray, tuple[str, ...]]:
    """An order (n,) of all holes, row by row, and the number of each hole in that order."""
    held: dict[str, list[int]] = {}
    for i, row in enumerate(rows):
        held.setdefault(row, []).append(i)
    order: list[int] = []
    numbers: list[str] = []
    for name in sorted(held, key=lambda name: (name == "", name)):
        own = np.array(held[name])
        own = own[np.lexsort(np.round(xy[own], 3).T)]  # the same start, whatever the order of entities
        own = own[along_row(xy[own])] if name else own
        order += own.tolist()
        numbers += [f"{name} {i}".strip() for i in range(1, len(own) + 1)]
    return np.array(order, dtype=np.int64), tuple(numbers)
