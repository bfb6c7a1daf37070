"""Rectangles round points, turned as they may be. numpy only."""

import numpy as np

from fabplan.model.arrays import FloatArray

ANGLES = 720
"""Directions tried beside those of the sides, a quarter of a degree apart."""

MOST = 2000
"""Corners of a hull that are looked at."""


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
    u, v = hull @ along.T, hull @ np.column_stack([-along[:, 1], along[:, 0]]).T
    sizes = np.column_stack([np.ptp(u, axis=0), np.ptp(v, axis=0)])
    return np.sort(sizes, axis=1)[:, ::-1]


def turned_boxes(points: FloatArray) -> FloatArray:
    """Length and width, longer first, (k, 2), of boxes round points (n, 2) in many directions.

    Tried are the directions of the hull's sides and `ANGLES` beside; of a hull of more than `MOST` corners, which is
    all but smooth, only so many are looked at.

    >>> turned_boxes(np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 10.0], [0.0, 10.0]]))[0].tolist()
    [30.0, 10.0]
    """
    hull = _hull(points)
    hull = hull[:: -(-len(hull) // MOST)]
    side = np.roll(hull, -1, axis=0) - hull
    turn = np.concatenate([np.arctan2(side[:, 1], side[:, 0]), np.arange(ANGLES) * np.pi / ANGLES])
    along, across = hull @ np.stack([np.cos(turn), np.sin(turn)]), hull @ np.stack([-np.sin(turn), np.cos(turn)])
    return np.sort(np.column_stack([np.ptp(along, axis=0), np.ptp(across, axis=0)]), axis=1)[:, ::-1]


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
    ordered = [tuple(p) for p in np.unique(points, axis=0).tolist()]
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


def _turn(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
