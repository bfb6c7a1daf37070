"""The band of a blank on which other plies lie."""

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fabplan.geom.forming import Formed, to_blank
from fabplan.geom.pose import to_own
from fabplan.geom.prism import polygon
from fabplan.geom.surface import Surface, to_body, to_flat
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.profile import Profile

STRETCH = 4.0  # mm: edges are cut into stretches no longer, so that straight ones stay true on a round
Metal = tuple[Surface, Profile, tuple[Profile, ...]]
"""A face with its outline and cut-outs."""


def covered(on: Metal, other: Metal, between: float) -> BaseGeometry:
    """Where on a blank another ply lies over it, as an area of that blank, mm.

    Args:
        on: the ply on whose blank the area is.
        other: the ply that lies on it.
        between: from the middle of one to the middle of the other, mm.
    """
    found = []
    for home, own in _regions(on):
        for _, piece in _regions(other):
            found += [shape.intersection(own) for shape in _over(on[0], home, (other[0], piece), between)]
    return shapely.union_all(found)


def _regions(metal: Metal) -> Iterator[tuple[int, BaseGeometry]]:
    """The regions of a blank: flat and bent ones of a formed plate, else the whole."""
    surface, outline, cutouts = metal
    if isinstance(surface.shape, Formed):
        yield from ((number, region.face) for number, region in enumerate(surface.shape.regions))
    else:
        yield -1, polygon(outline, cutouts)


def _over(on: Surface, home: int, other: tuple[Surface, BaseGeometry], between: float) -> Iterator[BaseGeometry]:
    """A region of another ply on a blank, in parts that the joint of a closed round does not tear; none elsewhere."""
    surface, face = other
    if face.is_empty:
        return
    ring = shapely.segmentize(face, STRETCH)
    xy = shapely.get_coordinates(ring)
    middle, _ = to_body(surface, xy, np.full(len(xy), -surface.thickness / 2.0))
    flat, z = _on_region(on, home, middle)
    if not np.all(np.abs(np.abs(z + on.thickness / 2.0) - between) <= TOUCH + FIGURE):
        return
    apart, drawn = (np.linalg.norm(np.diff(one, axis=0), axis=1) for one in (flat, xy))
    if np.all(apart <= 2.0 * drawn + 1.0):
        yield shapely.make_valid(shapely.set_coordinates(ring, flat))
    elif max(np.ptp(xy, axis=0)) > STRETCH:
        for half in _halves(face):
            yield from _over(on, home, (surface, half), between)


def _halves(face: BaseGeometry) -> tuple[BaseGeometry, BaseGeometry]:
    """An area parted in the middle of its longer side."""
    x0, y0, x1, y1 = face.bounds
    x, y = ((x0 + x1) / 2.0, y1) if x1 - x0 > y1 - y0 else (x1, (y0 + y1) / 2.0)
    return shapely.intersection(face, shapely.box(x0, y0, x, y)), shapely.intersection(
        face, shapely.box(x if x < x1 else x0, y if y < y1 else y0, x1, y1)
    )


def _on_region(on: Surface, home: int, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    if not isinstance(on.shape, Formed):
        return to_flat(on, places)
    homes: IntArray = np.full(len(places), home)
    xy, z, _ = to_blank(on.shape, to_own(on.pose, places), homes)
    return xy, z


def common_axis(plies: Sequence[Metal], on: int) -> FloatArray | None:
    """The middle line (2, 2), mm, of the band in which plies lie on one another; None where they do not.

    Args:
        plies: in their order through the stack.
        on: number of the one on whose blank the line is.
    """
    thick = np.array([surface.thickness for surface, _, _ in plies])
    middles = np.cumsum(thick) - thick / 2.0
    band: BaseGeometry = polygon(plies[on][1])
    for k, other in enumerate(plies):
        if k != on:
            band = band.intersection(covered(plies[on], other, abs(float(middles[k] - middles[on]))))
    return _long_axis(band)


def _long_axis(shape: BaseGeometry) -> FloatArray | None:
    """The middle line of the least rectangle round the largest part of an area, along it, over all parts that it meets.

    None for an area without parts.
    """
    parts = [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > 0.0]
    if not parts:
        return None
    box = np.asarray(shapely.oriented_envelope(max(parts, key=lambda part: part.area)).exterior.coords)[:4]
    sides = np.linalg.norm(np.diff(np.vstack([box, box[:1]]), axis=0), axis=1)
    k = 0 if sides[0] >= sides[1] else 1
    one, other = (box[k] + box[k - 1]) / 2.0, (box[k + 1] + box[(k + 2) % 4]) / 2.0
    way = (other - one) / np.linalg.norm(other - one)
    x0, y0, x1, y1 = shape.bounds
    far = way * np.hypot(x1 - x0, y1 - y0)
    met = shapely.get_coordinates(shapely.LineString([one - far, other + far]).intersection(shape))
    along = (met - one) @ way
    ends: FloatArray = one + np.outer([along.min(), along.max()], way)
    order = np.lexsort(np.round(ends, 6).T[::-1])
    return ends[order]
