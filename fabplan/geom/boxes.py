"""The smallest rectangle round points, turned as it may be. numpy only."""

import numpy as np

from fabplan.model.arrays import FloatArray


def least_box(points: FloatArray) -> tuple[float, float]:
    """Length and width, longer first, of the smallest rectangle (by area) round points (n, 2).

    One side of it lies on the convex hull (Freeman and Shapira, Communications of the ACM 18 (1975) 409).

    >>> least_box(np.array([[0.0, 0.0], [3.0, 3.0], [4.0, 2.0], [1.0, -1.0]]))
    (4.242640687119286, 1.4142135623730954)
    """
    hull = _hull(points)
    side = np.roll(hull, -1, axis=0) - hull
    length = np.hypot(*side.T)
    if len(hull) < 3:
        return float(length.max(initial=0.0)), 0.0
    along = side[length > 0.0] / length[length > 0.0][:, None]
    u, v = hull @ along.T, hull @ np.column_stack([-along[:, 1], along[:, 0]]).T
    wide, high = np.ptp(u, axis=0), np.ptp(v, axis=0)
    best = int(np.argmin(wide * high))
    return float(max(wide[best], high[best])), float(min(wide[best], high[best]))


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
