"""Prisms in space: where a plane cuts them, and whether two pass through each other."""

from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.profile import flattened
from fabplan.geom.taper import uncovered
from fabplan.geom.tolerance import CAPTURE, CLASH, FIGURE, SAGITTA, TOUCH
from fabplan.model.arrays import BoolArray, FloatArray, floats
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile

LEVEL = 1.0 - 1e-4
"""Cosine of 0.8 degrees: plates further off parallel do not lie against one another."""

THIN = 0.05
"""A cut through a slanted prism narrower than this, mm, is taken as upright: a quarter of the clash tolerance."""


def polygon(outline: Profile, cutouts: tuple[Profile, ...] = ()) -> shapely.Polygon:
    """The face of a panel as a polygon, arcs as chords within `SAGITTA`.

    Of a face that openings running into one another, or over its edge, leave in several parts it is the largest.
    """
    edge, holes = flattened(outline, SAGITTA), [flattened(cutout, SAGITTA) for cutout in cutouts]
    face = shapely.Polygon(edge, holes)
    if not holes or face.is_valid:
        return face
    left = shapely.difference(shapely.Polygon(edge), shapely.union_all([shapely.Polygon(hole) for hole in holes]))
    return max(shapely.get_parts(left), key=shapely.area, default=face)


def profiles(face: shapely.Polygon) -> tuple[Profile, tuple[Profile, ...]]:
    """A polygon as closed lines: outline and cut-outs, all spans straight."""
    rings = [np.asarray(line.coords)[:-1] for line in (face.exterior, *face.interiors)]
    outline, *cutouts = [Profile(ring, np.zeros(len(ring))) for ring in rings]
    return outline, tuple(cutouts)


@dataclass(frozen=True, slots=True, eq=False)
class Solid:
    """One panel ready for questions of place, in the frame around it (that of its part, or of the body).

    Attributes:
        frame: pose of the panel's own frame.
        face: polygon of outline less cut-outs, in the panel's frame; holes of rivets are left filled.
        thickness: mm; metal at z in [-thickness, 0] of the panel's frame.
        corners: (2 n, 3) vertices of both faces, mm, in the frame around.
        middle: (3,) centre of the metal, in the frame around.
        volume: mm3.
    """

    frame: Pose
    face: shapely.Polygon
    thickness: float
    corners: FloatArray = field(init=False)
    box: FloatArray = field(init=False)
    middle: FloatArray = field(init=False)
    volume: float = field(init=False)

    def __post_init__(self) -> None:
        """Work out what every question needs once."""
        ring = np.asarray(self.face.exterior.coords)[:-1]
        both = np.vstack([np.column_stack([ring, np.full(len(ring), z)]) for z in (0.0, -self.thickness)])
        x0, y0, x1, y1 = self.face.bounds
        box = np.array([[x, y, z] for x in (x0, x1) for y in (y0, y1) for z in (-self.thickness, 0.0)])
        centre = self.face.centroid
        object.__setattr__(self, "corners", floats(to_outer(self.frame, both)))
        object.__setattr__(self, "box", floats(box))
        middle = np.array([centre.x, centre.y, -self.thickness / 2.0])
        object.__setattr__(self, "middle", floats(to_outer(self.frame, middle)))
        object.__setattr__(self, "volume", float(self.face.area * self.thickness))


def solid(panel: Panel, place: Pose | None = None) -> Solid:
    """The solid of a panel, in the frame of its part, or of the body where the part's pose is given."""
    frame = panel.frame if place is None else compose(place, panel.frame)
    return Solid(frame, polygon(panel.outline, panel.cutouts), panel.thickness)


def thick(panel: Panel, place: Pose | None = None) -> Solid:
    """The solid of a panel without what is thinned of it: there another plate lies over it, sprung or set."""
    whole = solid(panel, place)
    return whole if not panel.tapers else Solid(whole.frame, uncovered(whole.face, panel), whole.thickness)


def clash(one: Solid, pose_one: Pose, two: Solid, pose_two: Pose, depth: float = CLASH) -> bool:
    """True where two solids, each in a frame of its own, run into one another by more than `depth` mm every way."""
    frame_one, frame_two = compose(pose_one, one.frame), compose(pose_two, two.frame)
    if _boxes_apart(one, frame_one, two, frame_two, depth) or _boxes_apart(two, frame_two, one, frame_one, depth):
        return False
    return _runs_into(one, frame_one, two, frame_two, depth) or _runs_into(two, frame_two, one, frame_one, depth)


def _boxes_apart(one: Solid, frame_one: Pose, two: Solid, frame_two: Pose, depth: float) -> bool:
    """True where the box of `two`, seen in the frame of `one`, stays clear of the box of `one`."""
    seen = to_outer(compose(inverse(frame_one), frame_two), two.box)
    low, high = one.box.min(axis=0) + depth, one.box.max(axis=0) - depth
    return bool(np.any(seen.min(axis=0) >= high) or np.any(seen.max(axis=0) <= low))


def _runs_into(one: Solid, frame_one: Pose, two: Solid, frame_two: Pose, depth: float) -> bool:
    """True where `two` crosses one of three levels within `one`: the middle and just under each face."""
    seen = compose(inverse(frame_one), frame_two)
    levels = (-one.thickness / 2.0, -min(depth, one.thickness / 2.0), -one.thickness + min(depth, one.thickness / 2.0))
    for level in dict.fromkeys(levels):
        common = one.face.intersection(section(two, seen, level))
        if common.area > 0.0 and not common.buffer(-depth / 2.0).is_empty:
            return True
    return False


def bare_holes(one: Solid, pose_one: Pose, drilled: FloatArray, two: Solid, pose_two: Pose, holes: FloatArray) -> int:
    """How many holes of one panel lie flat against metal of another that has no hole there.

    Args:
        one: the panel whose metal it is, in the frame of its piece, and the pose of that piece.
        pose_one: of it.
        drilled: (m, 2) its own holes, in its panel's frame, mm.
        two: the panel with the holes.
        pose_two: of its piece.
        holes: (n, 2) in its panel's frame, mm.
    """
    seen = compose(inverse(compose(pose_one, one.frame)), compose(pose_two, two.frame))
    cosine = float(seen.rotation[2, 2])
    low, high = sorted((float(seen.origin[2]), float(seen.origin[2]) - cosine * two.thickness))
    if not len(holes) or abs(cosine) < LEVEL or not min(abs(low), abs(high + one.thickness)) <= TOUCH:
        return 0
    points = to_outer(seen, np.column_stack([holes, np.zeros(len(holes))]))[:, :2]
    over = shapely.contains_xy(one.face, points)
    if over.any() and len(drilled):
        over &= np.linalg.norm(points[:, None] - drilled[None], axis=2).min(axis=1) > CAPTURE
    return int(over.sum())


def section(cut: Solid, seen: Pose, level: float) -> BaseGeometry:
    """Where the plane z = `level` cuts the metal of `cut`, whose panel frame has the pose `seen`: areas in that plane.

    A face that lies in the plane is not cut.
    """
    rotation, origin = seen.rotation, seen.origin
    slope = rotation[2, :2]
    steep = float(np.hypot(*slope))
    if steep * max(np.ptp(cut.box[:, 0]), np.ptp(cut.box[:, 1])) < THIN:  # parallel
        low, high = sorted((float(origin[2]), float(origin[2] - rotation[2, 2] * cut.thickness)))
        if not low < level < high:
            return shapely.Polygon()
        return _mapped(cut.face, rotation[:2, :2], origin[:2] - rotation[:2, 2] * cut.thickness / 2.0)
    up, along = slope / steep, np.array([-slope[1], slope[0]]) / steep
    reach = (level - float(origin[2]) - rotation[2, 2] * np.array([-cut.thickness, 0.0])) / steep
    half = float(np.abs(cut.box).max()) * 2.0
    if abs(reach[1] - reach[0]) < THIN:
        return _upright(cut, seen, float(reach.mean()) * up, along * half)
    ends = np.array([reach[0] * up - half * along, reach[0] * up + half * along])
    ends = np.vstack([ends, np.array([reach[1] * up + half * along, reach[1] * up - half * along])])
    strip = cut.face.intersection(shapely.Polygon(ends))
    # within the strip w follows from the height above the plane: w = (level - origin_z - slope . uv) / r22
    lift = 1.0 / rotation[2, 2]
    linear = rotation[:2, :2] - np.outer(rotation[:2, 2], slope) * lift
    shift = origin[:2] + rotation[:2, 2] * (level - origin[2]) * lift
    return _mapped(strip, linear, shift)


def _upright(cut: Solid, seen: Pose, foot: FloatArray, half: FloatArray) -> BaseGeometry:
    """The cut through a prism that stands upright on the plane: the chords of its face, as thick as the prism."""
    chords = cut.face.intersection(shapely.LineString([foot - half, foot + half]))
    areas = []
    for chord in shapely.get_parts(chords):
        if chord.geom_type == "LineString" and chord.length > 0.0:
            (u0, v0), (u1, v1) = chord.coords[0], chord.coords[-1]
            thick = -cut.thickness
            corners = np.array([[u0, v0, 0.0], [u1, v1, 0.0], [u1, v1, thick], [u0, v0, thick]])
            areas.append(shapely.Polygon(to_outer(seen, corners)[:, :2]))
    return shapely.MultiPolygon(areas)


def _mapped(shape: BaseGeometry, linear: FloatArray, shift: FloatArray) -> BaseGeometry:
    return shapely.transform(shape, lambda points: points @ linear.T + shift)


def contains(face: shapely.Polygon, xy: FloatArray) -> BoolArray:
    """(n,) True for points (n, 2) inside a polygon; its edge counts as outside."""
    shapely.prepare(face)
    inside: BoolArray = np.asarray(shapely.contains_xy(face, xy[:, 0], xy[:, 1]), dtype=np.bool_).reshape(len(xy))
    return inside


def reaches(face: shapely.Polygon, xy: FloatArray, radius: FloatArray) -> BoolArray:
    """(n,) True for discs at (n, 2) of radii (n,), mm, that a polygon covers in part; touching it is clear."""
    away = np.asarray(shapely.distance(face, shapely.points(xy)), dtype=np.float64).reshape(len(xy))
    return contains(face, xy) | (away < radius - FIGURE)
