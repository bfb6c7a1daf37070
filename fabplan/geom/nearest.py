"""The nearest of many places."""

import numpy as np
from scipy.spatial import cKDTree

from fabplan.model.arrays import FloatArray, IntArray


def nearest_places(places: FloatArray, points: FloatArray, count: int, reach: float) -> tuple[IntArray, IntArray]:
    """Pairs (point index, place index) of up to `count` places nearest to each point and within `reach` mm."""
    if len(places) == 0 or len(points) == 0:
        none = np.zeros(0, dtype=np.int64)
        return none, none
    distance, index = cKDTree(places).query(points, k=min(count, len(places)), distance_upper_bound=reach)
    distance, index = np.atleast_2d(np.asarray(distance)), np.atleast_2d(np.asarray(index))
    if distance.shape[0] != len(points):
        distance, index = distance.T, index.T
    point, rank = np.nonzero(np.isfinite(distance))
    return point.astype(np.int64), index[point, rank].astype(np.int64)
