"""Rectangles round points, turned as they may be. numpy only."""

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray, IntArray

ANGLES = 720
"""Directions tried beside those of the sides, a quarter of a degree apart."""

MOST = 2000
"""Sides of a hull that are looked at, the longest: one of more is all but smooth."""

FEW = 100  # points of which none is left out beforehand
BLOCK = 2_000_000  # entries of one table: 16 MB of doubles


def side_boxes(points: FloatArray) -> FloatArray:
    """Length and width, longer first, (k, 2), of the rectangles on each side of the convex hull of points (n, 2).

    The smallest rectangle by area is among them (Freeman and Shapira, Communications of the ACM 18 (1975) 409).

    >>> side_boxes(np.array([[0.0, 0.0], [3.0, 3.0], [4.0, 2.0], [1.0, -1.0]])).prod(axis=1).min().round(9)
    np.float64(6.0)
    """
    hull = _hull(points)
    side = np.roll(hull, -1, axis=0) - hull
    length = np.hypot(*side.T)
    if len(hull) < 3:
        return np.array([[length.max(initial=0.0), 0.0]])
    along = side[length > 0.0] / length[length > 0.0][:, None]
    return _sizes(hull, along[_longest(length[length > 0.0])])


def turned_boxes(points: FloatArray) -> FloatArray:
    """Length and width, longer first, (k, 2), of boxes round points (n, 2) in many directions.

    Tried are the directions of the hull's sides, the `MOST` longest, and `ANGLES` beside.

    >>> turned_boxes(np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 10.0], [0.0, 10.0]]))[0].tolist()
    [30.0, 10.0]
    """
    hull = _hull(points)
    side = np.roll(hull, -1, axis=0) - hull
    side = side[_longest(np.hypot(*side.T))]
    turn = np.concatenate([np.arctan2(side[:, 1], side[:, 0]), np.arange(ANGLES) * np.pi / ANGLES])
    return _sizes(hull, np.column_stack([np.cos(turn), np.sin(turn)]))


def _longest(length: FloatArray) -> IntArray:
    """Numbers of the `MOST` longest sides, in their order."""
    return np.sort(np.argsort(-length, kind="stable")[:MOST])


def _sizes(points: FloatArray, along: FloatArray) -> FloatArray:
    """Length and width, longer first, (k, 2), of points (n, 2) along unit vectors (k, 2) and across them."""
    step, sizes = max(1, BLOCK // len(points)), [np.zeros((0, 2))]
    for low in range(0, len(along), step):
        some = along[low : low + step]
        u, v = points @ some.T, points @ np.column_stack([-some[:, 1], some[:, 0]]).T
        sizes.append(np.column_stack([np.ptp(u, axis=0), np.ptp(v, axis=0)]))
    return np.sort(np.vstack(sizes), axis=1)[:, ::-1]


def least_over(points: FloatArray, room: tuple[float, float]) -> tuple[float, float]:
    """Length and width, longer first, mm, of the box round points (n, 2) that stands out of a rectangle least.

    The piece may be turned as it likes.

    Args:
        points: corners of the piece, mm.
        room: length and width of the rectangle, mm, in any order.

    >>> least_over(np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 10.0], [0.0, 10.0]]), (10.0, 40.0))
    (30.0, 10.0)
    """
    sizes = turned_boxes(points)
    best = int(np.argmin((sizes - np.sort(np.array(room))[::-1]).max(axis=1)))
    return float(sizes[best, 0]), float(sizes[best, 1])


def _hull(points: FloatArray) -> FloatArray:
    """Convex hull, counter-clockwise (Andrew's monotone chain)."""
    ordered = [tuple(p) for p in np.unique(_outside(points), axis=0).tolist()]
    if len(ordered) < 3:
        return np.array(ordered, dtype=np.float64).reshape(-1, 2)

    def half(run: list[tuple[float, ...]]) -> list[tuple[float, ...]]:
        chain: list[tuple[float, ...]] = []
        for p in run:
            while len(chain) > 1 and _turn(chain[-2], chain[-1], p) <= 0.0:
                chain.pop()
            chain.append(p)
        return chain

    return np.array(half(ordered)[:-1] + half(ordered[::-1])[:-1])


def _outside(points: FloatArray) -> FloatArray:
    """The points (k, 2) of (n, 2) that may be corners of the hull.

    Those inside the polygon of the points that reach furthest in eight directions are none (Akl and Toussaint,
    Information Processing Letters 7 (1978) 219).
    """
    if len(points) < FEW:
        return points
    turn = np.arange(8) * np.pi / 4.0
    furthest = np.argmax(points @ np.stack([np.cos(turn), np.sin(turn)]), axis=0)
    corners = points[furthest[furthest != np.roll(furthest, 1)]]
    if len(corners) < 3:
        return points
    slack = FIGURE * float(np.abs(points).max())
    inner = np.ones(len(points), dtype=np.bool_)
    for (x, y), (u, v) in zip(corners.tolist(), np.roll(corners, -1, axis=0).tolist(), strict=True):
        size = max(np.hypot(u - x, v - y), 1e-300)
        inner &= ((u - x) * (points[:, 1] - y) - (v - y) * (points[:, 0] - x)) / size > slack
    return points[~inner]


def _turn(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
