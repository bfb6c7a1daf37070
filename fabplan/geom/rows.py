"""Rows of holes: found by their lines where no layer names them, and numbered along.

Numbers run along a row from the end that lies lower, and further left where both lie as low; a row that bends is
walked from hole to nearest hole from its lowest. Holes without a row are numbered by y, then x.
"""

from collections.abc import Sequence

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray

ON_LINE = 0.3  # mm off the line of a row, and still of it: rounding of drawn places
LEAST = 3  # holes that make a row
STRETCH = 3.5  # a gap of this many times the least pitch ends a row (a skipped hole or two does not)


def found_rows(xy: FloatArray) -> list[IntArray]:
    """Straight rows among holes (n, 2), longest first; each hole in one row at most; at least `LEAST` holes."""
    left = np.arange(len(xy))
    rows: list[IntArray] = []
    while len(left) >= LEAST:
        best = _longest(xy[left])
        if len(best) < LEAST:
            break
        rows.append(left[best])
        left = np.delete(left, best)
    return rows


def _longest(xy: FloatArray) -> IntArray:
    """Indices of the longest straight run: most holes, then the closest together."""
    apart = np.linalg.norm(xy[:, None] - xy[None], axis=2)
    np.fill_diagonal(apart, np.inf)
    best: tuple[tuple[float, ...], IntArray] = ((0.0,), np.zeros(0, dtype=np.int64))
    tried: set[tuple[int, ...]] = set()
    for one in range(len(xy)):
        for other in np.argsort(apart[one], kind="stable")[:4].tolist():
            along = (xy[other] - xy[one]) / apart[one, other]
            offset = (xy - xy[one]) @ np.array([-along[1], along[0]])
            near = np.nonzero(np.abs(offset) <= ON_LINE)[0]
            run = _unbroken(near, (xy[near] - xy[one]) @ along, one, float(apart[one, other]))
            key = tuple(sorted(run.tolist()))
            if key not in tried and len(run) >= LEAST:
                tried.add(key)
                size = (float(len(run)), -float(np.ptp((xy[run] - xy[one]) @ along)))
                best = max(best, (size, run), key=lambda entry: entry[0])
    return best[1]


def _unbroken(near: IntArray, along: FloatArray, one: int, pitch: float) -> IntArray:
    order = np.argsort(along, kind="stable")
    near, along = near[order], along[order]
    at = int(np.nonzero(near == one)[0][0])
    breaks = np.nonzero(np.diff(along) > STRETCH * pitch)[0]
    low = int(breaks[breaks < at].max(initial=-1)) + 1
    high = int(breaks[breaks >= at].min(initial=len(near) - 1)) + 1
    return near[low:high]


def along_row(xy: FloatArray) -> IntArray:
    """The order (n,) in which the holes of one row are numbered."""
    if len(xy) < 2:
        return np.arange(len(xy))
    spread = xy - xy.mean(axis=0)
    along = np.linalg.svd(spread, full_matrices=False)[2][0]
    across = np.abs(spread @ np.array([-along[1], along[0]]))
    order = np.argsort(spread @ along, kind="stable") if across.max() <= ON_LINE else _walked(xy)
    first, last = xy[order[0]], xy[order[-1]]
    if across.max() <= ON_LINE and (round(last[1], 3), round(last[0], 3)) < (round(first[1], 3), round(first[0], 3)):
        order = order[::-1]
    return order


def _walked(xy: FloatArray) -> IntArray:
    left = list(range(len(xy)))
    here = min(left, key=lambda i: (round(xy[i, 1], 3), round(xy[i, 0], 3)))
    order = [here]
    left.remove(here)
    while left:
        away = np.linalg.norm(xy[left] - xy[order[-1]], axis=1)
        order.append(left.pop(int(away.argmin())))
    return np.array(order)


def numbered(xy: FloatArray, rows: Sequence[str]) -> tuple[IntArray, tuple[str, ...]]:
    """An order (n,) of all holes, row by row, and the number of each hole in that order."""
    names = sorted(set(rows), key=lambda name: (name == "", name))
    order: list[int] = []
    numbers: list[str] = []
    for name in names:
        own = np.array([i for i, row in enumerate(rows) if row == name])
        own = own[along_row(xy[own]) if name else np.lexsort(np.round(xy[own], 3).T)]
        order += own.tolist()
        numbers += [f"{name} {i}".strip() for i in range(1, len(own) + 1)]
    return np.array(order, dtype=np.int64), tuple(numbers)
