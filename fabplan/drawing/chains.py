"""Chaining pieces of line to closed profiles, and naming what will not chain.

span    one straight or round piece between two nodes
node    a place where ends of spans meet, within `JOIN`
loop    spans end to end that come back to their first node
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fabplan.drawing.pieces import Piece
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile


@dataclass(frozen=True, slots=True)
class Span:
    """One span: its two ends (mm), bulge from start to end, chord error, handle."""

    start: tuple[float, float]
    end: tuple[float, float]
    bulge: float
    error: float
    handle: str


@dataclass(slots=True)
class Chained:
    """The outcome: closed profiles, and faults by kind with the spans concerned."""

    loops: list[Profile] = field(default_factory=list)
    doubled: list[tuple[Span, Span]] = field(default_factory=list)
    zero: list[Span] = field(default_factory=list)
    stray: list[list[Span]] = field(default_factory=list)
    open: list[list[Span]] = field(default_factory=list)
    junctions: list[tuple[tuple[float, float], list[Span]]] = field(default_factory=list)


def chain(found: Sequence[Piece], scale: float) -> Chained:
    """Closed profiles of pieces (drawing units times `scale` is mm), and all that is wrong with them."""
    result = Chained()
    loose: list[Span] = []
    for piece in found:
        if piece.closed:
            profile = Profile(piece.points * scale, piece.bulges, piece.error * scale, (piece.handle,))
            result.loops.append(profile)
        else:
            loose += _spans(piece, scale)
    kept = _without_doubles([span for span in loose if not _is_zero(span, result)], result)
    _walk(kept, result)
    _double_loops(result)
    return result


def _spans(piece: Piece, scale: float) -> list[Span]:
    points = piece.points * scale
    return [
        Span((float(a[0]), float(a[1])), (float(b[0]), float(b[1])), float(bulge), piece.error * scale, piece.handle)
        for a, b, bulge in zip(points[:-1], points[1:], piece.bulges, strict=False)
    ]


def _is_zero(span: Span, result: Chained) -> bool:
    zero = math.dist(span.start, span.end) < JOIN and abs(span.bulge) < 10.0  # an almost full arc ends where it began
    if zero:
        result.zero.append(span)
    return zero


def middle(span: Span) -> tuple[float, float]:
    """The point halfway along a span."""
    (x0, y0), (x1, y1) = span.start, span.end
    return (x0 + x1) / 2.0 + span.bulge * (y1 - y0) / 2.0, (y0 + y1) / 2.0 - span.bulge * (x1 - x0) / 2.0


def _without_doubles(spans: list[Span], result: Chained) -> list[Span]:
    """Spans less those that repeat another, whole or in part; each pair is noted once."""
    kept: list[Span] = []
    at: dict[tuple[int, int], list[Span]] = defaultdict(list)
    for span in spans:
        cell = _cell(middle(span))
        twin = next((other for near in _around(cell) for other in at[near] if _same(span, other)), None)
        if twin is None:
            at[cell].append(span)
            kept.append(span)
        else:
            result.doubled.append((twin, span))
    return _without_overlaps(kept, result)


def _same(one: Span, other: Span) -> bool:
    straight = math.dist(one.start, other.start) <= JOIN and math.dist(one.end, other.end) <= JOIN
    crossed = math.dist(one.start, other.end) <= JOIN and math.dist(one.end, other.start) <= JOIN
    return (straight or crossed) and math.dist(middle(one), middle(other)) <= JOIN


def _without_overlaps(spans: list[Span], result: Chained) -> list[Span]:
    """Straight spans on one line that overlap are joined to what they cover together."""
    lines: dict[tuple[int, int], list[tuple[float, float, Span]]] = defaultdict(list)
    rest: list[Span] = []
    for span in spans:
        if span.bulge != 0.0:
            rest.append(span)
            continue
        (x0, y0), (x1, y1) = span.start, span.end
        angle = math.atan2(y1 - y0, x1 - x0) % math.pi
        angle = 0.0 if math.pi - angle < 1e-4 else angle
        c, s = math.cos(angle), math.sin(angle)
        along = sorted((x0 * c + y0 * s, x1 * c + y1 * s))
        lines[(round(angle / 1e-3), round((-x0 * s + y0 * c) / 0.05))].append((along[0], along[1], span))
    for group in lines.values():
        group.sort(key=lambda entry: (entry[0], entry[1]))
        reach, last = -math.inf, None
        for low, high, span in group:
            if last is not None and low < reach - JOIN and _on_line(last, span):
                result.doubled.append((last, span))
                if high <= reach + JOIN:
                    continue
                span = _cut_to(span, last)
            rest.append(span)
            if high > reach:
                reach, last = high, span
    return rest


def _on_line(one: Span, other: Span) -> bool:
    """True where both ends of `other` lie on the line of `one`."""
    (x0, y0), (x1, y1) = one.start, one.end
    length = math.dist(one.start, one.end)
    return all(abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / length <= JOIN for x, y in (other.start, other.end))


def _cut_to(span: Span, before: Span) -> Span:
    """The part of a span beyond the one it overlaps: from that one's far end on."""
    ends = [before.start, before.end]
    far = min(ends, key=lambda p: min(math.dist(p, span.start), math.dist(p, span.end)))
    outer = max((span.start, span.end), key=lambda p: min(math.dist(p, q) for q in ends))
    return Span(far, outer, 0.0, span.error, span.handle)


def _cell(point: tuple[float, float]) -> tuple[int, int]:
    return math.floor(point[0] / JOIN), math.floor(point[1] / JOIN)


def _around(cell: tuple[int, int]) -> list[tuple[int, int]]:
    return [(cell[0] + i, cell[1] + j) for i in (0, -1, 1) for j in (0, -1, 1)]


def _nodes(spans: list[Span]) -> tuple[list[tuple[int, int]], list[tuple[float, float]]]:
    """Node numbers of both ends of each span, and the places of the nodes."""
    places: list[tuple[float, float]] = []
    at: dict[tuple[int, int], list[int]] = defaultdict(list)

    def node(point: tuple[float, float]) -> int:
        cell = _cell(point)
        for near in _around(cell):
            for known in at.get(near, ()):
                if math.dist(places[known], point) <= JOIN:
                    return known
        places.append(point)
        at[cell].append(len(places) - 1)
        return len(places) - 1

    return [(node(span.start), node(span.end)) for span in spans], places


def _walk(spans: list[Span], result: Chained) -> None:
    ends, places = _nodes(spans)
    at: dict[int, list[int]] = defaultdict(list)
    for number, (a, b) in enumerate(ends):
        at[a].append(number)
        at[b].append(number)
    left = set(range(len(spans)))
    _take_strays(spans, ends, at, left, result)
    for node, members in sorted(at.items()):
        here = [number for number in members if number in left]
        if len(here) > 2:
            result.junctions.append((places[node], [spans[number] for number in here]))
    tangled = {number for _, group in result.junctions for number, span in enumerate(spans) if span in group}
    for number in range(len(spans)):
        if number in left:
            run, closed = _run(number, ends, at, left)
            chained = [spans[i] for i, _ in run]
            if closed:
                result.loops.append(_profile(run, spans))
            elif not tangled & {i for i, _ in run}:
                (result.open if len(run) > 1 else result.stray).append(chained)


def _take_strays(
    spans: list[Span], ends: list[tuple[int, int]], at: dict[int, list[int]], left: set[int], result: Chained
) -> None:
    """Runs that start at a free end and stop at a node where others already close are strays."""
    for node in sorted(at):
        run: list[int] = []
        here = node
        while True:
            out = [number for number in at[here] if number in left and number not in run]
            if len(out) != 1 or (run and len([n for n in at[here] if n in left]) > 2):
                break
            run.append(out[0])
            a, b = ends[out[0]]
            here = b if a == here else a
        free = len([n for n in at[node] if n in left]) == 1
        crowded = len([n for n in at[here] if n in left]) > 2
        if run and free and crowded:
            result.stray.append([spans[number] for number in run])
            left.difference_update(run)


def _run(
    number: int, ends: list[tuple[int, int]], at: dict[int, list[int]], left: set[int]
) -> tuple[list[tuple[int, bool]], bool]:
    """The run through one span: (span, forwards) in order, and whether it comes back to its start."""
    run = [(number, True)]
    left.discard(number)
    for forwards in (True, False):
        here = ends[number][1 if forwards else 0]
        goal = ends[number][0] if forwards else -1  # backwards only lengthens an open run
        while here != goal:
            following = [i for i in at[here] if i in left]
            if len(following) != 1:
                break
            step = following[0]
            left.discard(step)
            a, b = ends[step]
            along = a == here
            here = b if along else a
            run = [*run, (step, along)] if forwards else [(step, not along), *run]
        if here == goal and (len(run) > 1 or ends[number][0] == ends[number][1]):
            return run, True
    return run, False


def _profile(run: list[tuple[int, bool]], spans: list[Span]) -> Profile:
    vertices, bulges = [], []
    for number, forwards in run:
        span = spans[number]
        vertices.append(span.start if forwards else span.end)
        bulges.append(span.bulge if forwards else -span.bulge)
    handles = tuple(dict.fromkeys(spans[number].handle for number, _ in run))
    error = max(spans[number].error for number, _ in run)
    return Profile(np.array(vertices), np.array(bulges), error, handles)


def _double_loops(result: Chained) -> None:
    """Closed lines drawn twice: same length, same middle, same corners."""
    from fabplan.geom.profile import area, bounds, length

    kept: list[Profile] = []
    seen: dict[tuple[int, ...], list[tuple[FloatArray, Profile]]] = defaultdict(list)
    for loop in result.loops:
        box = bounds(loop)
        key = tuple(int(v) for v in np.round(np.array([length(loop), abs(area(loop)) ** 0.5]) / 0.5))
        twin = next((other for known, other in seen[key] if np.abs(known - box).max() <= JOIN), None)
        if twin is None:
            seen[key].append((box, loop))
            kept.append(loop)
        else:
            point = (float(loop.vertices[0, 0]), float(loop.vertices[0, 1]))
            pair = [Span(point, point, 0.0, 0.0, profile.handles[0]) for profile in (twin, loop)]
            result.doubled.append((pair[0], pair[1]))
    result.loops = kept
