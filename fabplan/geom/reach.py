"""Tools and lines against panels: a cylinder or a segment in space, a prism, do they meet? Whole arrays at a time."""

import numpy as np
import numpy.typing as npt
import shapely

from fabplan.geom.pose import to_own
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

Shapes = npt.NDArray[np.object_]

SIDES = 32  # of the prism drawn round a slanted tool
SKIN = 1e-6  # mm, so that a line along a face is clear of the metal
UPRIGHT, LEVEL = 1.0 - 1e-9, 1e-9  # cosines of an axis square to, or along, a plate


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


def tool_boxes(
    start: FloatArray, axis: FloatArray, length: FloatArray, radius: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Least and greatest corners (3, n) of the boxes round cylinders given as for `tools_hit`, mm."""
    end = start + axis * length[:, None]
    spread = radius[:, None] * np.sqrt(np.maximum(1.0 - axis**2, 0.0))
    low, high = np.minimum(start, end) - spread, np.maximum(start, end) + spread
    return np.ascontiguousarray(low.T), np.ascontiguousarray(high.T)


def tools_hit(solid: Solid, start: FloatArray, axis: FloatArray, length: FloatArray, radius: FloatArray) -> BoolArray:
    """(n,) True for cylinders that meet the metal of a panel.

    The part of a tool that lies between the two faces of the plate, seen square to the plate, is a disc, a strip, or
    for a slanted tool the outline of a prism drawn round it: never too small. It meets the metal where that shape
    meets the plate's face.

    Args:
        solid: the panel, in the body frame.
        start: (n, 3) start of each axis, mm.
        axis: (n, 3) unit vectors.
        length: (n,) mm.
        radius: (n,) mm.
    """
    own = to_own(solid.frame, start)
    along = axis @ solid.frame.rotation
    near = _near(solid, own, along, length, radius)
    hit = np.zeros(len(start), dtype=np.bool_)
    steep = np.abs(along[:, 2])
    for chosen, shapes in (
        (near & (steep > UPRIGHT), _discs),
        (near & (steep < LEVEL), _strips),
        (near & (steep >= LEVEL) & (steep <= UPRIGHT), _slanted),
    ):
        index = np.nonzero(chosen)[0]
        if len(index):
            outlines = shapes(solid.thickness, own[index], along[index], length[index], radius[index])
            shapely.prepare(solid.face)
            hit[index] = shapely.intersects(solid.face, outlines)
    return hit


def _near(solid: Solid, own: FloatArray, along: FloatArray, length: FloatArray, radius: FloatArray) -> BoolArray:
    """(n,) True where the box round a cylinder meets the box of the panel."""
    low, high = tool_boxes(own, along, length, radius)
    least, most = solid.box.min(axis=0)[:, None], solid.box.max(axis=0)[:, None]
    near: BoolArray = np.all((low < most) & (high > least), axis=0)
    return near


def _discs(thickness: float, own: FloatArray, along: FloatArray, length: FloatArray, radius: FloatArray) -> Shapes:
    """Tools square to the plate: a polygon drawn round the circle."""
    turn = 2.0 * np.pi * np.arange(SIDES) / SIDES
    round_it = np.column_stack([np.cos(turn), np.sin(turn)]) / np.cos(np.pi / SIDES)
    return np.asarray(shapely.polygons(own[:, None, :2] + radius[:, None, None] * round_it), dtype=np.object_)


def _strips(thickness: float, own: FloatArray, along: FloatArray, length: FloatArray, radius: FloatArray) -> Shapes:
    """Tools along the plate: the strip that the slab cuts from the cylinder, seen from above."""
    off = np.maximum(np.maximum(own[:, 2], -thickness - own[:, 2]), 0.0)
    half = np.sqrt(np.maximum(radius**2 - off**2, 0.0))
    way = along[:, :2] / np.linalg.norm(along[:, :2], axis=1)[:, None]
    side = np.column_stack([-way[:, 1], way[:, 0]]) * half[:, None]
    near, far = own[:, :2], own[:, :2] + way * length[:, None]
    return np.asarray(
        shapely.polygons(np.stack([near - side, far - side, far + side, near + side], axis=1)), dtype=np.object_
    )


def _slanted(thickness: float, own: FloatArray, along: FloatArray, length: FloatArray, radius: FloatArray) -> Shapes:
    """Slanted tools: a prism drawn round each, clipped to the slab, its outline from above."""
    helper = np.eye(3)[np.abs(along).argmin(axis=1)]
    first = np.cross(helper, along)
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(along, first)
    turn = 2.0 * np.pi * np.arange(SIDES) / SIDES
    ring = (np.cos(turn)[:, None] * first[:, None, :] + np.sin(turn)[:, None] * second[:, None, :]) * (
        radius[:, None, None] / np.cos(np.pi / SIDES)
    )
    near = own[:, None, :] + ring
    far = near + (along * length[:, None])[:, None, :]
    starts = np.concatenate([near, near, far], axis=1)
    ends = np.concatenate([far, np.roll(near, -1, axis=1), np.roll(far, -1, axis=1)], axis=1)
    points = [starts, ends]
    for level in (0.0, -thickness):
        rise = ends[..., 2] - starts[..., 2]
        share = np.clip((level - starts[..., 2]) / np.where(rise == 0.0, 1.0, rise), 0.0, 1.0)
        points.append(starts + share[..., None] * (ends - starts))
    every = np.concatenate(points, axis=1)
    within = (every[..., 2] <= 1e-9) & (every[..., 2] >= -thickness - 1e-9)
    owner, place = np.nonzero(within)
    clouds = shapely.multipoints(every[owner, place, :2], indices=owner, out=np.full(len(own), None, dtype=object))
    return np.asarray(shapely.convex_hull(clouds), dtype=np.object_)


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
