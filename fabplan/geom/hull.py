"""The outside of a body: its convex hull."""

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from fabplan.model.arrays import BoolArray, FloatArray

MERGED = 0.5
"""Facets of a hull that lie within so many mm of one plane are taken as one: a rounded edge has hundreds."""


def hull_planes(points: FloatArray) -> FloatArray:
    """Planes (k, 4) round points (n, 3): outward normal and offset, n . x + d <= 0 inside.

    Every point lies inside, and every plane touches one: the hull is too large by a few `MERGED` at most. Points in one
    plane have no hull: the planes are then those of the box round them.
    """
    normals = np.vstack([np.eye(3), -np.eye(3)])
    try:
        facets = ConvexHull(points, qhull_options=f"Qt C-{MERGED}").equations[:, :3]
        normals = np.unique(np.round(np.vstack([normals, facets]), 6), axis=0)
    except QhullError:
        pass
    return np.column_stack([normals, -(points @ normals.T).max(axis=0)])


def outside(planes: FloatArray, points: FloatArray) -> BoolArray:
    """(n,) True for points outside a hull."""
    beyond: BoolArray = np.any(points @ planes[:, :3].T + planes[:, 3] > 1e-6, axis=1)
    return beyond


def depth(planes: FloatArray, points: FloatArray) -> FloatArray:
    """(n,) how deep points (n, 3) lie in a hull, mm; negative outside."""
    deep: FloatArray = -(points @ planes[:, :3].T + planes[:, 3]).max(axis=1)
    return deep
