"""Laying one pattern of holes over another in the plane: every turn and shift that brings most of them together."""

import numpy as np
from scipy.spatial import cKDTree

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

Lie = tuple[FloatArray, FloatArray, int]

BASES = 3  # base pairs tried, so that a few missing or strayed holes cannot hide the true lie


def lay_over(moving: FloatArray, fixed: FloatArray, reach: float, least: float) -> list[Lie]:
    """Turn (2, 2), shift (2,) and count of holes together, of each way to lay `moving` (n, 2) on `fixed` (m, 2).

    The one that brings most holes together comes first.

    A lie is kept when at least `least` of the larger count come together within `reach` mm; lies that move every hole
    by less than `reach` from a better one are dropped. No mirror is tried. Patterns of one hole have no turn: none.

    >>> row = np.array([[0.0, 0.0], [40.0, 0.0], [80.0, 0.0]])
    >>> [(shift.round(6).tolist(), count) for _, shift, count in lay_over(row, row + 5.0, 1.0, 0.9)]
    [([5.0, 5.0], 3), ([85.0, 5.0], 3)]
    """
    if min(len(moving), len(fixed)) < 2:
        return []
    if len(moving) > len(fixed):  # pairs far apart in the larger pattern have no like in the smaller
        return [(turn.T, -turn.T @ shift, count) for turn, shift, count in lay_over(fixed, moving, reach, least)]
    tree = cKDTree(fixed)
    lies: list[Lie] = []
    for first, second in _base_pairs(moving):
        length = float(np.hypot(*(moving[second] - moving[first])))
        for one, other in _like_pairs(fixed, length, 2.0 * reach):  # each end may be out by `reach`
            turn, shift = _through(moving[[first, second]], fixed[[one, other]])
            turn, shift, together = _settled(moving, fixed, tree, (turn, shift), reach)
            if together >= least * max(len(moving), len(fixed)) and together >= 2:
                lies.append((turn, shift, together))
    kept: list[Lie] = []
    for turn, shift, together in sorted(lies, key=lambda lie: -lie[2]):
        placed = moving @ turn.T + shift
        if all(np.abs(placed - (moving @ t.T + s)).max() > reach for t, s, _ in kept):
            kept.append((turn, shift, together))
    return kept


def lay_middles(moving: FloatArray, fixed: FloatArray) -> list[Lie]:
    """Both ways to lay one row of holes (n, 2) along another (m, 2), middle of its extent on middle; none counted.

    >>> row = np.array([[0.0, 0.0], [40.0, 0.0], [80.0, 0.0]])
    >>> [np.round(row @ turn.T + shift, 6)[:, 0].tolist() for turn, shift, _ in lay_middles(row, row[:2])]
    [[-20.0, 20.0, 60.0], [60.0, 20.0, -20.0]]
    """
    (own, ahead), (there, along) = _run(moving), _run(fixed)
    lies: list[Lie] = []
    for way in (along, -along):
        cosine, sine = float(ahead @ way), float(ahead[0] * way[1] - ahead[1] * way[0])
        turn = np.array([[cosine, -sine], [sine, cosine]])
        lies.append((turn, there - turn @ own, 0))
    return lies


def _run(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Middle (2,) of the extent of a row along itself, and the way (2,) in which it runs."""
    mean = points.mean(axis=0)
    way = np.linalg.svd(points - mean, full_matrices=False)[2][0]
    way = way * (1.0 if way[np.abs(way).argmax()] > 0.0 else -1.0)  # the same for any build of the linear algebra
    reach = (points - mean) @ way
    return mean + (reach.min() + reach.max()) / 2.0 * way, way


def mates(points: FloatArray, others: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
    """Indices of points (n, d) and others (m, d) that are nearest to one another and at most `reach` apart."""
    if len(points) == 0 or len(others) == 0:
        none = np.zeros(0, dtype=np.int64)
        return none, none
    distance = np.linalg.norm(points[:, None, :] - others[None, :, :], axis=2)
    nearest, back = distance.argmin(axis=1), distance.argmin(axis=0)
    own = np.arange(len(points))
    mutual: BoolArray = (back[nearest] == own) & (distance[own, nearest] <= reach)
    return own[mutual], nearest[mutual].astype(np.int64)


def _base_pairs(points: FloatArray) -> list[tuple[int, int]]:
    """The pairs of points that lie farthest apart, at most `BASES`, each with points that no earlier pair used."""
    distance = np.linalg.norm(points[:, None, :] - points[None, :, :], axis=2)
    pairs: list[tuple[int, int]] = []
    for _ in range(min(BASES, len(points) // 2)):
        first, second = np.unravel_index(int(distance.argmax()), distance.shape)
        if distance[first, second] <= 0.0:
            break
        pairs.append((int(first), int(second)))
        distance[[first, second], :] = -1.0
        distance[:, [first, second]] = -1.0
    return pairs


def _like_pairs(points: FloatArray, length: float, reach: float) -> list[tuple[int, int]]:
    """Ordered pairs of points as far apart as `length`, within `reach` mm."""
    distance = np.linalg.norm(points[:, None, :] - points[None, :, :], axis=2)
    one, other = np.nonzero(np.abs(distance - length) <= reach)
    return [(int(a), int(b)) for a, b in zip(one, other, strict=True) if a != b]


def _through(own: FloatArray, target: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Turn and shift that carry a pair of points onto another pair, middle onto middle."""
    here, there = own[1] - own[0], target[1] - target[0]
    angle = np.arctan2(there[1], there[0]) - np.arctan2(here[1], here[0])
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return turn, target.mean(axis=0) - turn @ own.mean(axis=0)


def _settled(
    moving: FloatArray, fixed: FloatArray, tree: "cKDTree", lie: tuple[FloatArray, FloatArray], reach: float
) -> tuple[FloatArray, FloatArray, int]:
    """The lie settled by robust least squares on its own mates, and how many holes come together."""
    turn, shift = lie
    for _ in range(3):
        distance, mate = _nearest(tree, moving @ turn.T + shift)
        near = distance <= reach
        if near.sum() < 2:
            break
        weight = 1.0 / (1.0 + (distance[near] / 0.2) ** 2)  # 0.2 mm: a strayed hole must not drag the others
        turn, shift = _fit_plane(moving[near], fixed[mate[near]], weight)
    distance, mate = _nearest(tree, moving @ turn.T + shift)
    return turn, shift, len(np.unique(mate[distance <= reach]))


def _nearest(tree: "cKDTree", points: FloatArray) -> tuple[FloatArray, IntArray]:
    """Distance (n,) to the nearest point of the tree, and its index (n,)."""
    distance, index = tree.query(points)
    return np.asarray(distance, dtype=np.float64), np.asarray(index, dtype=np.int64)


def _fit_plane(own: FloatArray, target: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Best turn and shift of points in the plane, weighted least squares, no mirror."""
    w = weight / weight.sum()
    here, there = own - w @ own, target - w @ target
    dot = float(np.sum(w * np.sum(here * there, axis=1)))
    cross = float(np.sum(w * (here[:, 0] * there[:, 1] - here[:, 1] * there[:, 0])))
    angle = np.arctan2(cross, dot)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return turn, w @ target - turn @ (w @ own)


def near(fixed: FloatArray, points: FloatArray, reach: float) -> tuple[IntArray, IntArray]:
    """Pairs of points (n, k) and fixed ones (m, k), m > 0, at most `reach` apart, as two arrays (p,) of indices."""
    tree, count, least = cKDTree(fixed), 1, np.nextafter(reach, np.inf)
    while True:
        count = min(2 * count, len(fixed))
        apart, index = map(np.asarray, tree.query(points, k=np.arange(1, count + 1), distance_upper_bound=least))
        found = np.isfinite(apart)
        if count == len(fixed) or not found[:, -1].any():
            return np.nonzero(found)[0], index[found]
