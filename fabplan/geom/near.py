"""Pairs of points that lie close together, and of boxes that meet. numpy only, so that a drawing check stays light."""

import numpy as np

from fabplan.geom.tolerance import FIGURE
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
    if limit <= 0.0:
        return np.zeros((0, 2), dtype=np.int64), np.zeros(0)
    pairs = box_pairs(xy, xy + (limit + FIGURE))
    apart = np.linalg.norm(xy[pairs[:, 0]] - xy[pairs[:, 1]], axis=1)
    close = apart <= limit
    return pairs[close], apart[close]


def median(values: FloatArray) -> float:
    """The middle of values (n,), n > 0; NaN where one of them is NaN.

    numpy's own loads its masked arrays for the answer, a fiftieth of a short check.

    >>> median(np.array([3.0, 1.0, 10.0, 2.0]))
    2.5
    """
    ordered = np.sort(values)
    if np.isnan(ordered[-1]):
        return float("nan")
    return float(ordered[(len(ordered) - 1) // 2] + ordered[len(ordered) // 2]) / 2.0


def box_pairs(low: FloatArray, high: FloatArray) -> IntArray:
    """Pairs of boxes that overlap or touch.

    The boxes are swept along the longer way of the whole, so that only those that share a stretch of it are compared.

    Args:
        low: lower left corners, (n, 2), mm, all finite.
        high: upper right corners, (n, 2), mm, all finite.

    Returns:
        pairs (m, 2) with pairs[:, 0] < pairs[:, 1], sorted.

    >>> low = np.array([[0.0, 0.0], [2.0, 0.0], [1.0, 1.0]])
    >>> box_pairs(low, low + 1.0).tolist()
    [[0, 2], [1, 2]]
    """
    if len(low) and np.ptp(low[:, 1]) > np.ptp(low[:, 0]):
        low, high = low[:, ::-1], high[:, ::-1]
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
