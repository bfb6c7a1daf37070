"""Open lines of straight pieces: how far points lie from them, and whether a closed line meets them. numpy only."""

from itertools import pairwise

import numpy as np

from fabplan.geom.crossing import meeting
from fabplan.geom.inside import inside
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile


def line_distance(points: FloatArray, line: FloatArray) -> FloatArray:
    """(n,) distance of points (n, 2) from an open line (m, 2), mm.

    >>> line_distance(np.array([[0.0, 3.0], [14.0, 3.0]]), np.array([[0.0, 0.0], [10.0, 0.0]])).tolist()
    [3.0, 5.0]
    """
    best = np.full(len(points), np.inf)
    for start, end in pairwise(line):
        way = end - start
        share = np.clip((points - start) @ way / max(float(way @ way), 1e-300), 0.0, 1.0)
        # np.fmin would pass over a point that is no number
        best = np.minimum(best, np.hypot(*(points - start - share[:, None] * way).T))
    return best


def meets(profile: Profile, line: FloatArray) -> bool:
    """True where a closed line crosses or touches an open one (m, 2), or holds a part of it."""
    ring = flattened(profile, SAGITTA)
    following = np.roll(ring, -1, axis=0)
    for start, end in pairwise(line):
        many = (np.broadcast_to(start, ring.shape), np.broadcast_to(end, ring.shape))
        if meeting(ring, following, *many)[0].any():
            return True
    return bool(inside(profile, line).any())
