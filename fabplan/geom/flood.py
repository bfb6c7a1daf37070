"""Where a man can be: a ball rolled in from outside through the openings between panels, on a grid."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from scipy import ndimage

from fabplan.geom.pose import to_own
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

GRID = 30.0  # mm: a twentieth of a man's opening; the ball is let through a gap up to one cell too narrow
MOST = 30_000_000  # cells: a body of 25 x 4 x 4 m; beyond it, most likely drawn in a wrong unit, nobody is sent inside
CELL = GRID * np.sqrt(3.0) / 2.0  # half the diagonal of a cell


@dataclass(frozen=True, slots=True, eq=False)
class Space:
    """A grid round a body.

    Attributes:
        low: (3,) middle of the first cell, mm.
        shape: cells along x, y, z; all 0 for a body too large to search.
        metal: for each instance the flat indices of its cells.
    """

    low: FloatArray
    shape: tuple[int, int, int]
    metal: tuple[IntArray, ...]


def space(solids: Sequence[Solid], owner: IntArray, instances: int, opening: float) -> Space:
    """The grid of a body, with room for a ball all round.

    Args:
        solids: panels in the body frame.
        owner: (k,) instance of each.
        instances: how many there are.
        opening: diameter of the ball, mm; cut-outs that do not let it pass count as closed, exactly.
    """
    corners = np.vstack([solid.corners for solid in solids])
    low = corners.min(axis=0) - opening
    count = np.ceil((corners.max(axis=0) + opening - low) / GRID) + 1.0
    shape = (int(count[0]), int(count[1]), int(count[2]))
    if not np.prod(count) <= MOST:
        return Space(low, (0, 0, 0), ())
    cells: list[list[IntArray]] = [[] for _ in range(instances)]
    for solid, instance in zip(solids, owner.tolist(), strict=True):
        cells[instance].append(_cells(solid, low, shape, opening))
    metal = tuple(np.concatenate(own) if own else np.zeros(0, dtype=np.int64) for own in cells)
    return Space(low, shape, metal)


def _cells(solid: Solid, low: FloatArray, shape: tuple[int, int, int], opening: float) -> IntArray:
    """Flat indices of the cells that a panel fills."""
    box = np.floor((np.array([solid.corners.min(axis=0), solid.corners.max(axis=0)]) - low) / GRID).astype(int)
    first, last = np.maximum(box[0] - 1, 0), np.minimum(box[1] + 2, np.array(shape) - 1)
    axes = [np.arange(a, b + 1) for a, b in zip(first, last, strict=True)]
    index = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    own = to_own(solid.frame, low + index * GRID)
    close = (own[:, 2] <= GRID / 2.0) & (own[:, 2] >= -solid.thickness - GRID / 2.0)
    own, index = own[close], index[close]
    face = _without_small_openings(solid.face, opening)
    shapely.prepare(face)
    inside = shapely.contains_xy(face, own[:, 0], own[:, 1])
    return np.asarray(np.ravel_multi_index(tuple(index[inside].T), shape), dtype=np.int64)


def _without_small_openings(face: shapely.Polygon, opening: float) -> shapely.Polygon:
    rings = [ring for ring in face.interiors if _inscribed(ring) >= opening - 1e-6]
    return shapely.Polygon(face.exterior, rings)


def _inscribed(ring: shapely.LinearRing) -> float:
    """Diameter of the largest circle in an opening, mm."""
    return 2.0 * float(shapely.maximum_inscribed_circle(shapely.Polygon(ring), tolerance=0.1).length)


def man_places(grid: Space, present: BoolArray, opening: float, *, anywhere: bool = False) -> FloatArray:
    """Middles (k, 3) of cells that the middle of a ball reaches from outside, mm.

    Args:
        grid: the grid.
        present: (m,) True for instances that stand.
        opening: diameter of the ball, mm.
        anywhere: count every space that holds the ball, as if each had a way in.
    """
    solid = np.zeros(grid.shape, dtype=np.bool_)
    if not solid.size:
        return np.zeros((0, 3))
    for cells, stands in zip(grid.metal, present, strict=True):
        if stands:
            solid.ravel()[cells] = True
    away = ndimage.distance_transform_edt(~solid, sampling=GRID) if solid.any() else np.full(grid.shape, np.inf)
    label, _ = ndimage.label(away >= opening / 2.0 - CELL)
    reached = label > 0 if anywhere else (label == label[0, 0, 0]) & (label > 0)
    return grid.low + np.argwhere(reached) * GRID
