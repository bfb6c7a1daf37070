"""A blank formed by bends: which regions it falls into, where each goes, and back from space to the blank.

flat        what no bend covers; each piece of it keeps still or is carried along
bent        the band of a bend, w wide, from where it begins to where it ends
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from fabplan.errors import FormingError
from fabplan.geom.bend import Bend, curl, uncurl
from fabplan.geom.pose import compose, inverse, to_outer, to_own, turned
from fabplan.model.arrays import FloatArray, IntArray, floats
from fabplan.model.pose import Pose

BEYOND = 1.0  # mm by which a fold line may stop short of the edge and still be meant to cross the plate
TOUCH = 1e-3  # mm beside a band, where its neighbours are looked for
SHARED = 0.05  # mm, least length of a common edge
LEAST = 1e-3  # mm2, under which a piece of a blank is a sliver of rounding


@dataclass(frozen=True, slots=True, eq=False)
class BendLine:
    """A bend on the blank: the middle of its band from (2,) to (2,), mm, and what is done there."""

    name: str
    start: FloatArray
    end: FloatArray
    bend: Bend


@dataclass(frozen=True, slots=True, eq=False)
class Region:
    """One region of a formed blank.

    Attributes:
        face: its part of the blank, mm.
        pose: of the blank's own frame, as the region carries it; of a bent one, of the frame in which its bend begins
            (x along the blank, square to the bend; y along the bend).
        bend: None of a flat region.
        own: of a bent region, the frame in which its bend begins, in the frame of the blank.
        line: number of the bend, -1 of a flat region.
    """

    face: shapely.Polygon
    pose: Pose
    bend: Bend | None = None
    own: Pose = field(default_factory=Pose)
    line: int = -1


@dataclass(frozen=True, slots=True, eq=False)
class Formed:
    """A formed blank: its regions, the still one first, its thickness, mm, and the bends as stated."""

    regions: tuple[Region, ...]
    thickness: float
    lines: tuple[BendLine, ...] = ()


def form(face: BaseGeometry, thickness: float, lines: Sequence[BendLine], still: FloatArray | None = None) -> Formed:
    """Form a blank.

    Args:
        face: the blank with its cut-outs, mm.
        thickness: mm.
        lines: the bends.
        still: (2,) a point of the flat piece that keeps still; None takes the largest.

    Raises:
        FormingError: bands overlap, a bend does not run from edge to edge, or two ways round a cut-out disagree.
    """
    bands = [_band(line) for line in lines]
    _apart(lines, bands)
    flats = _pieces(face.difference(shapely.union_all(bands)))
    bents = [(piece, number) for number, band in enumerate(bands) for piece in _pieces(face.intersection(band))]
    if not flats:
        raise FormingError("no flat piece is left between the bends", "Look at their lines and radii.")
    first = _still(flats, still)
    return Formed(_carried(flats, bents, lines, first), thickness, tuple(lines))


def whole_roll(face: shapely.Polygon, bend: Bend, along_x: bool) -> Formed:
    """A blank rolled from end to end; its least edge across the rolls keeps its place. `along_x`: rolls lie along x."""
    x0, y0, x1, y1 = face.bounds
    own = _frame(np.array([x0, y0]), np.array([0.0, 1.0]) if along_x else np.array([1.0, 0.0]))
    middle = np.array([(x0 + x1) / 2.0, (y0 + y1) / 2.0])
    ends = [[x0, middle[1]], [x1, middle[1]]] if along_x else [[middle[0], y0], [middle[0], y1]]
    line = BendLine("the whole plate", np.array(ends[0]), np.array(ends[1]), bend)
    return Formed((Region(face, own, bend, own, 0),), bend.thickness, (line,))


def _frame(origin: FloatArray, across: FloatArray) -> Pose:
    """The frame in which a bend begins: x across it, y along it, z off the marked face."""
    rotation = np.array([[across[0], -across[1], 0.0], [across[1], across[0], 0.0], [0.0, 0.0, 1.0]])
    return Pose(rotation, np.append(origin, 0.0))


def _along(line: BendLine) -> FloatArray:
    way = line.end - line.start
    size = float(np.hypot(*way))
    if not size > 0.0:
        raise FormingError(f"the line of {line.name} has no length", "Draw it from edge to edge.")
    unit: FloatArray = way / size
    return unit


def _across(line: BendLine) -> FloatArray:
    x, y = _along(line)
    return np.array([y, -x])


def _band(line: BendLine) -> shapely.Polygon:
    along, half = _along(line), _across(line) * line.bend.width / 2.0
    start, end = line.start - BEYOND * along, line.end + BEYOND * along
    return shapely.Polygon([start - half, end - half, end + half, start + half])


def _apart(lines: Sequence[BendLine], bands: Sequence[shapely.Polygon]) -> None:
    for i, band in enumerate(bands):
        for k in range(i + 1, len(bands)):
            if band.intersection(bands[k]).area > LEAST:
                what = f"the bent zones of {lines[i].name} and {lines[k].name} run into one another"
                raise FormingError(what, "Set the lines further apart, or take a smaller radius.")


def _pieces(shape: shapely.Geometry) -> list[shapely.Polygon]:
    return [part for part in shapely.get_parts(shape) if part.geom_type == "Polygon" and part.area > LEAST]


def _still(flats: Sequence[shapely.Polygon], still: FloatArray | None) -> int:
    if still is None:
        return int(np.argmax([piece.area for piece in flats]))
    inside = [k for k, piece in enumerate(flats) if shapely.contains_xy(piece, *still)]
    if not inside:
        raise FormingError("the point of the still piece lies on no flat piece", "Name a point between the bends.")
    return inside[0]


def _carried(
    flats: Sequence[shapely.Polygon],
    bents: Sequence[tuple[shapely.Polygon, int]],
    lines: Sequence[BendLine],
    first: int,
) -> tuple[Region, ...]:
    """All regions, each carried along from the still piece."""
    sides = [_sides(piece, lines[number], flats) for piece, number in bents]
    poses: dict[int, Pose] = {first: Pose()}
    regions, done, waiting = [Region(flats[first], Pose())], set(), [first]
    while waiting:
        here = waiting.pop(0)
        for k, (piece, number) in enumerate(bents):
            if k in done or not (here in sides[k][0] or here in sides[k][1]):
                continue
            if set(sides[k][0]) & set(sides[k][1]):
                raise FormingError(
                    f"{lines[number].name} does not run from edge to edge", "Draw its line right across."
                )
            done.add(k)
            near = 0 if here in sides[k][0] else 1
            own, beyond = _beginning(lines[number], near)
            regions.append(Region(piece, compose(poses[here], own), lines[number].bend, own, number))
            after = compose(compose(poses[here], own), beyond)
            for other, pose in [(f, poses[here]) for f in sides[k][near]] + [(f, after) for f in sides[k][1 - near]]:
                if other not in poses:
                    poses[other] = pose
                    regions.append(Region(flats[other], pose))
                    waiting.append(other)
                elif not _same(poses[other], pose):
                    what = f"two ways round lead to different places beyond {lines[number].name}"
                    raise FormingError(what, "Cut the blank open there, or look at the angles.")
    if len(poses) < len(flats):
        raise FormingError("a piece of the blank hangs on no bend", "Look where the lines of the bends end.")
    return tuple(regions)


def _sides(piece: shapely.Polygon, line: BendLine, flats: Sequence[shapely.Polygon]) -> tuple[list[int], list[int]]:
    """Flat pieces that touch a bent one on either side of its band."""
    along, half = _along(line), _across(line) * (line.bend.width / 2.0)
    middle = (line.start + line.end) / 2.0
    reach = along * (float(np.hypot(*(line.end - line.start))) / 2.0 + BEYOND)
    found = []
    for side in (-1.0, 1.0):
        inner, outer = (
            shapely.LineString([at - reach, at + reach])
            for at in (middle + side * half * (1.0 - TOUCH / max(line.bend.width, TOUCH)), middle + side * _out(half))
        )
        own = piece.intersection(inner).buffer(3.0 * TOUCH)
        found.append([k for k, flat in enumerate(flats) if flat.intersection(outer).intersection(own).length > SHARED])
    return found[0], found[1]


def _out(half: FloatArray) -> FloatArray:
    grown: FloatArray = half * (1.0 + TOUCH / max(float(np.hypot(*half)), TOUCH))
    return grown


def _beginning(line: BendLine, near: int) -> tuple[Pose, Pose]:
    """The frame in which a bend begins on its near side, and the blank's frame beyond it, in that frame."""
    across = _across(line) * (1.0 if near == 0 else -1.0)
    own = _frame(line.start - across * line.bend.width / 2.0, across)
    return own, compose(_turned(line.bend), inverse(own))


def _turned(bend: Bend) -> Pose:
    """Where the blank goes that lies beyond a bend: from the frame in which it begins, into that frame."""
    cosine, sine, c = np.cos(bend.angle), np.sin(bend.angle), bend.centre
    rotation = np.array([[cosine, 0.0, -sine], [0.0, 1.0, 0.0], [sine, 0.0, cosine]])
    end = np.array([c * sine, 0.0, c - c * cosine])
    return Pose(rotation, end - rotation @ np.array([bend.width, 0.0, 0.0]))


def _same(one: Pose, other: Pose) -> bool:
    return bool(
        np.allclose(one.rotation, other.rotation, atol=1e-9) and np.allclose(one.origin, other.origin, atol=1e-6)
    )


def region_of(formed: Formed, xy: FloatArray) -> IntArray:
    """(n,) number of the region in which each point (n, 2) of the blank lies, the nearest for a point beside all."""
    points = shapely.points(xy)
    away = np.array([shapely.distance(region.face, points) for region in formed.regions])
    nearest: IntArray = np.argmin(away, axis=0)
    return nearest


def to_space(formed: Formed, xy: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where points of the blank go: places (n, 3), mm, and normals (n, 3) off the marked face.

    Args:
        formed: the formed blank.
        xy: (n, 2) on the blank, mm.
        z: (n,) over the marked face, mm; negative in the metal.
    """
    place, normal = np.zeros((len(xy), 3)), np.zeros((len(xy), 3))
    home = region_of(formed, xy)
    for number, region in enumerate(formed.regions):
        here = home == number
        place[here], normal[here] = _placed(region, xy[here], z[here])
    return place, normal


def _placed(region: Region, xy: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Places (n, 3) and normals (n, 3) of points of one region."""
    blank = np.column_stack([xy, z])
    if region.bend is None:
        return to_outer(region.pose, blank), np.tile(region.pose.rotation[:, 2], (len(xy), 1))
    own = to_own(region.own, blank)
    x, height, turn = curl(region.bend, own[:, 0], own[:, 2])
    normal = np.column_stack([-np.sin(turn), np.zeros(len(turn)), np.cos(turn)])
    return to_outer(region.pose, np.column_stack([x, own[:, 1], height])), turned(region.pose, normal)


def to_blank(
    formed: Formed, place: FloatArray, home: IntArray | None = None
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Back from space to the blank: (n, 2) mm, (n,) over the marked face, and (n,) how far beside the metal, mm.

    Args:
        formed: the formed blank.
        place: (n, 3) in space, mm.
        home: (n,) number of the region of each point; None takes the one whose metal it is in, or nearest to.
    """
    xy, z, beside = np.zeros((len(place), 2)), np.zeros(len(place)), np.full(len(place), np.inf)
    for number, region in enumerate(formed.regions):
        blank = _back(region, place)
        away = np.asarray(shapely.distance(region.face, shapely.points(blank[:, :2])))
        out = np.hypot(away, np.maximum(np.maximum(blank[:, 2], -formed.thickness - blank[:, 2]), 0.0))
        better = out < beside - 1e-12 if home is None else home == number
        xy[better], z[better], beside[better] = blank[better, :2], blank[better, 2], out[better]
    return floats(xy), floats(z), floats(beside)


def _back(region: Region, place: FloatArray) -> FloatArray:
    if region.bend is None:
        return to_own(region.pose, place)
    own = to_own(region.pose, place)
    u, z = uncurl(region.bend, own[:, 0], own[:, 2])
    return to_outer(region.own, np.column_stack([u, own[:, 1], z]))


def overall(formed: Formed) -> FloatArray:
    """Size (3,) of a formed blank over both faces, along the axes of its still piece, mm; of rounds within 0.1 %."""
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    for region in formed.regions:
        step = region.bend.width / 90.0 if region.bend else float("inf")
        line = region.face.exterior if region.bend is None else shapely.segmentize(region.face.exterior, step)
        xy = np.asarray(line.coords)
        for z in (0.0, -formed.thickness):
            place = _placed(region, xy, np.full(len(xy), z))[0]
            low, high = np.minimum(low, place.min(axis=0)), np.maximum(high, place.max(axis=0))
    size: FloatArray = high - low
    return size
