"""Whether a piece can be moved away straight: what stands ahead of its metal on any line along the way.

Between the first and the last metal of a panel on a line all counts as metal: a notch is no way through edge on.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray

from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

GRAZE = 0.5  # mm by which metal may overlap across the way, or lie ahead of it, and count as sliding past
SQUARE = 1e-4  # sine of 0.006 degrees: a way so near to the plane of a face, or to its normal, runs in it
CHORDS = 0.1  # mm by which round edges are made simpler: less than what may graze
PLAIN = 1e-3  # mm2 by which a face may differ from its hull and count as convex
KEPT = 20_000  # shadows of panels that are kept: some hundred panels along some dozen ways
SAMPLES = 12  # lines along which two panels are held against one another, besides one in the middle


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Panels seen along a way.

    Attributes:
        way: (3,) unit vector.
        across: (2, 3) directions across it.
        low, high: (k, 3) box of each panel across and along the way, mm.
    """

    way: FloatArray
    across: FloatArray
    low: FloatArray
    high: FloatArray


def course(solids: Sequence[Solid], way: FloatArray) -> Course:
    """Panels seen along a way."""
    frame = np.vstack([_across(way), way])
    seen = np.vstack([one.corners for one in solids]) @ frame.T
    first = np.cumsum([0, *(len(one.corners) for one in solids[:-1])])
    return Course(way, frame[:2], np.minimum.reduceat(seen, first), np.maximum.reduceat(seen, first))


def _across(way: FloatArray) -> FloatArray:
    """Two unit vectors (2, 3) square to a way and to one another."""
    across = np.cross(np.eye(3)[int(np.abs(way).argmin())], way)
    across /= np.linalg.norm(across)
    return np.array([across, np.cross(way, across)])


def ahead(seen: Course, moving: IntArray, standing: IntArray, far: float = np.inf) -> IntArray:
    """(p, 2) pairs of a moving panel and a standing one whose boxes let them meet on a way `far` mm long."""
    low, high = seen.low, seen.high
    meets = np.all(low[moving, None, :2] < high[None, standing, :2] - GRAZE, axis=2)
    meets &= np.all(low[None, standing, :2] < high[moving, None, :2] - GRAZE, axis=2)
    meets &= high[None, standing, 2] > low[moving, None, 2] + GRAZE
    meets &= low[None, standing, 2] < high[moving, None, 2] + far - GRAZE
    one, other = np.nonzero(meets)
    return np.column_stack([moving[one], standing[other]])


def blocked(solids: Sequence[Solid], seen: Course, pairs: IntArray, far: float = np.inf) -> BoolArray:
    """(p,) True where the second panel of a pair stands in the way of the first, which goes `far` mm."""
    found = np.zeros(len(pairs), dtype=np.bool_)
    if not len(pairs):
        return found
    known, way = np.unique(pairs), tuple(seen.way.tolist())
    shadows = np.array([_shadow(solids[k], way) for k in known.tolist()], dtype=object)
    place = np.searchsorted(known, pairs)
    common = shapely.buffer(shapely.intersection(shadows[place[:, 0]], shadows[place[:, 1]]), -GRAZE / 2.0)
    kept = np.nonzero(~shapely.is_empty(common))[0]
    pair, points = _lines(common[kept])
    pair = kept[pair]
    own, other = (_depth(solids, seen, (pairs[pair, k], points)) for k in (0, 1))
    found[pair[(other[1] > own[0] + GRAZE) & (other[0] < own[1] + far - GRAZE)]] = True
    return found


def _lines(common: NDArray[np.object_]) -> tuple[IntArray, FloatArray]:
    """Places across the way, in and on the edge of each common area: which one (q,), and where (q, 2)."""
    middle = shapely.get_coordinates(shapely.point_on_surface(common))
    corners, of = shapely.get_coordinates(common, return_index=True)
    count = np.bincount(of, minlength=len(common))
    step = np.maximum(-(-count // SAMPLES), 1)
    first = np.cumsum(count) - count
    kept = (np.arange(len(of)) - first[of]) % step[of] == 0
    return np.concatenate([np.arange(len(common)), of[kept]]), np.vstack([middle, corners[kept]])


@lru_cache(maxsize=KEPT)
def _shadow(solid: Solid, way: tuple[float, ...]) -> shapely.Geometry:
    """What a prism covers, seen along a way: kept, as what stands is asked along the same ways again and again."""
    on = _across(np.array(way))
    across, deep = on @ solid.frame.rotation, np.array([0.0, 0.0, -solid.thickness])
    origin, shift = on @ solid.frame.origin, on @ solid.frame.rotation @ deep
    seen_on = abs(float(np.array(way) @ solid.frame.rotation[:, 2]))
    simple = solid.face.simplify(CHORDS)
    face = simple if isinstance(simple, shapely.Polygon) else solid.face
    rings = [np.asarray(ring.coords) for ring in (face.exterior, *face.interiors)]
    flat = [ring @ across[:, :2].T + origin for ring in rings]
    if seen_on < SQUARE or (len(flat) == 1 and solid.face.convex_hull.area - solid.face.area < PLAIN):
        return shapely.MultiPoint(np.vstack([flat[0], flat[0] + shift])).convex_hull
    areas = [_area(flat, np.zeros(2)), _area(flat, shift)]
    if seen_on < 1.0 - SQUARE**2:
        areas += [_sides(ring, shift) for ring in flat]
    return shapely.union_all(areas) if len(areas) > 1 else areas[0]


def _area(flat: Sequence[FloatArray], shift: FloatArray) -> shapely.Geometry:
    return shapely.make_valid(shapely.Polygon(flat[0] + shift, [ring + shift for ring in flat[1:]]))


def _sides(ring: FloatArray, shift: FloatArray) -> shapely.Geometry:
    """What the sides over a closed line cover."""
    corners = np.stack([ring[:-1], ring[1:], ring[1:] + shift, ring[:-1] + shift], axis=1)
    sides = np.asarray(shapely.polygons(corners), dtype=object)
    return shapely.union_all(sides[shapely.area(sides) > PLAIN])


def _depth(solids: Sequence[Solid], seen: Course, which: tuple[IntArray, FloatArray]) -> tuple[FloatArray, FloatArray]:
    """(q,) where the metal of panels begins and ends along lines at places across the way; inf and -inf for none."""
    panel, places = which
    near, far = np.full(len(panel), np.inf), np.full(len(panel), -np.inf)
    for k in np.unique(panel).tolist():
        rows = np.nonzero(panel == k)[0]
        near[rows], far[rows] = _through(solids[k], seen, places[rows] @ seen.across)
    return near, far


def _through(solid: Solid, seen: Course, feet: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same for lines through points (q, 3) and one panel."""
    frame = solid.frame
    foot, way = (feet - frame.origin) @ frame.rotation, seen.way @ frame.rotation
    size = float(np.abs(solid.box).max()) + float(np.abs(foot).max()) + 1.0
    if abs(way[2]) < SQUARE:
        low, high = np.full(len(foot), -4.0 * size), np.full(len(foot), 4.0 * size)
    else:
        ends = np.column_stack([-foot[:, 2], -solid.thickness - foot[:, 2]]) / way[2]
        low, high = ends.min(axis=1), ends.max(axis=1)
    runs = [foot[:, :2] + (at * way[:2].reshape(2, 1)).T for at in (low, high)]
    if np.hypot(*way[:2]) < SQUARE:
        inside = shapely.intersects_xy(_grown(solid), foot[:, 0], foot[:, 1])
        return np.where(inside, low, np.inf), np.where(inside, high, -np.inf)
    parts = shapely.intersection(shapely.linestrings(np.stack(runs, axis=1)), solid.face)
    points, of = shapely.get_coordinates(parts, return_index=True)
    along = (points - foot[of, :2]) @ way[:2] / float(way[:2] @ way[:2])
    near, far = np.full(len(foot), np.inf), np.full(len(foot), -np.inf)
    np.minimum.at(near, of, along)
    np.maximum.at(far, of, along)
    return near, far


@lru_cache(maxsize=KEPT)
def _grown(solid: Solid) -> shapely.Geometry:
    """The face of a panel with what a line along its edge grazes."""
    return solid.face.buffer(GRAZE)
