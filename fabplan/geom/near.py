"""Pairs of points that lie close together, and of boxes that meet. numpy only, so that a drawing check stays light."""

from collections.abc import Callable, Iterator

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

SWEPT = 100_000  # pairs compared at a time: 5 MB at most
STRIP = 20  # boxes that one strip holds where they are spread evenly
HEAPED = 1_000_000  # pairs of points that are told: of a heap that has more, the nearest
HALVINGS = 60

Meet = Callable[[IntArray], BoolArray]


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
    pairs = box_pairs(xy, xy + (limit + FIGURE), meet=lambda some: _apart(xy, some) <= limit)
    return pairs, _apart(xy, pairs)


def _apart(xy: FloatArray, pairs: IntArray) -> FloatArray:
    distance: FloatArray = np.linalg.norm(xy[pairs[:, 0]] - xy[pairs[:, 1]], axis=1)
    return distance


def nearest_pairs(xy: FloatArray, limit: float, most: int = HEAPED) -> tuple[IntArray, FloatArray]:
    """The same as `close_pairs`; of points so heaped that they have more than `most` pairs, those of a nearer limit.

    Of a heap on one spot, where no limit is near enough, each point is paired with the next one alone, and the first
    of them with what is beside the spot.

    >>> nearest_pairs(np.zeros((4, 2)), 5.0, 3)[0].tolist()
    [[0, 1], [1, 2], [2, 3]]
    """
    spot, reach = np.arange(len(xy)), limit
    for halving in range(HALVINGS):
        reach = limit / 2.0**halving
        pairs = box_pairs(xy[spot], xy[spot] + reach + FIGURE, most)
        if len(pairs) <= most:
            break
        if halving == 0:
            spot = np.sort(np.unique(xy, axis=0, return_index=True)[1])
    pairs = spot[pairs]
    if len(spot) < len(xy):
        pairs = np.vstack([pairs, _in_turn(xy)])
        pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]
    apart = _apart(xy, pairs)
    close = apart <= reach
    return pairs[close], apart[close]


def _in_turn(xy: FloatArray) -> IntArray:
    """Each point (n, 2) with the next one on the same spot, in pairs (m, 2)."""
    order = np.lexsort((np.arange(len(xy)), xy[:, 1], xy[:, 0]))
    one, other = order[:-1], order[1:]
    same = np.all(xy[one] == xy[other], axis=1)
    return np.column_stack([one[same], other[same]])


def gathered(xy: FloatArray, reach: float) -> tuple[IntArray, BoolArray]:
    """Points (n, 2) that hang together by steps of at most `reach`.

    Returns:
        for each point (n,) the first of those that it hangs together with; (n,) True where all of these plainly lie
        within reach of all others, so that they are one place whatever their order. Where points are heaped past
        counting, each stands for itself, and none is sure.

    >>> [column.tolist() for column in gathered(np.array([[0.0, 0.0], [5.0, 0.0], [0.1, 0.0], [5.0, 0.3]]), 0.2)]
    [[0, 1, 0, 3], [True, True, True, True]]
    """
    alike, same = np.unique(xy[:, 0] + 1j * xy[:, 1], return_inverse=True)
    own = np.column_stack([alike.real, alike.imag])
    pairs = box_pairs(own, own + reach * 1.001, HEAPED)
    if len(pairs) > HEAPED:
        return np.arange(len(xy)), np.zeros(len(xy), dtype=np.bool_)
    apart = _apart(own, pairs)
    pairs, apart = pairs[apart <= reach * 1.001], apart[apart <= reach * 1.001]
    heap = heaps(pairs, len(alike))
    size, met = np.bincount(heap, minlength=len(alike)), pairs[apart <= reach * 0.999]
    links = np.bincount(heap[met[:, 0]], minlength=len(alike))
    group = heap[same]
    first = np.full(len(alike), len(xy), dtype=np.int64)
    np.minimum.at(first, group, np.arange(len(xy)))
    return first[group], (2 * links == size * (size - 1))[group]


def heaps(pairs: IntArray, count: int) -> IntArray:
    """(n,) for each of so many the least number of those that hang together with it by pairs (m, 2)."""
    label = np.arange(count)
    while True:
        before = label.copy()
        least = np.minimum(label[pairs[:, 0]], label[pairs[:, 1]])
        np.minimum.at(label, pairs[:, 0], least)
        np.minimum.at(label, pairs[:, 1], least)
        label = label[label]
        if np.array_equal(before, label):
            return label


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


def box_pairs(low: FloatArray, high: FloatArray, most: int = 1 << 62, meet: Meet | None = None) -> IntArray:
    """Pairs of boxes that overlap or touch.

    The whole is cut into strips along its longer way, and the boxes of each strip are swept along it, so that only
    those that share a strip and a stretch of it are compared.

    Args:
        low: lower left corners, (n, 2), mm, all finite.
        high: upper right corners, (n, 2), mm, all finite.
        most: pairs after which no more are sought.
        meet: which (k,) of some pairs (k, 2), in no order, are wanted; without it all.

    Returns:
        pairs (m, 2) with pairs[:, 0] < pairs[:, 1], sorted.

    >>> low = np.array([[0.0, 0.0], [2.0, 0.0], [1.0, 1.0]])
    >>> box_pairs(low, low + 1.0).tolist()
    [[0, 2], [1, 2]]
    """
    if len(low) and np.ptp(low[:, 1]) > np.ptp(low[:, 0]):
        low, high = low[:, ::-1], high[:, ::-1]
    bottom, top = _strips(low[:, 1], high[:, 1])
    many = top - bottom + 1
    box = np.repeat(np.arange(len(low)), many)
    strip = bottom[box] + np.arange(len(box)) - np.repeat(np.cumsum(many) - many, many)
    # whole numbers in the order of all ends keep the sweep of one strip after the other exact
    _, rank = np.unique(np.concatenate([low[:, 0], high[:, 0]]), return_inverse=True)
    key, end = rank[box] + strip * len(rank), rank[len(low) + box] + strip * len(rank)
    order = np.argsort(key, kind="stable")
    box, strip, key, end = box[order], strip[order], key[order], end[order]
    last = np.searchsorted(key, end, side="right")
    found = [np.zeros((0, 2), dtype=np.int64)]
    for one, other in _swept(last):
        a, b = box[one], box[other]
        both = (low[a, 1] <= high[b, 1]) & (low[b, 1] <= high[a, 1])
        both &= strip[one] == np.maximum(bottom[a], bottom[b])  # of several common strips the first
        some = np.column_stack([a[both], b[both]])
        found.append(some if meet is None else some[meet(some)])
        most -= len(found[-1])
        if most < 0:
            break
    pairs = np.sort(np.vstack(found), axis=1)
    return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]


def _strips(low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray]:
    """The first and the last strip (n,), (n,) that each box lies in: few boxes a strip, few strips a box."""
    nothing = np.zeros(len(low), dtype=np.int64)
    count = len(low) // STRIP
    while count > 1:
        height = float(high.max() - low.min()) / count
        if not 0.0 < height < np.inf:
            break
        bottom, top = (np.floor((value - low.min()) / height).astype(np.int64) for value in (low, high))
        if int((top - bottom).sum()) <= len(low):
            return bottom, top
        count //= 2
    return nothing, nothing


def _swept(last: IntArray) -> Iterator[tuple[IntArray, IntArray]]:
    """Pairs of each number with those after it and before `last` (n,), some `SWEPT` at a time."""
    first = 0
    while first < len(last):
        beyond = np.cumsum(last[first:] - np.arange(first, len(last)) - 1)
        upto = first + max(1, int(np.searchsorted(beyond, SWEPT)))
        own = np.arange(first, min(upto, len(last)))
        count = np.maximum(last[own] - own - 1, 0)
        one = np.repeat(own, count)
        yield one, one + 1 + np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count)
        first = upto
