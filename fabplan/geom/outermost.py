"""Where rivets come out of a body, for sizes that a tape measures on it."""

import numpy as np

from fabplan.model.arrays import FloatArray


def outermost(faces: FloatArray, middle: FloatArray) -> FloatArray:
    """Of both ends of each axis in the metal, (n, 2, 3), the one (n, 3) that lies farther from a point (3,), mm."""
    away = np.linalg.norm(faces - middle, axis=2)
    found: FloatArray = faces[np.arange(len(faces)), (away[:, 1] >= away[:, 0]).astype(np.int64)]
    return found
