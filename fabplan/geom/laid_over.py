"""Points of a plane laid over others by a turn and a shift alone: never stretched, never mirrored."""

import numpy as np

from fabplan.model.arrays import FloatArray


def laid_over(own: FloatArray, fixed: FloatArray) -> FloatArray:
    """Points `own` (n, 2) where they lie nearest to `fixed` (n, 2), least squares; n at least 2.

    Source: Kabsch's fit in the plane, where the best turn is the angle of the sum of products.

    >>> np.round(laid_over(np.array([[0.0, 0.0], [0.0, 2.0]]), np.array([[5.0, 5.0], [8.0, 5.0]])), 6).tolist()
    [[5.5, 5.0], [7.5, 5.0]]
    """
    a, b = own - own.mean(axis=0), fixed - fixed.mean(axis=0)
    angle = np.arctan2(np.sum(a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]), np.sum(a * b))
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    laid: FloatArray = a @ turn.T + fixed.mean(axis=0)
    return laid
