"""Spans, single straight or round pieces of line, and the same cut drawn twice.

Where two spans run over one another they are cut at each other's ends; of parts that are then the same one is kept.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.drawing.alike import MANY, firsts
from fabplan.drawing.pieces import Piece
from fabplan.geom.near import box_pairs
from fabplan.geom.profile import arc_centres
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

Point = tuple[float, float]
ROUND = 1e-6  # least bulge of an arc; below it a span of 10 m lies within 0.005 mm of its chord
CELL = 64.0 * JOIN  # mm, side of a cell in which points are looked up
BORDER = 1.001 * JOIN / CELL
MOST = 50_000  # pairs of spans of a heap that are cut at each other's ends: what is left is told as it lies


@dataclass(frozen=True, slots=True)
class Span:
    """One span: its two ends (mm), bulge from start to end, chord error, handle."""

    start: Point
    end: Point
    bulge: float
    error: float
    handle: str

    @property
    def chord(self) -> float:
        """Distance between its ends, mm."""
        return math.dist(self.start, self.end)

    @property
    def length(self) -> float:
        """Length along the span, mm."""
        half = 2.0 * math.atan(abs(self.bulge))
        return self.chord * (half / math.sin(half) if half > ROUND else 1.0)

    @property
    def middle(self) -> Point:
        """The point halfway along."""
        (x0, y0), (x1, y1) = self.start, self.end
        return (x0 + x1) / 2.0 + self.bulge * (y1 - y0) / 2.0, (y0 + y1) / 2.0 - self.bulge * (x1 - x0) / 2.0


def spans_of(piece: Piece, scale: float) -> list[Span]:
    """The spans of one piece, corners closer than `JOIN` taken as one; none where the piece has no length."""
    points = np.vstack([piece.points, piece.points[:1]]) if piece.closed else piece.points
    rows = [(x, y) for x, y in (points * scale).tolist()]
    found: list[Span] = []
    here = rows[0]
    for there, bulge in zip(rows[1:], piece.bulges.tolist(), strict=False):
        span = Span(here, there, bulge if abs(bulge) > ROUND else 0.0, piece.error * scale, piece.handle)
        if span.length > JOIN:
            found.append(span)
            here = there
    return found


def without_doubles(spans: Sequence[Span]) -> tuple[list[Span], list[tuple[Span, Span]]]:
    """Spans of which none repeats another, and the pairs of which one was left out.

    Of a heap of spans on one spot those that repeat another whole are left out before any is cut.
    """
    doubled: list[tuple[Span, Span]] = []
    pairs = _near_pairs(spans)
    if pairs is None:
        spans, doubled = _each_once(spans)
        pairs = _near_of_heap(spans)
    cuts, doubtful = _cuts(spans, pairs), set(pairs.ravel().tolist())
    parts = [(part, i in doubtful) for i, whole in enumerate(spans) for part in _parts(whole, cuts.get(i, ()))]
    twins = iter(_twins([part for part, near in parts if near]))
    kept: list[Span] = []
    for part, near in parts:
        twin = next(twins) if near else part
        if twin is part:
            kept.append(part)
        else:
            doubled.append((twin, part))
    return kept, doubled


def _each_once(spans: Sequence[Span]) -> tuple[list[Span], list[tuple[Span, Span]]]:
    """Spans without those that repeat another whole; these, each with the one that it repeats."""
    pairs = list(zip(_twins(spans), spans, strict=True))
    return [span for twin, span in pairs if twin is span], [pair for pair in pairs if pair[0] is not pair[1]]


def _twins(spans: Sequence[Span]) -> list[Span]:
    """For each span the first one that is the same cut; itself where there is none before."""
    ends = np.array([(span.start, span.end, span.middle) for span in spans]).reshape(-1, 3, 2)
    rows = np.hstack([ends[:, 2], np.abs(ends[:, 1] - ends[:, 0]) / 2.0])
    return [spans[k] for k in firsts(rows, JOIN, lambda one, other: _same(spans[one], spans[other]))]


def around(point: Point) -> list[tuple[int, int]]:
    """The cell of a point, and those beside it that hold what is within `JOIN` of it: mostly none."""
    x, y = point[0] / CELL, point[1] / CELL
    own = math.floor(x), math.floor(y)
    low, high = (math.floor(x - BORDER), math.floor(y - BORDER)), (math.floor(x + BORDER), math.floor(y + BORDER))
    if low == high:
        return [own]
    every = [(i, j) for i in range(low[0], high[0] + 1) for j in range(low[1], high[1] + 1)]
    return [own, *(cell for cell in every if cell != own)]


def _same(one: Span, other: Span) -> bool:
    along = math.dist(one.start, other.start) <= JOIN and math.dist(one.end, other.end) <= JOIN
    against = math.dist(one.start, other.end) <= JOIN and math.dist(one.end, other.start) <= JOIN
    return (along or against) and math.dist(one.middle, other.middle) <= JOIN


def _cuts(spans: Sequence[Span], pairs: IntArray) -> dict[int, list[Point]]:
    """Where spans are to be cut, by number: at the ends of others that run over them, each end once."""
    cuts: dict[int, dict[Point, None]] = defaultdict(dict)
    for i, j in pairs.tolist():
        if _over(spans[i], spans[j]):
            cuts[i] |= dict.fromkeys((spans[j].start, spans[j].end))
            cuts[j] |= dict.fromkeys((spans[i].start, spans[i].end))
    return {number: list(points) for number, points in cuts.items()}


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """Spans as columns: ends (n, 2) and bulges (n,); what is `near` is told of pairs of them."""

    start: FloatArray
    end: FloatArray
    bulge: FloatArray

    @property
    def boxes(self) -> tuple[FloatArray, FloatArray]:
        """Lower left and upper right corners (n, 2), (n, 2) of boxes that hold the spans."""
        chord, size = np.linalg.norm(self.end - self.start, axis=1), np.abs(self.bulge)
        # a flat arc lies within its sagitta of the chord, any arc within its diameter
        deep = np.where(size <= 1.0, size * chord / 2.0, chord * (1.0 + size**2) / np.maximum(2.0 * size, ROUND))
        slack = (deep + JOIN / 2.0)[:, None]
        return np.minimum(self.start, self.end) - slack, np.maximum(self.start, self.end) + slack

    def near(self, pairs: IntArray) -> BoolArray:
        """(m,) True for pairs of spans that may run over one another: they are not plainly apart."""
        arcs = (self.bulge != 0.0)[pairs].sum(axis=1)
        apart = np.zeros(len(pairs), dtype=np.bool_)
        apart[arcs == 0] = _lines_apart(self.start, self.end, pairs[arcs == 0])
        apart[arcs == 1] = _off_circle(self.start, self.end, self.bulge, pairs[arcs == 1])
        apart[arcs == 2] = _circles_apart(self.start, self.end, self.bulge, pairs[arcs == 2])
        return ~apart


def _table(spans: Sequence[Span]) -> _Table:
    ends = np.array([(span.start, span.end) for span in spans]).reshape(-1, 2, 2)
    return _Table(ends[:, 0], ends[:, 1], np.array([span.bulge for span in spans], dtype=np.float64))


def _near_pairs(spans: Sequence[Span]) -> IntArray | None:
    """Pairs (m, 2) of spans that may run over one another; None where they lie in heaps."""
    table, most = _table(spans), MANY * len(spans)
    pairs = box_pairs(*table.boxes, most)
    return pairs[table.near(pairs)] if len(pairs) <= most else None


def _near_of_heap(spans: Sequence[Span]) -> IntArray:
    """The same of a heap, found a block of pairs at a time: all, up to about `MOST`."""
    table = _table(spans)
    return box_pairs(*table.boxes, MOST, table.near)[:MOST]


def _lines_apart(start: FloatArray, end: FloatArray, pairs: IntArray) -> BoolArray:
    """(m,) True for pairs of straight spans that share less than half of `JOIN`, or lie twice as far off."""
    along = end - start
    size = np.linalg.norm(along, axis=1)
    long = np.where(size[pairs[:, 0]] >= size[pairs[:, 1]], pairs[:, 0], pairs[:, 1])
    short = pairs.sum(axis=1) - long
    slant = np.abs(along[long, 0] * along[short, 1] - along[long, 1] * along[short, 0])
    apart: BoolArray = (size[long] > 3.0 * JOIN) & (slant > 4.0 * JOIN * size[long])
    left = np.nonzero(~apart)[0]
    long, short = long[left], short[left]
    unit = along[long] / size[long, None]
    ends = np.stack([start[short], end[short]], axis=1) - start[long, None]
    reach = np.einsum("kex,kx->ke", ends, unit)
    off = np.abs(unit[:, None, 0] * ends[:, :, 1] - unit[:, None, 1] * ends[:, :, 0]).max(axis=1)
    common = np.minimum(reach.max(axis=1), size[long]) - np.maximum(reach.min(axis=1), 0.0)
    apart[left] = (size[long] > 3.0 * JOIN) & ((off > 2.0 * JOIN) | (common < JOIN / 2.0))
    return apart


def _off_circle(start: FloatArray, end: FloatArray, bulge: FloatArray, pairs: IntArray) -> BoolArray:
    """(m,) True for pairs of a straight and a round span of which the straight one does not end on the round."""
    first = bulge[pairs[:, 0]] != 0.0
    arc, line = np.where(first, pairs[:, 0], pairs[:, 1]), np.where(first, pairs[:, 1], pairs[:, 0])
    centre, radius = arc_centres(start[arc], end[arc], 4.0 * np.arctan(bulge[arc]))
    away = [np.abs(np.hypot(*(own[line] - centre).T) - radius) for own in (start, end)]
    apart: BoolArray = np.maximum(*away) > 3.0 * JOIN
    return apart


def _circles_apart(start: FloatArray, end: FloatArray, bulge: FloatArray, pairs: IntArray) -> BoolArray:
    """(m,) True for pairs of round spans that lie on two circles, and are not all but one span."""
    one, other = pairs[:, 0], pairs[:, 1]
    across = np.column_stack([start[:, 1] - end[:, 1], end[:, 0] - start[:, 0]])
    middle = (start + end) / 2.0
    top = middle - bulge[:, None] / 2.0 * across
    circles = [arc_centres(start[own], end[own], 4.0 * np.arctan(bulge[own])) for own in (one, other)]
    (centre, radius), (beside, like) = circles
    off = (np.hypot(*(centre - beside).T) > 2.0 * JOIN) | (np.abs(radius - like) > 2.0 * JOIN)
    apart: BoolArray = off & (np.hypot(*(top[one] - top[other]).T) > 2.0 * JOIN)
    return apart


def _over(one: Span, other: Span) -> bool:
    """True where two spans share more than `JOIN` of their way."""
    if (one.bulge == 0.0) != (other.bulge == 0.0):
        return False
    long, short = (one, other) if one.length >= other.length else (other, one)
    if one.bulge != 0.0 and not _one_circle(long, short):
        return _same(long, short)
    ends = sorted(_share(long, point) for point in (short.start, short.end))
    middle = _share(long, short.middle)
    if one.bulge != 0.0 and not ends[0] <= middle <= ends[1]:  # the short arc runs past the start of the long one
        return min(middle, 1.0) * long.length > JOIN
    off = max(_off(long, point) for point in (short.start, short.end))
    return off <= JOIN and (min(ends[1], 1.0) - max(ends[0], 0.0)) * long.length > JOIN


def _one_circle(one: Span, other: Span) -> bool:
    (x, y), r = circle_of(one)
    (u, v), s = circle_of(other)
    return math.hypot(u - x, v - y) <= JOIN and abs(s - r) <= JOIN


def circle_of(span: Span) -> tuple[Point, float]:
    """Centre and radius of an arc, mm."""
    (x0, y0), (x1, y1) = span.start, span.end
    high = (1.0 - span.bulge**2) / (4.0 * span.bulge)
    centre = (x0 + x1) / 2.0 - high * (y1 - y0), (y0 + y1) / 2.0 + high * (x1 - x0)
    return centre, math.dist(centre, span.start)


def _share(span: Span, point: Point) -> float:
    """How far along a span a point lies: 0 at its start, 1 at its end; of an arc never less than 0."""
    (x0, y0), (x1, y1) = span.start, span.end
    if span.bulge == 0.0:
        return ((point[0] - x0) * (x1 - x0) + (point[1] - y0) * (y1 - y0)) / span.chord**2
    (x, y), _ = circle_of(span)
    way = math.copysign(1.0, span.bulge)
    turn = (math.atan2(point[1] - y, point[0] - x) - math.atan2(y0 - y, x0 - x)) * way % math.tau
    turn = 0.0 if math.tau - turn < 1e-9 else turn
    return turn / (4.0 * math.atan(abs(span.bulge)))


def _off(span: Span, point: Point) -> float:
    """Distance of a point from the line or circle of a span."""
    if span.bulge != 0.0:
        centre, radius = circle_of(span)
        return abs(math.dist(centre, point) - radius)
    (x0, y0), (x1, y1) = span.start, span.end
    return abs((x1 - x0) * (point[1] - y0) - (y1 - y0) * (point[0] - x0)) / span.chord


def _parts(span: Span, cuts: Iterable[Point]) -> list[Span]:
    """A span cut at the points that lie on it, further than `JOIN` from its ends and from one another."""
    least = JOIN / span.length
    shares = [0.0]
    for share in sorted(_share(span, point) for point in cuts):
        if shares[-1] + least < share < 1.0 - least:
            shares.append(share)
    ends = [span.start, *(at_share(span, share) for share in shares[1:]), span.end]
    turn = math.atan(span.bulge)
    sizes = [high - low for low, high in zip(shares, [*shares[1:], 1.0], strict=True)]
    return [
        Span(a, b, math.tan(turn * size), span.error, span.handle)
        for a, b, size in zip(ends[:-1], ends[1:], sizes, strict=True)
    ]


def at_share(span: Span, share: float) -> Point:
    """The point of a span at a share of its length, 0 at its start."""
    (x0, y0), (x1, y1) = span.start, span.end
    if span.bulge == 0.0:
        return x0 + share * (x1 - x0), y0 + share * (y1 - y0)
    (x, y), radius = circle_of(span)
    turn = math.atan2(y0 - y, x0 - x) + share * 4.0 * math.atan(span.bulge)
    return x + radius * math.cos(turn), y + radius * math.sin(turn)
