"""Tools and lines against panels: a cylinder or a segment in space, a prism, do they meet? Whole arrays at a time."""

import numpy as np
import numpy.typing as npt
import shapely

from fabplan.geom.pose import to_own
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray

Shapes = npt.NDArray[np.object_]

SIDES = 32  # of the prism drawn round a slanted tool
UPRIGHT, LEVEL = 1.0 - 1e-9, 1e-9  # cosines of an axis square to, or along, a plate


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
    end = own + along * length[:, None]
    spread = radius[:, None] * np.sqrt(np.maximum(1.0 - along**2, 0.0))
    low, high = np.minimum(own, end) - spread, np.maximum(own, end) + spread
    near: BoolArray = np.all(low < solid.box.max(axis=0), axis=1) & np.all(high > solid.box.min(axis=0), axis=1)
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
    """(n,) True for segments that pass through the metal of a panel (through its middle plane)."""
    normal = solid.frame.rotation[:, 2]
    middle = float(solid.frame.origin @ normal) - solid.thickness / 2.0
    over, under = start @ normal - middle, end @ normal - middle
    index = np.nonzero(over * under < 0.0)[0]
    hit = np.zeros(len(start), dtype=np.bool_)
    if len(index):
        share = over[index] / (over[index] - under[index])
        at = to_own(solid.frame, start[index] + share[:, None] * (end[index] - start[index]))
        shapely.prepare(solid.face)
        hit[index] = shapely.contains_xy(solid.face, at[:, 0], at[:, 1])
    return hit


def spread_directions(count: int) -> FloatArray:
    """Unit vectors (count, 3) spread evenly over the sphere (golden spiral)."""
    k = np.arange(count) + 0.5
    z = 1.0 - 2.0 * k / count
    turn = np.pi * (1.0 + np.sqrt(5.0)) * k
    flat = np.sqrt(1.0 - z * z)
    return np.column_stack([flat * np.cos(turn), flat * np.sin(turn), z])
