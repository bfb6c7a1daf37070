"""Whether a piece can be moved away straight: what stands ahead of its metal on any line along the way.

Between the first and the last metal of a panel on a line all counts as metal: a notch is no way through edge on.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely

from fabplan.geom.chords import chords
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray, floats

GRAZE = 0.5  # mm by which metal may overlap across the way, or lie ahead of it, and count as sliding past
SQUARE = 1e-4  # sine of 0.006 degrees: a way so near to the plane of a face, or to its normal, runs in it
CHORDS = 0.1  # mm by which round edges are made simpler: less than what may graze
PLAIN = 1e-3  # mm2 by which a face may differ from its hull and count as convex
KEPT = 20_000  # shadows of panels that are kept: some hundred panels along some dozen ways
AT_ONCE = 20_000  # lines looked at at a time
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
    return courses(solids, [way])[0]


def courses(solids: Sequence[Solid], ways: Sequence[FloatArray]) -> list[Course]:
    """Panels seen along several ways."""
    corners = np.concatenate([one.corners for one in solids])
    first = np.cumsum([0, *(len(one.corners) for one in solids[:-1])])
    found = []
    for way in ways:
        frame = np.vstack([_across(tuple(way.tolist())), way])
        seen = corners @ frame.T
        found.append(Course(way, frame[:2], np.minimum.reduceat(seen, first), np.maximum.reduceat(seen, first)))
    return found


@lru_cache(maxsize=KEPT)
def _across(way: tuple[float, ...]) -> FloatArray:
    """Two unit vectors (2, 3) square to a way and to one another."""
    across = np.cross(np.eye(3)[int(np.abs(way).argmin())], way)
    across /= np.linalg.norm(across)
    return floats([across, np.cross(way, across)])


def ahead(seen: Course, moving: IntArray, standing: IntArray, far: float = np.inf) -> IntArray:
    """(p, 2) pairs of a moving panel and a standing one whose boxes let them meet on a way `far` mm long."""
    low, high, meets = seen.low, seen.high, np.ones((len(moving), len(standing)), dtype=np.bool_)
    for axis in (0, 1):
        meets &= low[moving, None, axis] < high[None, standing, axis] - GRAZE
        meets &= low[None, standing, axis] < high[moving, None, axis] - GRAZE
    meets &= high[None, standing, 2] > low[moving, None, 2] + GRAZE
    meets &= low[None, standing, 2] < high[moving, None, 2] + far - GRAZE
    one, other = np.nonzero(meets)
    return np.column_stack([moving[one], standing[other]])


def blocked(
    solids: Sequence[Solid], seen: Course, pairs: IntArray, far: float = np.inf, *, any_pair: bool = False
) -> BoolArray:
    """(p,) True where the second panel of a pair stands in the way of the first, which goes `far` mm.

    Where `any_pair` is asked for the others need not be told once one does.
    """
    found = np.zeros(len(pairs), dtype=np.bool_)
    for pair, places in _lines(solids, seen, pairs):
        left = np.nonzero(~found[pair])[0]
        for first in range(0, len(left), AT_ONCE):
            some = left[first : first + AT_ONCE]
            own, other = (_depth(solids, seen, pairs[pair[some], k], places[some]) for k in (0, 1))
            found[pair[some][(other[1] > own[0] + GRAZE) & (other[0] < own[1] + far - GRAZE)]] = True
        if any_pair and found.any():
            break
    return found


def _lines(solids: Sequence[Solid], seen: Course, pairs: IntArray) -> Iterator[tuple[IntArray, FloatArray]]:
    """Places across the way in the area that both panels of a pair cover: which pair (q,), and where (q, 2).

    First one in the middle of each, which tells most; then some on its edge.
    """
    if not len(pairs):
        return
    known, way = np.unique(pairs), tuple(seen.way.tolist())
    shadows = np.array([_shadow(solids[k], way) for k in known.tolist()], dtype=object)
    place = np.searchsorted(known, pairs)
    common = shapely.buffer(shapely.intersection(shadows[place[:, 0]], shadows[place[:, 1]]), -GRAZE / 2.0)
    pair = np.nonzero(~shapely.is_empty(common))[0]
    yield pair, shapely.get_coordinates(shapely.point_on_surface(common[pair]))
    corners, of = shapely.get_coordinates(common[pair], return_index=True)
    count = np.bincount(of, minlength=len(pair))
    step = np.maximum(-(-count // SAMPLES), 1)
    first = np.cumsum(count) - count
    kept = (np.arange(len(of)) - first[of]) % step[of] == 0
    yield pair[of[kept]], corners[kept]


@lru_cache(maxsize=KEPT)
def _shadow(solid: Solid, way: tuple[float, ...]) -> shapely.Geometry:
    """What a prism covers, seen along a way: kept, as what stands is asked along the same ways again and again."""
    on = _across(way)
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


def _depth(solids: Sequence[Solid], seen: Course, which: IntArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(q,) where the metal of panels begins and ends along lines at places across the way; inf and -inf for none."""
    known, of = np.unique(which, return_inverse=True)
    asked = [solids[k] for k in known.tolist()]
    rotation, origin = (np.array([getattr(one.frame, name) for one in asked]) for name in ("rotation", "origin"))
    foot = np.einsum("qi,qij->qj", places @ seen.across - origin[of], rotation[of])
    way = np.einsum("i,kij->kj", seen.way, rotation)
    low, high = _in_slab(foot[:, 2], way[of, 2], np.array([one.thickness for one in asked])[of])
    near, far = np.full(len(of), np.inf), np.full(len(of), -np.inf)
    upright = np.hypot(way[:, 0], way[:, 1]) < SQUARE
    grown = np.array(
        [_grown(one) if up else None for one, up in zip(asked, upright.tolist(), strict=True)], dtype=object
    )
    inside = upright[of] & shapely.intersects_xy(grown[of], foot[:, 0], foot[:, 1])
    near[inside], far[inside] = low[inside], high[inside]
    slanted = np.nonzero(~upright[of])[0]
    faces, ends = np.array([one.face for one in asked], dtype=object), (low[slanted], high[slanted])
    near[slanted], far[slanted] = chords(faces, of[slanted], foot[slanted, :2], way[of[slanted], :2], ends)
    return near, far


def _in_slab(height: FloatArray, rise: FloatArray, thickness: FloatArray) -> tuple[FloatArray, FloatArray]:
    """(q,) where lines from a height enter and leave the slab under 0, in lengths; no ends where they run along it."""
    level = np.abs(rise) < SQUARE
    ends = np.stack([-height, -thickness - height]) / np.where(level, 1.0, rise)
    return np.where(level, -np.inf, ends.min(axis=0)), np.where(level, np.inf, ends.max(axis=0))


@lru_cache(maxsize=KEPT)
def _grown(solid: Solid) -> shapely.Geometry:
    """The face of a panel with what a line along its edge grazes."""
    return solid.face.buffer(GRAZE)
