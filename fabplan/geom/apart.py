"""How far two prisms of metal lie apart."""

import numpy as np
import shapely

from fabplan.geom.pose import to_outer, to_own
from fabplan.geom.prism import Solid, clash
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

FAR = 1e-12  # mm2 under which a line counts as a point


def apart(one: Solid, two: Solid) -> float:
    """Least distance, mm, between two prisms in one frame; 0 where they touch or run into one another.

    It lies between a corner and a face or between two edges.
    """
    if clash(one, Pose(), two, Pose(), 0.0):
        return 0.0
    edges_one, edges_two = _edges(one), _edges(two)
    corners = min(float(_off(two, edges_one[:, 0]).min()), float(_off(one, edges_two[:, 0]).min()))
    near_one, near_two = _near(edges_one, edges_two, corners), _near(edges_two, edges_one, corners)
    if not len(near_one) or not len(near_two):
        return corners
    return min(corners, float(_between(near_one[:, None], near_two[None]).min()))


def _edges(metal: Solid) -> FloatArray:
    """(k, 2, 3) ends of all edges, in the frame around; every corner begins one."""
    found = []
    for ring in (metal.face.exterior, *metal.face.interiors):
        xy = np.asarray(ring.coords)[:-1]
        top, foot = (np.column_stack([xy, np.full(len(xy), z)]) for z in (0.0, -metal.thickness))
        for start, end in ((top, np.roll(top, -1, axis=0)), (foot, np.roll(foot, -1, axis=0)), (top, foot)):
            found.append(np.stack([start, end], axis=1))
    flat = np.concatenate(found)
    return to_outer(metal.frame, flat.reshape(-1, 3)).reshape(-1, 2, 3)


def _off(metal: Solid, points: FloatArray) -> FloatArray:
    """(n,) mm from points (n, 3) to a prism."""
    own = to_own(metal.frame, points)
    flat = shapely.distance(metal.face, shapely.points(own[:, :2]))
    over = np.maximum(np.maximum(own[:, 2], -metal.thickness - own[:, 2]), 0.0)
    away: FloatArray = np.hypot(flat, over)
    return away


def _near(edges: FloatArray, others: FloatArray, reach: float) -> FloatArray:
    """The edges whose boxes come within `reach` of the box round all others."""
    low, high = others.min(axis=(0, 1)) - reach, others.max(axis=(0, 1)) + reach
    met = np.all(edges.min(axis=1) <= high, axis=1) & np.all(edges.max(axis=1) >= low, axis=1)
    near: FloatArray = edges[met]
    return near


def _between(one: FloatArray, two: FloatArray) -> FloatArray:
    """(n, m) mm between lines (n, 1, 2, 3) and (1, m, 2, 3), ends included.

    Source: Ericson, Real-Time Collision Detection, 5.1.9.
    """
    way_one, way_two = one[..., 1, :] - one[..., 0, :], two[..., 1, :] - two[..., 0, :]
    start = one[..., 0, :] - two[..., 0, :]
    a, e = np.sum(way_one**2, axis=-1), np.sum(way_two**2, axis=-1)
    b, c, f = (np.sum(x * y, axis=-1) for x, y in ((way_one, way_two), (way_one, start), (way_two, start)))
    skew = a * e - b * b
    s = np.clip(np.where(skew > FAR * a * e, (b * f - c * e) / np.where(skew > 0.0, skew, 1.0), 0.0), 0.0, 1.0)
    t = (b * s + f) / np.maximum(e, FAR)
    s = np.where(t < 0.0, np.clip(-c / np.maximum(a, FAR), 0.0, 1.0), s)
    s = np.where(t > 1.0, np.clip((b - c) / np.maximum(a, FAR), 0.0, 1.0), s)
    t = np.clip(t, 0.0, 1.0)
    off = start + s[..., None] * way_one - t[..., None] * way_two
    away: FloatArray = np.linalg.norm(off, axis=-1)
    return away
