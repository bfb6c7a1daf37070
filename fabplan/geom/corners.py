"""The corners of a flat group of points, for sizes that a tape measures."""

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray

ROUND_ABOUT = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


def corners(xy: FloatArray, lean: FloatArray | None = None) -> IntArray:
    """Indices of the points (n, 2) farthest out towards each corner of their box, going round; fewer where some agree.

    Args:
        xy: points, mm.
        lean: (n,) mm by which a point counts as farther out: a height, for the corners of a foot or a top.

    >>> corners(np.array([[0.0, 0.0], [5.0, 0.0], [9.0, 0.0], [9.0, 4.0], [0.0, 4.0]])).tolist()
    [0, 2, 3, 4]
    """
    if not len(xy):
        return np.zeros(0, dtype=np.int64)
    out = (xy - (xy.min(axis=0) + xy.max(axis=0)) / 2.0) @ ROUND_ABOUT.T
    if lean is not None:
        out = out + lean[:, None]
    return np.array(list(dict.fromkeys(out.argmax(axis=0).tolist())), dtype=np.int64)
