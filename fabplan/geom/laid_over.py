"""Points of a plane laid over others by a turn and a shift alone: never stretched, never mirrored."""

import numpy as np

from fabplan.model.arrays import FloatArray


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
