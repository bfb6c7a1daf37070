"""Which parts of a flat line lie under other areas, and which in the open."""

from collections.abc import Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import FloatArray


def open_and_covered(
    ring: FloatArray, covers: Sequence[FloatArray], window: FloatArray
) -> tuple[list[FloatArray], list[FloatArray]]:
    """The parts of a closed line inside a window that no cover hides, and those that one hides, each (k, 2).

    Args:
        ring: (n, 2), not repeated at the end.
        covers: closed lines (m, 2) of areas that lie over it.
        window: (4,) least x, least y, greatest x, greatest y.
    """
    line = shapely.LinearRing(ring).intersection(shapely.box(*window.tolist()))
    cover = shapely.union_all([shapely.make_valid(shapely.Polygon(one)) for one in covers])
    return _lines(line.difference(cover)), _lines(line.intersection(cover))


def together(outlines: Sequence[FloatArray]) -> list[FloatArray]:
    """The outlines (n, 2) of areas that touch or overlap as those of one area, gaps within `TOUCH` closed.

    >>> square = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]])
    >>> [len(ring) for ring in together([square, square + [9.0, 0.0]])]
    [4]
    """
    areas = [shapely.make_valid(shapely.Polygon(one)) for one in outlines]
    whole = shapely.union_all(shapely.buffer(areas, TOUCH, join_style="mitre")).buffer(-TOUCH, join_style="mitre")
    rings = [
        ring
        for part in shapely.get_parts(whole.simplify(FIGURE))
        for ring in (part.exterior, *part.interiors)
        if len(ring.coords) > 3
    ]
    return [np.asarray(ring.coords, dtype=np.float64)[:-1] for ring in rings]


def _lines(shape: BaseGeometry) -> list[FloatArray]:
    parts = [
        part
        for part in shapely.get_parts(shape)
        if part.geom_type in ("LineString", "LinearRing") and not part.is_empty
    ]
    if not parts:
        return []
    merged = shapely.line_merge(shapely.MultiLineString(parts))
    return [np.asarray(part.coords, dtype=np.float64) for part in shapely.get_parts(merged)]
