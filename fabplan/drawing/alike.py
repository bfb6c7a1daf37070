"""Which of many things on one spot repeat another: taken in turn, the first of its kind stays. Each meets few."""

import itertools
from collections import defaultdict
from collections.abc import Callable

import numpy as np

from fabplan.geom.near import box_pairs
from fabplan.model.arrays import FloatArray, IntArray

MANY = 20  # pairs of near things to each thing, past which they are a heap
SIDE = 16.0  # of a cell in which things are looked up, times the reach: most lie in one cell


def firsts(rows: FloatArray, reach: float, alike: Callable[[int, int], bool]) -> list[int]:
    """For each thing the first that is kept and that it is like; its own number where there is none.

    Args:
        rows: (n, 4) figures, mm: those of things that are alike differ by no more than `reach` each.
        reach: mm.
        alike: whether two things, by number, are.

    >>> firsts(np.array([[0.0, 0, 0, 0], [9.0, 0, 0, 0], [0.1, 0, 0, 0]]), 0.2, lambda one, other: True)
    [0, 1, 0]
    """
    found = list(range(len(rows)))
    doubtful = _crowded(rows, reach)
    cells: dict[tuple[int, ...], list[int]] = defaultdict(list)
    scaled = rows[doubtful] / (SIDE * reach)
    own, low, high = (np.floor(scaled + off).astype(np.int64).tolist() for off in (0.0, -1.001 / SIDE, 1.001 / SIDE))
    for place, number in enumerate(doubtful.tolist()):
        near = itertools.product(*({a, b} for a, b in zip(low[place], high[place], strict=True)))
        every = (known for cell in near for known in cells.get(cell, ()))
        found[number] = min((known for known in every if alike(known, number)), default=number)
        if found[number] == number:
            cells[tuple(own[place])].append(number)
    return found


def _crowded(rows: FloatArray, reach: float) -> IntArray:
    """Numbers of things that have others near by their first two figures; of a heap all."""
    half = reach / 2.0 * 1.001
    pairs = box_pairs(rows[:, :2] - half, rows[:, :2] + half, MANY * len(rows))
    return np.unique(pairs) if len(pairs) <= MANY * len(rows) else np.arange(len(rows))
