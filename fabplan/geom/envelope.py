"""Rods and bars against panels, pair by pair: whether a piece of a tool runs into the metal. Whole arrays at a time."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely

from fabplan.geom.prism import Solid
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

Shapes = npt.NDArray[np.object_]

SIDES = 32  # of the prism drawn round a slanted piece
UPRIGHT, LEVEL = 1.0 - 1e-9, 1e-9  # cosines of an axis square to, or along, a plate
ROUND = 2.0 * np.pi * np.arange(SIDES) / SIDES
BLOCK = 20_000  # pieces looked at at a time
OUT = 1.0 / np.cos(np.pi / SIDES)  # corners of the prism stand so much further out than the round


@dataclass(frozen=True, slots=True, eq=False)
class Metal:
    """k panels as arrays, in the body frame, mm.

    Attributes:
        rotation: (k, 3, 3) of the panels' own frames.
        origin: (k, 3).
        thickness: (k,).
        faces: (k,) polygons, prepared.
        least, most: (k, 3) corners of the boxes in the panels' own frames.
        low, high: (k, 3) corners of the boxes in the body frame.
    """

    rotation: FloatArray
    origin: FloatArray
    thickness: FloatArray
    faces: Shapes
    least: FloatArray
    most: FloatArray
    low: FloatArray
    high: FloatArray


def metal(solids: Sequence[Solid]) -> Metal:
    """Panels in the body frame, made ready for many questions."""
    faces = np.array([one.face for one in solids], dtype=np.object_)
    shapely.prepare(faces)
    return Metal(
        np.array([one.frame.rotation for one in solids]).reshape(-1, 3, 3),
        np.array([one.frame.origin for one in solids]).reshape(-1, 3),
        np.array([one.thickness for one in solids]),
        faces,
        np.array([one.box.min(axis=0) for one in solids]).reshape(-1, 3),
        np.array([one.box.max(axis=0) for one in solids]).reshape(-1, 3),
        np.array([one.corners.min(axis=0) for one in solids]).reshape(-1, 3),
        np.array([one.corners.max(axis=0) for one in solids]).reshape(-1, 3),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Rods:
    """n pieces of tools: round rods along an axis, or bars with round ends, as a rod drawn sideways leaves them; mm.

    Attributes:
        start: (n, 3) start of each axis.
        axis: (n, 3) unit vectors.
        length: (n,) along the axis.
        radius: (n,).
        across: (n, 3) square to the axis, how far and which way it is drawn; 0 for a rod.
    """

    start: FloatArray
    axis: FloatArray
    length: FloatArray
    radius: FloatArray
    across: FloatArray

    def take(self, index: IntArray) -> "Rods":
        """Some of them, in the order of `index`."""
        return Rods(self.start[index], self.axis[index], self.length[index], self.radius[index], self.across[index])

    @property
    def bars(self) -> BoolArray:
        """(n,) True for bars."""
        return np.asarray(np.any(self.across != 0.0, axis=1), dtype=np.bool_)

    def boxes(self) -> tuple[FloatArray, FloatArray]:
        """Least and greatest corners (n, 3) of the boxes round them, mm."""
        end = self.start + self.axis * self.length[:, None]
        spread = self.radius[:, None] * np.sqrt(np.maximum(1.0 - self.axis**2, 0.0))
        low, high = np.minimum(self.start, end), np.maximum(self.start, end)
        return low + np.minimum(self.across, 0.0) - spread, high + np.maximum(self.across, 0.0) + spread


def pairs_near(low: FloatArray, high: FloatArray, panels: Metal) -> tuple[IntArray, IntArray]:
    """Pairs (box, panel) whose boxes meet, by box; all else need not be looked at. Corners (n, 3), mm."""
    around = np.asarray(shapely.box(*panels.low[:, :2].T, *panels.high[:, :2].T), dtype=np.object_)
    box, panel = shapely.STRtree(around).query(shapely.box(*low[:, :2].T, *high[:, :2].T))
    met = (low[box, 2] <= panels.high[panel, 2]) & (high[box, 2] >= panels.low[panel, 2])
    order = np.lexsort((panel[met], box[met]))
    return box[met][order].astype(np.int64), panel[met][order].astype(np.int64)


def rods_hit(panels: Metal, panel: IntArray, rods: Rods, group: IntArray) -> IntArray:
    """The groups, each once, in which a piece runs into the metal of its panel.

    The part of a piece that lies between the two faces of the plate, seen square to the plate, is a disc or a slot, a
    strip, or for a slanted piece the outline of a prism drawn round it: never too small. It meets the metal where that
    shape meets the plate's face. Touching it is clear.

    Args:
        panels: all panels.
        panel: (n,) which of them each piece is held against.
        rods: n pieces, in the body frame.
        group: (n,) what is asked about: where one pair of a group is found to meet, its others are not looked at.
    """
    return seen_hit(panels, panel, in_panels(panels, panel, rods), group)


def seen_hit(panels: Metal, panel: IntArray, own: Rods, group: IntArray) -> IntArray:
    """The same for pieces in the frames of their panels."""
    index = boxes_near(panels, panel, own)
    steep = np.abs(own.axis[index, 2])
    slanted = index[(steep >= LEVEL) & (steep <= UPRIGHT)]
    slanted = slanted[_boxes_meet(panels, panel[slanted], own.take(slanted))]
    found = np.zeros(group.max(initial=-1) + 1, dtype=np.bool_)
    for asked, meets in (
        (index[steep > UPRIGHT], _upright_meets),
        (index[steep < LEVEL], _level_meets),
        (slanted, _middle_meets),
        (slanted, _edges_meet),
        (slanted, _slanted_meets),
    ):
        left = asked[~found[group[asked]]]
        for first in range(0, len(left), BLOCK):
            part = left[first : first + BLOCK]
            hit = meets(panels.faces[panel[part]], panels.thickness[panel[part]], own.take(part))
            found[group[part[hit]]] = True
    return np.nonzero(found)[0]


def boxes_near(panels: Metal, panel: IntArray, own: Rods) -> IntArray:
    """Of pieces in the frames of their panels (n,) those whose boxes come into the boxes of the panels."""
    low, high = own.boxes()
    apart = (low >= panels.most[panel] - FIGURE) | (high <= panels.least[panel] + FIGURE)
    return np.nonzero(~(apart[:, 0] | apart[:, 1] | apart[:, 2]))[0]


def _boxes_meet(panels: Metal, panel: IntArray, own: Rods) -> BoolArray:
    """(n,) True where the box of a panel meets that of a piece along the piece's own directions."""
    least, most = panels.least[panel], panels.most[panel]
    far = np.linalg.norm(own.across, axis=1)
    across = np.where(far[:, None] > 0.0, own.across / np.maximum(far, FIGURE)[:, None], _square_to(own.axis))
    zero = np.zeros(len(far))
    met = np.ones(len(far), dtype=np.bool_)
    for way, low, high in (
        (own.axis, zero, own.length),
        (across, -own.radius, own.radius + far),
        (np.cross(own.axis, across), -own.radius, own.radius),
    ):
        middle = np.sum(((least + most) / 2.0 - own.start) * way, axis=1)
        half = np.sum((most - least) / 2.0 * np.abs(way), axis=1)
        met &= (middle - half < high) & (middle + half > low)
    return met


def _square_to(axis: FloatArray) -> FloatArray:
    """A unit vector (n, 3) square to each axis."""
    first = np.cross(np.eye(3)[np.abs(axis).argmin(axis=1)], axis)
    return np.asarray(first / np.linalg.norm(first, axis=1)[:, None])


def in_panels(panels: Metal, panel: IntArray, rods: Rods) -> Rods:
    """The pieces in the frames of their panels."""
    rotation = panels.rotation[panel]

    def turned(vectors: FloatArray) -> FloatArray:
        return np.asarray(np.matmul(vectors[:, None, :], rotation)[:, 0, :])

    return Rods(
        turned(rods.start - panels.origin[panel]), turned(rods.axis), rods.length, rods.radius, turned(rods.across)
    )


def _upright_meets(faces: Shapes, thickness: FloatArray, own: Rods) -> BoolArray:
    """Pieces square to the plate: a disc, or a slot, round a line."""
    ends = np.stack([own.start[:, :2], (own.start + own.across)[:, :2]], axis=1)
    return _within(faces, ends, own.radius - FIGURE)


def _level_meets(faces: Shapes, thickness: FloatArray, own: Rods) -> BoolArray:
    """Pieces along the plate: the strip that the slab cuts from each, seen from above."""
    way = own.axis[:, :2] / np.linalg.norm(own.axis[:, :2], axis=1)[:, None]
    side = np.column_stack([-way[:, 1], way[:, 0]])
    least, most = _in_slab(thickness, own, side)
    left, right = (side * edge[:, None] for edge in (least + FIGURE, most - FIGURE))
    near, far = own.start[:, :2], own.start[:, :2] + way * own.length[:, None]
    strips = shapely.polygons(np.stack([near + left, far + left, far + right, near + right], axis=1))
    wide = most - least > 2.0 * FIGURE
    return np.asarray(shapely.intersects(faces, strips), dtype=np.bool_) & wide


def _in_slab(thickness: FloatArray, own: Rods, side: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far the part of a piece along the plate that lies between its faces goes to each side of the start, mm."""
    drawn = np.stack([np.sum(own.across[:, :2] * side, axis=1), own.across[:, 2]], axis=1)
    first = np.stack([np.zeros(len(drawn)), own.start[:, 2]], axis=1)
    least, most = _round_in_slab(thickness, first, own.radius)
    bars = np.nonzero(own.bars)[0]
    if len(bars):
        first, drawn = first[bars], drawn[bars]
        ends = _round_in_slab(thickness[bars], first + drawn, own.radius[bars])
        out = np.column_stack([-drawn[:, 1], drawn[:, 0]])
        out *= (own.radius[bars] / np.linalg.norm(drawn, axis=1))[:, None]
        corners = np.stack([first + out, first + drawn + out, first + drawn - out, first - out], axis=1)
        points, within = _clipped(corners, np.roll(corners, -1, axis=1), thickness[bars])
        for edge, other, choose in ((least, ends[0], np.fmin), (most, ends[1], np.fmax)):
            along = choose.reduce(np.where(within, points[..., 0], np.nan), axis=1)
            edge[bars] = choose(choose(edge[bars], other), along)
    return least, most


def _round_in_slab(thickness: FloatArray, middle: FloatArray, radius: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Least and greatest place along the slab of rounds about middles (n, 2) within it; NaN for those beside it."""
    off = np.maximum(np.maximum(middle[:, 1], -thickness - middle[:, 1]), 0.0)
    with np.errstate(invalid="ignore"):
        half = np.sqrt(radius**2 - off**2)
    return middle[:, 0] - half, middle[:, 0] + half


def _middle_meets(faces: Shapes, thickness: FloatArray, own: Rods) -> BoolArray:
    """Slanted pieces of which the middle line meets the metal, of bars one of three: these need no prism."""
    return _drawn_meet(faces, thickness, own, np.zeros_like(own.start))


def _edges_meet(faces: Shapes, thickness: FloatArray, own: Rods) -> BoolArray:
    """Slanted pieces of which one of four edges of the prism drawn round them meets the metal."""
    first, hit = _square_to(own.axis), np.zeros(len(thickness), dtype=np.bool_)
    second = np.cross(own.axis, first)
    for side in (first, second, -first, -second):
        left = np.nonzero(~hit)[0]
        out = (own.radius[left] * OUT)[:, None] * side[left]
        hit[left] = _drawn_meet(faces[left], thickness[left], own.take(left), out)
    return hit


def _drawn_meet(faces: Shapes, thickness: FloatArray, own: Rods, out: FloatArray) -> BoolArray:
    """(n,) True where a line along a piece, `out` (n, 3) of its middle, meets the metal; of a bar three of them."""
    hit, zero = np.zeros(len(thickness), dtype=np.bool_), np.zeros(len(thickness))
    for share in (0.0, 0.5, 1.0) if own.bars.any() else (0.0,):
        start = own.start + share * own.across + out
        hit |= _lines_meet(faces, (start, start + own.axis * own.length[:, None]), (-thickness, zero), zero)
    return hit


def _slanted_meets(faces: Shapes, thickness: FloatArray, own: Rods) -> BoolArray:
    """Slanted pieces: a prism drawn round each, clipped to the slab, its outline from above."""
    hit = np.zeros(len(thickness), dtype=np.bool_)
    index = np.nonzero(_may_meet(faces, thickness, own))[0]
    for of in (index[own.bars[index]], index[~own.bars[index]]):
        if len(of):
            hit[of] = shapely.intersects(faces[of], _outlines(thickness[of], own.take(of)))
    return hit


def _may_meet(faces: Shapes, thickness: FloatArray, own: Rods) -> BoolArray:
    """(n,) False for rods of which the part near the slab stays further from the face than their radius."""
    start, end = own.start, own.start + own.axis * own.length[:, None]
    around = own.radius * OUT
    spread = around * np.sqrt(np.maximum(1.0 - own.axis[:, 2] ** 2, 0.0))
    return own.bars | _lines_meet(faces, (start, end), (-thickness - spread, spread), around)


def _lines_meet(
    faces: Shapes, line: tuple[FloatArray, FloatArray], levels: tuple[FloatArray, FloatArray], away: FloatArray
) -> BoolArray:
    """(n,) True where the part of a slanted line between two levels comes within `away` of the face."""
    start, way = line[0], line[1] - line[0]
    shares = np.stack([(level - start[:, 2]) / way[:, 2] for level in levels])
    first, last = np.maximum(shares.min(axis=0), 0.0), np.minimum(shares.max(axis=0), 1.0)
    met = first <= last
    index = np.nonzero(met)[0]
    share = np.stack([first[index], last[index]], axis=1)
    ends = start[index, None, :2] + share[:, :, None] * way[index, None, :2]
    met[index] = _within(faces[index], ends, away[index])
    return np.asarray(met, dtype=np.bool_)


def _within(faces: Shapes, ends: FloatArray, away: FloatArray) -> BoolArray:
    """(n,) True for lines (n, 2, 2) that come within `away` (n,) of a face."""
    lines = np.asarray(shapely.points(ends[:, 0]), dtype=np.object_)
    # a line of no length is taken as a point: a prepared polygon answers wrongly about such a line
    long = np.nonzero(np.any(np.abs(ends[:, 1] - ends[:, 0]) > FIGURE, axis=1))[0]
    lines[long] = shapely.linestrings(ends[long])
    return np.asarray(shapely.dwithin(faces, lines, away), dtype=np.bool_)  # type: ignore[call-overload]


def _outlines(thickness: FloatArray, own: Rods) -> Shapes:
    """Convex outlines, seen from above, of the parts in the slab of prisms drawn round pieces."""
    bars, first = own.bars.any(), _square_to(own.axis)
    second = np.cross(own.axis, first)
    ring = np.cos(ROUND)[:, None] * first[:, None, :] + np.sin(ROUND)[:, None] * second[:, None, :]
    near = own.start[:, None, :] + ring * (own.radius * OUT)[:, None, None]
    drawn, long = own.across[:, None, :], (own.axis * own.length[:, None])[:, None, :]
    rings = [near, near + long, *((near + drawn, near + drawn + long) if bars else ())]
    edges = [(one, np.roll(one, -1, axis=1)) for one in rings]
    edges += [
        (rings[0], rings[1]),
        *(((rings[2], rings[3]), (rings[0], rings[2]), (rings[1], rings[3])) if bars else ()),
    ]
    starts, ends = (np.concatenate([edge[k] for edge in edges], axis=1) for k in (0, 1))
    points, within = _clipped(starts, ends, thickness)
    owner, place = np.nonzero(within & (within.sum(axis=1) > 1)[:, None])
    empty = np.full(len(thickness), None, dtype=object)
    paths = shapely.linestrings(points[owner, place, :2], indices=owner, out=empty)
    return np.asarray(shapely.convex_hull(paths), dtype=np.object_)


def _clipped(starts: FloatArray, ends: FloatArray, thickness: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Ends of edges, and where edges cross the faces of the slab; the last column is the height.

    Args:
        starts: (n, e, c) corners of a convex solid; every corner is the start of an edge or the end of one.
        ends: (n, e, c).
        thickness: (n,) of the slab below height 0, mm.

    Returns:
        (n, 4 e, c) points, and (n, 4 e) True for those within the slab.
    """
    points, rise = [starts, ends], ends[..., -1] - starts[..., -1]
    for level in (np.zeros(len(thickness)), -thickness):
        share = (level[:, None] - starts[..., -1]) / np.where(rise == 0.0, 1.0, rise)
        points.append(starts + np.clip(share, 0.0, 1.0)[..., None] * (ends - starts))
    every = np.concatenate(points, axis=1)
    within = (every[..., -1] <= FIGURE) & (every[..., -1] >= -thickness[:, None] - FIGURE)
    return every, within
