"""How far the cells of a grid are from the metal of a panel, told as the number of balls that have room there."""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

SIMPLER = 0.2  # mm by which curved edges are made simpler; distances are taken as much smaller
MANY = 13  # corners of a face, its first twice, whose distances are worked out edge by edge
PLAIN = 1e-3  # mm2 by which a face may differ from the rectangle round it


@dataclass(frozen=True, slots=True, eq=False)
class Grid:
    """Cells round a body, cubes along its axes.

    Attributes:
        low: (3,) middle of the first cell, mm.
        edge: of a cell, mm.
        shape: cells along x, y, z; all 0 for a body too large to search.
    """

    low: FloatArray
    edge: float
    shape: tuple[int, int, int]

    def middles(self, flat: IntArray) -> FloatArray:
        """Middles (k, 3) of cells given by flat indices (k,), mm."""
        middles: FloatArray = self.low + np.column_stack(np.unravel_index(flat, self.shape)) * self.edge
        return middles

    def cells(self, points: FloatArray) -> IntArray:
        """Whole numbers (..., 3) of the cells that hold points (..., 3); they may lie beyond the grid."""
        return np.floor((points - self.low) / self.edge + 0.5).astype(np.int64)


Block = tuple[slice, slice, slice]


def block_round(grid: Grid, low: FloatArray, high: FloatArray) -> Block:
    """The block of cells whose middles may lie between two corners (3,), mm."""
    first = np.maximum(np.floor((low - grid.low) / grid.edge), 0).astype(int)
    last = np.minimum(np.ceil((high - grid.low) / grid.edge), np.array(grid.shape) - 1).astype(int)
    return slice(first[0], last[0] + 1), slice(first[1], last[1] + 1), slice(first[2], last[2] + 1)


def own_places(grid: Grid, block: Block, solid: Solid) -> list[FloatArray]:
    """x, y and z of the middles of a block of cells in the frame of a panel, mm; each broadcasts to the block."""
    axes = [grid.low[k] + np.arange(one.start, one.stop) * grid.edge for k, one in enumerate(block)]
    places = []
    for own in range(3):
        turn = np.where(np.abs(solid.frame.rotation[:, own]) < 1e-12, 0.0, solid.frame.rotation[:, own])
        total = np.full((1, 1, 1), -float(solid.frame.origin @ turn))
        for k in range(3):
            if turn[k] != 0.0:
                total = total + turn[k] * axes[k].reshape([-1 if axis == k else 1 for axis in range(3)])
        places.append(total)
    return places


def room(grid: Grid, solid: Solid, radii: FloatArray) -> tuple[Block, np.ndarray]:
    """For the cells near a panel, how many of some balls have room with their middle in the middle of the cell.

    The distance to the metal is exact, but that curved edges are taken `SIMPLER` larger.

    Args:
        grid: the grid.
        solid: the panel, in the body frame.
        radii: (b,) of the balls, mm, smallest first.

    Returns:
        The block of cells within the largest radius, and (i, j, k) whole numbers: b for cells further off.
    """
    most = float(radii[-1])
    block = block_round(grid, solid.corners.min(axis=0) - most, solid.corners.max(axis=0) + most)
    x, y, z = own_places(grid, block, solid)
    squared = np.maximum(np.maximum(z, -solid.thickness - z), 0.0) ** 2 + _beside(solid.face, x, y, most) ** 2
    return block, np.searchsorted(radii**2, squared.ravel(), side="right").astype(np.uint8).reshape(squared.shape)


def _beside(face: shapely.Polygon, x: FloatArray, y: FloatArray, most: float) -> FloatArray:
    """Distance from places in the plane of a face to it, mm, 0 inside; beyond `most` to the rectangle round it."""
    x0, y0, x1, y1 = face.bounds
    across, up = np.maximum(np.maximum(x0 - x, x - x1), 0.0), np.maximum(np.maximum(y0 - y, y - y1), 0.0)
    away: FloatArray = np.hypot(across, up)
    if abs((x1 - x0) * (y1 - y0) - face.area) <= PLAIN:
        return away
    near = away < most
    ring = np.asarray(face.exterior.coords)
    if not face.interiors and len(ring) <= MANY:
        away[near] = edge_by_edge(ring, np.broadcast_to(x, away.shape)[near], np.broadcast_to(y, away.shape)[near])
        return away
    simple = face.simplify(SIMPLER)
    places = shapely.points(np.broadcast_to(x, away.shape)[near], np.broadcast_to(y, away.shape)[near])
    away[near] = np.maximum(shapely.distance(simple, places) - SIMPLER, 0.0)
    return away


def edge_by_edge(ring: FloatArray, x: FloatArray, y: FloatArray) -> FloatArray:
    """Distance of places (n,) from a closed ring (k, 2), its first corner twice, mm, 0 inside: for few corners."""
    squared, inside = np.full(len(x), np.inf), np.zeros(len(x), dtype=np.bool_)
    for (x0, y0), (x1, y1) in pairwise(ring.tolist()):
        dx, dy, px, py = x1 - x0, y1 - y0, x - x0, y - y0
        if dy != 0.0:
            inside ^= ((y0 > y) != (y1 > y)) & (px < dx * py / dy)
        along = np.clip((px * dx + py * dy) / (dx * dx + dy * dy), 0.0, 1.0)
        np.minimum(squared, (px - along * dx) ** 2 + (py - along * dy) ** 2, out=squared)
    return np.where(inside, 0.0, np.sqrt(squared))


def within(face: shapely.Polygon, x: FloatArray, y: FloatArray) -> BoolArray:
    """True for places in the plane of a face that lie in it."""
    shapely.prepare(face)
    inside: BoolArray = np.asarray(shapely.contains_xy(face, *np.broadcast_arrays(x, y)), dtype=np.bool_)
    return inside
