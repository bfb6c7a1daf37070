"""Which holes in space lie on one another."""

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

PARALLEL = 0.9998  # cosine of 1.1 degrees: axes further apart than that take no common rivet


def touching_groups(
    faces: FloatArray, normal: FloatArray, eligible: BoolArray, capture: float, touch: FloatArray
) -> IntArray:
    """Group numbers (n,) of holes that lie on one another, -1 for a hole that lies on none.

    Two holes lie on one another when a face of one looks at a face of the other, at most `touch` mm apart along the
    axis and `capture` mm across it.

    Args:
        faces: (n, 2, 3) centres on the marked and the back face, mm.
        normal: (n, 3) outward from the marked face.
        eligible: (n,) False for holes that take no rivet.
        capture: mm across the axis.
        touch: (n,) mm along the axis; of two holes the larger holds.
    """
    count = len(faces)
    points = faces.reshape(-1, 3)
    outward = np.stack([normal, -normal], axis=1).reshape(-1, 3)
    pairs = _close(points, float(np.hypot(capture, touch.max(initial=0.0))))
    one, other = pairs[:, 0], pairs[:, 1]
    apart = points[other] - points[one]
    along = np.einsum("kx,kx->k", apart, outward[one])
    across = np.linalg.norm(apart - along[:, None] * outward[one], axis=1)
    facing = np.einsum("kx,kx->k", outward[one], outward[other]) < -PARALLEL
    allowed = np.maximum(touch[one // 2], touch[other // 2])
    good = facing & (np.abs(along) <= allowed) & (across <= capture) & (one // 2 != other // 2)
    good &= eligible[one // 2] & eligible[other // 2]
    one, other = one[good] // 2, other[good] // 2
    graph = coo_array((np.ones(len(one)), (one, other)), shape=(count, count))
    _, label = connected_components(graph, directed=False)
    size = np.bincount(label, minlength=1)
    several = size[label] > 1 if count else np.zeros(0, dtype=np.bool_)
    group = np.full(count, -1, dtype=np.int64)
    group[several] = np.unique(label[several], return_inverse=True)[1]
    return group


def least_radius(points: FloatArray, axis: FloatArray) -> float:
    """Radius of the least circle, seen along an axis (3,), that holds all of some points (n, 3), mm."""
    across = np.linalg.svd(axis[None])[2][1:]
    return float(shapely.minimum_bounding_radius(shapely.multipoints(points @ across.T)))


def _close(points: FloatArray, reach: float) -> IntArray:
    if len(points) == 0:
        return np.zeros((0, 2), dtype=np.int64)
    pairs: IntArray = cKDTree(points).query_pairs(reach, output_type="ndarray").astype(np.int64)
    return pairs
