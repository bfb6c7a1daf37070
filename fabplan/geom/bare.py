"""Bare metal of a panel: where a round hole would keep clear of edges, rivets and other panels, and the hole cut."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fabplan.geom.pose import compose, inverse, to_outer, to_own
from fabplan.geom.prism import Solid, section
from fabplan.model.arrays import FloatArray

POINT = 0.1
"""mm round the middle of a rivet that stands for it: its land is kept from there."""


def bare_places(one: Solid, others: Sequence[Solid], points: FloatArray, size: float, land: float) -> FloatArray:
    """(k, 3) middles of round holes, as far apart as they are wide, that keep their land in the bare metal of a panel.

    Args:
        one: the panel.
        others: the panels round it.
        points: (n, 3) places of rivets, mm.
        size: diameter of the holes, mm.
        land: least from their edge to an edge, to the middle of a rivet, to what lies against the panel, mm.
    """
    own = to_own(one.frame, points)
    through = own[np.abs(own[:, 2] + one.thickness / 2.0) < size]
    taken = shapely.union_all([*_shadows(one, others, size), shapely.MultiPoint(through[:, :2]).buffer(POINT)])
    free = one.face.difference(taken).buffer(-size / 2.0 - land)
    if free.is_empty:
        return np.zeros((0, 3))
    x0, y0, x1, y1 = free.bounds
    x, y = (np.linspace(low, high, int((high - low) // size) + 2) for low, high in ((x0, x1), (y0, y1)))
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    grid = np.vstack([free.representative_point().coords[0], grid[shapely.contains_xy(free, grid)]])
    return to_outer(one.frame, np.column_stack([grid, np.full(len(grid), -one.thickness / 2.0)]))


def _shadows(one: Solid, others: Sequence[Solid], size: float) -> Iterator[BaseGeometry]:
    """What other panels cover of a panel, as far from either face as a hole is wide."""
    low, high = one.corners.min(axis=0) - size, one.corners.max(axis=0) + size
    off = (1.0, size / 2.0, size)
    levels = [*off, *(-one.thickness - level for level in off)]
    for other in others:
        if np.all((other.corners.min(axis=0) < high) & (other.corners.max(axis=0) > low)):
            seen = compose(inverse(one.frame), other.frame)
            yield from (section(other, seen, level) for level in levels)


def pierced(one: Solid, place: FloatArray, diameter: float) -> Solid:
    """The panel with a round hole at a place (3,) of it, mm."""
    disc = shapely.Point(to_own(one.frame, place[None])[0, :2]).buffer(diameter / 2.0, quad_segs=32)
    face = shapely.Polygon(one.face.exterior, [*one.face.interiors, disc.exterior])
    return Solid(one.frame, face, one.thickness)
