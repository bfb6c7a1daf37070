"""Right cones and frustums rolled from a flat sector: the sector, where its points go, back, and its flat facets.

In its own frame a sector has its apex at the origin and the generator that keeps its place along x; the plate lies in
z = 0 (marked face) to -t, and its middle layer keeps its lengths.
"""

from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, sin, tau

import numpy as np
import shapely
import shapely.affinity

from fabplan.errors import FormingError
from fabplan.geom.facets import ONE_LINE, RISE, Facet
from fabplan.geom.pose import to_outer, to_own, turned
from fabplan.geom.profile import arc_centres, flattened, spans
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile

CONCENTRIC = 0.1  # mm by which the centres of a sector's arcs may differ
AFTER = 1e-9  # radians round the axis by which a point may lie before the still generator


def development(large: float, small: float, height: float) -> tuple[float, float, float]:
    """Outer and inner radius of the sector of a frustum, mm, and its angle, radians.

    Args:
        large: mean radius of the wide end, mm.
        small: mean radius of the narrow end, mm, from 0.
        height: between both along the axis, mm.

    >>> outer, inner, angle = development(200.0, 100.0, 300.0)
    >>> round(outer, 3), round(inner, 3), round(angle * 360.0 / tau, 3)
    (632.456, 316.228, 113.842)
    """
    slant = hypot(height, large - small)
    outer = slant * large / (large - small)
    return outer, outer - slant, tau * large / outer


@dataclass(frozen=True, slots=True)
class Cone:
    """A sector rolled to a cone.

    Attributes:
        own: its own frame, in the frame of the blank.
        half: angle between axis and generators, radians.
        thickness: mm.
        inward: True where the marked face lies inside.
    """

    own: Pose
    half: float
    thickness: float
    inward: bool = True

    @property
    def axes(self) -> FloatArray:
        """Rows (3, 3): the axis from the apex on, outwards at the still generator, and onwards round it."""
        side = 1.0 if self.inward else -1.0
        return np.array(
            [
                [cos(self.half), 0.0, side * sin(self.half)],
                [sin(self.half), 0.0, -side * cos(self.half)],
                [0.0, 1.0, 0.0],
            ]
        )


def sector(outline: Profile) -> tuple[FloatArray, float, float, FloatArray]:
    """The sector that an outline draws: apex (2,), angles at which it begins and ends, its radii (least, greatest).

    Raises:
        FormingError: it has no arcs, or arcs about several centres.
    """
    start, end, turn = spans(outline)
    arcs = np.abs(turn) > 1e-6
    if not arcs.any():
        raise FormingError(
            "the outline of a cone has no arc", "Draw the sector with its arcs, or arcs as chords exact."
        )
    centre, radius = arc_centres(start[arcs], end[arcs], turn[arcs])
    apex = centre[int(np.argmax(radius * np.abs(turn[arcs])))]
    long = radius * np.abs(turn[arcs]) >= 0.1 * float(np.max(radius * np.abs(turn[arcs])))
    if not float(np.hypot(*(centre[long] - apex).T).max()) <= CONCENTRIC:
        raise FormingError("the arcs of a cone's sector have several centres", "Draw them about its apex.")
    away = flattened(outline, SAGITTA) - apex
    far = np.hypot(*away.T)
    angles = np.sort(np.mod(np.arctan2(*away[far > 1e-6].T[::-1]), tau))
    gaps = np.diff(np.append(angles, angles[0] + tau))
    k = int(np.argmax(gaps))
    first = float(angles[(k + 1) % len(angles)])
    return apex, first, first + tau - float(gaps[k]), np.array([far.min(), far.max()])


def placed(apex: FloatArray, first: float) -> Pose:
    """The own frame of a sector in the frame of its blank."""
    c, s = cos(first), sin(first)
    return Pose(np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]]), np.append(apex, 0.0))


def to_cone(cone: Cone, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where points (n, 3) of the blank go, z off its marked face: places (n, 3) and normals (n, 3) off that face."""
    own = to_own(cone.own, points)
    slant = np.hypot(own[:, 0], own[:, 1])
    turn = np.mod(np.arctan2(own[:, 1], own[:, 0]) + AFTER * sin(cone.half), tau) / sin(cone.half) - AFTER
    axis, out, on = cone.axes
    radial = np.cos(turn)[:, None] * out + np.sin(turn)[:, None] * on
    side = 1.0 if cone.inward else -1.0
    normal = side * (sin(cone.half) * axis - cos(cone.half) * radial)
    line = cos(cone.half) * axis + sin(cone.half) * radial
    middle = np.array([0.0, 0.0, -cone.thickness / 2.0])
    place = middle + slant[:, None] * line + (own[:, 2] + cone.thickness / 2.0)[:, None] * normal
    return to_outer(cone.own, place), turned(cone.own, normal)


def to_sector(cone: Cone, places: FloatArray) -> FloatArray:
    """Back from the cone to the blank: (n, 3), z off the marked face."""
    own = to_own(cone.own, places) + np.array([0.0, 0.0, cone.thickness / 2.0])
    high, out, on = (own @ cone.axes.T).T
    away = np.hypot(out, on)
    turn = np.mod(np.arctan2(on, out) + AFTER, tau) - AFTER
    slant = away * sin(cone.half) + high * cos(cone.half)
    side = 1.0 if cone.inward else -1.0
    depth = side * (high * sin(cone.half) - away * cos(cone.half)) - cone.thickness / 2.0
    angle = turn * sin(cone.half)
    return to_outer(cone.own, np.column_stack([slant * np.cos(angle), slant * np.sin(angle), depth]))


def cone_facets(cone: Cone, face: shapely.Polygon, holes: FloatArray) -> tuple[tuple[Facet, ...], IntArray, FloatArray]:
    """Narrow flat prisms that stand for a cone, each touching it along a generator, as `geom.facets.facets` gives them.

    Args:
        cone: the cone.
        face: the blank, mm.
        holes: (n, 2) centres on the blank, mm; each facet that bears some touches on their generator.
    """
    flat = shapely.transform(face, lambda xy: _own(cone, xy))
    own = _own(cone, holes)
    found: list[Facet] = []
    owner, local = np.full(len(holes), -1), holes.copy()
    middles, edges = _wedges(cone, flat, own)
    far = 2.0 * float(np.abs(np.asarray(flat.bounds)).max())
    for middle, (low, high) in zip(middles.tolist(), pairwise(edges.tolist()), strict=True):
        wedge = shapely.Polygon([(0.0, 0.0), *((far * cos(a), far * sin(a)) for a in np.linspace(low, high, 3))])
        frame = _touching(cone, middle)
        back = _turn(-middle)
        for part in shapely.get_parts(flat.intersection(wedge)):
            if part.geom_type == "Polygon" and part.area > 0.0:
                inside = shapely.contains_xy(part, own[:, 0], own[:, 1])
                owner[inside] = len(found)
                local[inside] = own[inside] @ back.T
                found.append(
                    Facet(0, frame, shapely.affinity.rotate(part, -middle, (0.0, 0.0), use_radians=True), True)
                )
    return tuple(found), owner, local


def _own(cone: Cone, xy: FloatArray) -> FloatArray:
    return to_own(cone.own, np.column_stack([xy, np.zeros(len(xy))]))[:, :2]


def _turn(angle: float) -> FloatArray:
    return np.array([[cos(angle), -sin(angle)], [sin(angle), cos(angle)]])


def _wedges(cone: Cone, flat: shapely.Polygon, holes: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Angles (k,) of the generators on which facets touch, and (k + 1,) at which they meet."""
    ring = np.asarray(flat.exterior.coords)
    far = float(np.hypot(*ring.T).max())
    angles = np.mod(np.arctan2(ring[:, 1], ring[:, 0]) + AFTER, tau) - AFTER
    end = float(angles[np.hypot(*ring.T) > 1e-6].max())
    most = 2.0 * np.sqrt(2.0 * far * np.tan(cone.half) * RISE) / far
    ranked = np.sort(np.arctan2(holes[:, 1], holes[:, 0]) % tau)
    lines = np.split(ranked, np.nonzero(np.diff(ranked) * far > ONE_LINE)[0] + 1) if len(holes) else []
    borne = [float(line.mean()) for line in lines]
    stops = [0.0, *borne, end]
    fill = [np.linspace(a, b, max(int(np.ceil((b - a) / most)), 1) + 1)[1:-1] for a, b in pairwise(stops)]
    middles = np.sort(np.concatenate([borne, *fill]))
    middles = middles if len(middles) else np.array([end / 2.0])
    return middles, np.concatenate([[-AFTER], (middles[1:] + middles[:-1]) / 2.0, [end + AFTER]])


def _touching(cone: Cone, angle: float) -> Pose:
    """The frame that touches the marked face along one generator: x along it from the apex on."""
    ahead = np.array([[cos(angle), sin(angle), 0.0]])
    base, _ = to_cone(cone, to_outer(cone.own, ahead))
    beyond, normal = to_cone(cone, to_outer(cone.own, 2.0 * ahead))
    line = (beyond - base)[0]
    return Pose(np.column_stack([line, np.cross(normal[0], line), normal[0]]), base[0] - line)
