"""Points of a plane laid over others by a turn and a shift alone: never stretched, never mirrored."""

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray

ROUNDS = 50  # of weighing anew, at most

BEYOND, APART = 2.0, 3.0
"""How many times its accuracy, and how many times the median of all, a point must be off to be looked at (assumed)."""

KEPT, LEAST = 2.0 / 3.0, 3
"""Share and number of points that must be left, for the others to stand out from them."""

CHANCE = 1e-3
"""That any of the points strays so far, if all of them strayed alike, for it to stand out (assumed)."""


def laid_over(own: FloatArray, fixed: FloatArray, weight: FloatArray | None = None) -> FloatArray:
    """Points `own` (n, 2) where they lie nearest to `fixed` (n, 2), least squares by `weight` (n,); n at least 2.

    Source: Kabsch's fit in the plane, where the best turn is the angle of the sum of products.

    >>> np.round(laid_over(np.array([[0.0, 0.0], [0.0, 2.0]]), np.array([[5.0, 5.0], [8.0, 5.0]])), 6).tolist()
    [[5.5, 5.0], [7.5, 5.0]]
    """
    share = np.ones(len(own)) if weight is None else weight
    middle = np.average(fixed, axis=0, weights=share)
    a, b = own - np.average(own, axis=0, weights=share), fixed - middle
    angle = np.arctan2(share @ (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(share @ (a * b)))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    laid: FloatArray = a @ turn.T + middle
    return laid


def standing_out(own: FloatArray, fixed: FloatArray, within: FloatArray) -> BoolArray:
    """(n,) True for points that no turn and shift lays where most of the others say: misread, not strayed as they did.

    The fit by which they are found weighs each point the less the farther it is off; without them least squares holds.
    Those that it shows are proved on the least squares of the rest.
    Source: soft L1 loss by least squares weighed anew (Charbonnier and others, 1997).

    Args:
        own: (n, 2) points.
        fixed: (n, 2) where they should lie.
        within: (n,) how far each may be off.
    """
    weight = within**-2.0
    off = np.zeros(len(own))
    for _ in range(ROUNDS):
        far = _off(own, fixed, within, weight / np.sqrt(1.0 + off**2))
        still, off = np.allclose(off, far, rtol=0.0, atol=1e-6), far
        if still:
            break
    out: BoolArray = ~(off <= max(BEYOND, APART * float(np.median(off))) + FIGURE)
    while out.any():
        if np.sum(~out) < max(LEAST, KEPT * len(own)):
            return np.zeros(len(own), dtype=np.bool_)
        off = _off(own, fixed, within, np.where(out, 0.0, weight))
        found = out & ~(off <= max(BEYOND, _likely(off[~out], len(own))) + FIGURE)
        if np.array_equal(out, found):
            break
        out = found
    return out


def _likely(off: FloatArray, count: int) -> float:
    """How far one of `count` points may be off that strays as those (m,) by which the others were laid.

    Two squares against 2 m - 3 free ones: the F distribution, in closed form for two.
    """
    free = 2 * len(off) - 3
    return float(np.sqrt(((CHANCE / count) ** (-2.0 / free) - 1.0) * np.sum(off**2)))


def _off(own: FloatArray, fixed: FloatArray, within: FloatArray, weight: FloatArray) -> FloatArray:
    """(n,) how many times its accuracy each point is off."""
    away: FloatArray = np.linalg.norm(laid_over(own, fixed, weight) - fixed, axis=1) / within
    return away
