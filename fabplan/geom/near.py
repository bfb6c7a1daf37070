"""Pairs of points that lie close together, and of boxes that meet. numpy only, so that a drawing check stays light."""

from collections import defaultdict

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray

SWEPT = 2_000_000  # pairs compared at a time: 100 MB at most


def close_pairs(xy: FloatArray, limit: float) -> tuple[IntArray, FloatArray]:
    """Pairs of points at most `limit` apart.

    Args:
        xy: points, (n, 2), mm, all finite.
        limit: largest distance, mm; a pair exactly at the limit is returned.

    Returns:
        pairs (m, 2) with pairs[:, 0] < pairs[:, 1], sorted; their distances (m,), mm.

    Raises:
        ValueError: a row of xy is not finite; the message gives the row.

    >>> close_pairs(np.array([[0.0, 0.0], [3.0, 4.0], [9.0, 0.0]]), 5.0)[0].tolist()
    [[0, 1]]
    """
    bad = np.nonzero(~np.isfinite(xy).all(axis=1))[0]
    if len(bad):
        raise ValueError(f"point {bad[0]} is not finite")
    if len(xy) < 2 or limit <= 0.0:
        return np.zeros((0, 2), dtype=np.int64), np.zeros(0)
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    for i, (x, y) in enumerate(np.floor(xy / limit).astype(np.int64).tolist()):
        cells[x, y].append(i)
    found: list[FloatArray] = []
    for (x, y), own in cells.items():
        block = np.array([i for dx in (-1, 0, 1) for dy in (-1, 0, 1) for i in cells.get((x + dx, y + dy), ())])
        here = np.array(own)
        apart = np.linalg.norm(xy[here][:, None] - xy[block][None], axis=2)
        one, other = np.nonzero((apart <= limit) & (here[:, None] < block[None]))
        found.append(np.column_stack([here[one], block[other], apart[one, other]]))
    table = np.vstack(found)
    table = table[np.lexsort((table[:, 1], table[:, 0]))]
    return table[:, :2].astype(np.int64), table[:, 2]


def box_pairs(low: FloatArray, high: FloatArray) -> IntArray:
    """Pairs of boxes that overlap or touch.

    The boxes are swept from left to right, so that only those that share a stretch of x are compared.

    Args:
        low: lower left corners, (n, 2), mm, all finite.
        high: upper right corners, (n, 2), mm, all finite.

    Returns:
        pairs (m, 2) with pairs[:, 0] < pairs[:, 1], sorted.

    >>> low = np.array([[0.0, 0.0], [2.0, 0.0], [1.0, 1.0]])
    >>> box_pairs(low, low + 1.0).tolist()
    [[0, 2], [1, 2]]
    """
    order = np.argsort(low[:, 0], kind="stable")
    low, high = low[order], high[order]
    last = np.searchsorted(low[:, 0], high[:, 0], side="right")
    found = [np.zeros((0, 2), dtype=np.int64)]
    first = 0
    while first < len(low):
        beyond = np.cumsum(last[first:] - np.arange(first, len(low)) - 1)
        upto = first + max(1, int(np.searchsorted(beyond, SWEPT)))
        own = np.arange(first, min(upto, len(low)))
        count = np.maximum(last[own] - own - 1, 0)
        one = np.repeat(own, count)
        other = one + 1 + np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count)
        meet = (low[one, 1] <= high[other, 1]) & (low[other, 1] <= high[one, 1])
        found.append(np.column_stack([order[one[meet]], order[other[meet]]]))
        first = upto
    pairs = np.sort(np.vstack(found), axis=1)
    return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
