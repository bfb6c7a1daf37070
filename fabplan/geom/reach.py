"""Lines against panels: a segment in space, a prism, do they meet? Whole arrays at a time."""

import numpy as np
import shapely

from fabplan.geom.pose import to_own
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

SKIN = 1e-6  # mm, so that a line along a face is clear of the metal


def boxes_near(solid: Solid, low: FloatArray, high: FloatArray) -> IntArray:
    """Which boxes meet the box round a panel: their indices (k,). All else need not be looked at.

    Args:
        solid: the panel, in the body frame.
        low: (3, n) least corners in the body frame, mm.
        high: (3, n) greatest corners.
    """
    least, most = solid.corners.min(axis=0).tolist(), solid.corners.max(axis=0).tolist()
    near = (low[0] <= most[0]) & (high[0] >= least[0])
    for k in (1, 2):
        near &= (low[k] <= most[k]) & (high[k] >= least[k])
    return np.nonzero(near)[0]


def lines_hit(solid: Solid, start: FloatArray, end: FloatArray) -> BoolArray:
    """(n,) True for segments that pass through the metal of a panel, be it through its edge; along a face is clear.

    The part of a segment that lies between the two faces, seen square to the plate, is a short line, and meets the
    metal where that line meets the plate's face.

    Args:
        solid: the panel, in the body frame.
        start: (n, 3) mm.
        end: (n, 3) mm.
    """
    hit = np.zeros(len(start), dtype=np.bool_)
    own = to_own(solid.frame, start)
    way = to_own(solid.frame, end) - own
    first, last = _within(solid, own, way)
    index = np.nonzero(first < last)[0]
    if len(index):
        share = np.stack([first[index], last[index]], axis=1)
        ends = own[index, None, :2] + share[:, :, None] * way[index, None, :2]
        shapely.prepare(solid.face)
        middle = ends.mean(axis=1)
        hit[index] = shapely.contains_xy(solid.face, middle[:, 0], middle[:, 1])
        open_still = ~hit[index]
        hit[index[open_still]] = shapely.intersects(solid.face, shapely.linestrings(ends[open_still]))
    return hit


def _within(solid: Solid, own: FloatArray, way: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Shares (n,), (n,) of segments at which they enter and leave the box of a panel; first >= last outside it."""
    low, high = solid.box.min(axis=0), solid.box.max(axis=0)
    low[2], high[2] = low[2] + SKIN, high[2] - SKIN
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.stack([(low - own) / way, (high - own) / way])
    level = way == 0.0
    beside = np.any(level & ((own < low) | (own > high)), axis=1)
    enter = np.where(level, -np.inf, shares.min(axis=0)).max(axis=1)
    leave = np.where(level, np.inf, shares.max(axis=0)).min(axis=1)
    return np.where(beside, 1.0, np.maximum(enter, 0.0)), np.where(beside, 0.0, np.minimum(leave, 1.0))


def spread_directions(count: int) -> FloatArray:
    """Unit vectors (count, 3) spread evenly over the sphere (golden spiral)."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * k
    flat = np.sqrt(1.0 - z * z)
    return np.column_stack([flat * np.cos(turn), flat * np.sin(turn), z])
