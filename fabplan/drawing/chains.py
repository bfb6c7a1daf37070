"""Chaining pieces of line to closed profiles, and naming what will not chain.

node    a place where ends of spans meet, within `JOIN`
loop    spans end to end that come back to their first node
run     spans end to end between two free ends
tangle  spans of which three or more meet in one node
"""

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fabplan.drawing.alike import firsts
from fabplan.drawing.over import NEAR, over_closed, same_line
from fabplan.drawing.pieces import Piece
from fabplan.drawing.spans import Point, Span, around, spans_of, without_doubles
from fabplan.geom.crossing import meeting
from fabplan.geom.near import HEAPED, box_pairs, gathered, nearest_pairs
from fabplan.geom.rings import areas, boxes, joined, lengths
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

BRIDGE = 0.25  # a gap of up to this share of the shorter run is taken for a gap of one profile (common practice)
STRAIGHT = 0.9  # a run whose ends lie further apart than this share of its length was never to close
SPECK = 100.0  # times the way from one of two cuts that are one to the other: a closed line no longer than this
MOST = 5000  # open spans of which crossings are sought: a heap of more is told as stray


@dataclass(frozen=True, slots=True)
class Gap:
    """A place where a profile does not close: the width, mm, its middle, the runs on either side."""

    width: float
    at: Point
    spans: tuple[Span, ...]

    @property
    def beside(self) -> list[Span]:
        """The spans on either side of it."""
        return sorted(self.spans, key=lambda span: min(math.dist(end, self.at) for end in (span.start, span.end)))[:2]


@dataclass(slots=True)
class Chained:
    """The outcome: closed profiles, and faults by kind with the spans concerned."""

    loops: list[Profile] = field(default_factory=list)
    doubled: list[list[tuple[Span, Span]]] = field(default_factory=list)
    zero: list[Piece] = field(default_factory=list)
    stray: list[list[Span]] = field(default_factory=list)
    gaps: list[Gap] = field(default_factory=list)
    tangles: list[tuple[Point, list[Span]]] = field(default_factory=list)

    def unclosed(self) -> list[Span]:
        """All spans that close no profile, each once."""
        runs = [*self.stray, *(gap.spans for gap in self.gaps), *(run for _, run in self.tangles)]
        return list(dict.fromkeys(span for run in runs for span in run))


@dataclass(slots=True)
class _Net:
    """Spans not yet taken, by the nodes of their ends."""

    spans: list[Span]
    ends: list[tuple[int, int]]
    places: list[Point]
    at: dict[int, set[int]]

    def take(self, number: int) -> None:
        for node in self.ends[number]:
            self.at[node].discard(number)

    def far(self, number: int, node: int) -> int:
        a, b = self.ends[number]
        return b if a == node else a


def chain(found: Sequence[Piece], scale: float) -> Chained:
    """Closed profiles of pieces (drawing units times `scale` is mm), and all that is wrong with them."""
    result = Chained()
    spans: list[Span] = []
    for piece in found:
        if piece.kind == "CIRCLE":
            result.loops.append(Profile(piece.points * scale, piece.bulges, 0.0, (piece.handle,)))
            continue
        own = spans_of(piece, scale)
        spans += own
        if not own:
            result.zero.append(piece)
    kept, doubled = without_doubles(spans)
    net = _net(kept)
    spurs, runs = _runs_to_free_ends(net)
    result.stray += spurs
    result.tangles += _tangles(net)
    result.loops += _loops(net)
    over, twice = over_closed(runs, result.loops)
    _open_runs([run for number, run in enumerate(runs) if number not in set(over)], result)
    doubled += twice + _doubled_loops(result)
    result.doubled += _joined(doubled)
    return result


def _net(spans: list[Span]) -> _Net:
    points = [point for span in spans for point in (span.start, span.end)]
    first, sure = gathered(np.array(points).reshape(-1, 2), JOIN)
    doubtful = np.nonzero(~sure)[0]
    first[doubtful] = _one_by_one(points, doubtful.tolist())
    heads, nodes = np.unique(first, return_inverse=True)
    ends = [(a, b) for a, b in nodes.reshape(-1, 2).tolist()]
    at: dict[int, set[int]] = defaultdict(set)
    for number, (a, b) in enumerate(ends):
        at[a].add(number)
        at[b].add(number)
    return _Net(spans, ends, [points[head] for head in heads.tolist()], dict(at))


def _one_by_one(points: list[Point], some: list[int]) -> list[int]:
    """For some points, taken in turn, the one within `JOIN` that began a place; the point itself where none did."""
    cells: dict[tuple[int, int], list[int]] = defaultdict(list)
    found = []
    for number in some:
        point = points[number]
        near = around(point)
        every = (known for cell in near for known in cells.get(cell, ()))
        head = next((known for known in every if math.dist(points[known], point) <= JOIN), number)
        if head == number:
            cells[near[0]].append(number)
        found.append(head)
    return found


def _walk(net: _Net, node: int) -> tuple[list[int], int]:
    """Spans from a node with one span on to the next node that has not two, and that node; nothing is taken."""
    run: list[int] = []
    onward = sorted(net.at[node])
    while onward:
        run.append(onward[0])
        node = net.far(onward[0], node)
        onward = [] if len(net.at[node]) != 2 else sorted(net.at[node] - {run[-1]})
    return run, node


def _runs_to_free_ends(net: _Net) -> tuple[list[list[Span]], list[list[Span]]]:
    """Runs that end free on one side, all taken: those that touch a closed profile, and those free on both sides."""
    free = [node for node in sorted(net.at) if len(net.at[node]) == 1]
    goals = {node: _walk(net, node)[1] for node in free}
    arrivals = Counter(goals.values())
    spurs = [node for node in free if len(net.at[goals[node]]) - arrivals[goals[node]] >= 2]
    apart = [node for node in free if len(net.at[goals[node]]) == 1 and node < goals[node]]
    return [_take_run(net, node) for node in spurs], [_take_run(net, node) for node in apart]


def _take_run(net: _Net, node: int) -> list[Span]:
    run, _ = _walk(net, node)
    for number in run:
        net.take(number)
    return [net.spans[number] for number in run]


def _tangles(net: _Net) -> list[tuple[Point, list[Span]]]:
    """Spans that hang together with a node of three or more, all taken: the first such node, and the spans."""
    found = []
    for first in sorted(net.at):
        if len(net.at[first]) > 2:
            group = _company(net, first)
            found.append((net.places[first], [net.spans[number] for number in group]))
    return found


def _company(net: _Net, first: int) -> list[int]:
    """Numbers of all spans that hang together with a node, taken."""
    reached, group, front = {first}, set[int](), [first]
    while front:
        here = front.pop()
        group |= net.at[here]
        beyond = {net.far(number, here) for number in net.at[here]} - reached
        reached |= beyond
        front += sorted(beyond)
    for number in group:
        net.take(number)
    return sorted(group)


def _loops(net: _Net) -> list[Profile]:
    """What is left closes: each node has two spans, or one that comes back to it."""
    found = []
    for number, (first, here) in enumerate(net.ends):
        if number not in net.at[first]:
            continue
        run = [(number, True)]
        net.take(number)
        while here != first:
            following = min(net.at[here])
            run.append((following, net.ends[following][0] == here))
            net.take(following)
            here = net.far(following, here)
        found.append(_profile(run, net.spans))
    return found


def _profile(run: list[tuple[int, bool]], spans: list[Span]) -> Profile:
    vertices, bulges = [], []
    for number, forwards in run:
        span = spans[number]
        vertices.append(span.start if forwards else span.end)
        bulges.append(span.bulge if forwards else -span.bulge)
    handles = tuple(dict.fromkeys(spans[number].handle for number, _ in run))
    error = max(spans[number].error for number, _ in run)
    return Profile(np.array(vertices), np.array(bulges), error, handles)


def _free_ends(run: list[Span]) -> tuple[Point, Point]:
    """Both ends of a run of spans that follow one another."""
    if len(run) == 1:
        return run[0].start, run[0].end

    def free(span: Span, beside: Span) -> Point:
        return max(
            (span.start, span.end), key=lambda end: min(math.dist(end, beside.start), math.dist(end, beside.end))
        )

    return free(run[0], run[1]), free(run[-1], run[-2])


def _open_runs(runs: list[list[Span]], result: Chained) -> None:
    """Runs that cross are a tangle; ends that nearly meet are a gap; what is left is stray."""
    crossed = _crossed(runs, result)
    runs = [run for number, run in enumerate(runs) if number not in crossed]
    ends = [end for run in runs for end in _free_ends(run)]
    sizes = [sum(span.length for span in run) for run in runs]
    linked: set[int] = set()
    bridged: set[int] = set()
    for width, i, j in sorted(_near_ends(ends, sizes)):
        if i in linked or j in linked:
            continue
        linked |= {i, j}
        bridged |= {i // 2, j // 2}
        spans = runs[i // 2] if i // 2 == j // 2 else [*runs[i // 2], *runs[j // 2]]
        middle = ((ends[i][0] + ends[j][0]) / 2.0, (ends[i][1] + ends[j][1]) / 2.0)
        result.gaps.append(Gap(width, middle, tuple(spans)))
    result.stray += [run for number, run in enumerate(runs) if number not in bridged]


def _near_ends(ends: list[Point], sizes: list[float]) -> list[tuple[float, int, int]]:
    """Pairs of free ends that may have been meant to meet: (width, end, end)."""
    own = [(math.dist(ends[2 * k], ends[2 * k + 1]), 2 * k, 2 * k + 1) for k in range(len(sizes))]
    found = [entry for entry, size in zip(own, sizes, strict=True) if entry[0] <= STRAIGHT * size]
    if len(sizes) > 1:
        pairs, apart = nearest_pairs(np.array(ends), BRIDGE * max(sizes))
        for (i, j), width in zip(pairs.tolist(), apart.tolist(), strict=True):
            if i // 2 != j // 2 and width <= BRIDGE * min(sizes[i // 2], sizes[j // 2]):
                found.append((width, i, j))
    return found


def _crossed(runs: list[list[Span]], result: Chained) -> set[int]:
    """Runs that cross one another away from their ends, told as one tangle."""
    rows = [(number, span) for number, run in enumerate(runs) for span in run if span.bulge == 0.0]
    if len(runs) < 2 or not 2 <= len(rows) <= MOST:
        return set()
    owner = np.array([number for number, _ in rows], dtype=np.int64)
    start, end = np.array([span.start for _, span in rows]), np.array([span.end for _, span in rows])

    def met(pairs: IntArray) -> tuple[BoolArray, FloatArray]:
        one, other = pairs[:, 0], pairs[:, 1]
        meets, place = meeting(start[one], end[one], start[other], end[other])
        return meets & (owner[one] != owner[other]), place

    half = JOIN / 2.0
    low, high = np.minimum(start, end) - half, np.maximum(start, end) + half
    pairs = box_pairs(low, high, HEAPED, lambda some: met(some)[0])
    if not len(pairs):
        return set()
    crossed = set(owner[pairs].ravel().tolist())
    x, y = met(pairs[:1])[1][0].tolist()
    result.tangles.append(((x, y), [span for number in sorted(crossed) for span in runs[number]]))
    return crossed


def _doubled_loops(result: Chained) -> list[tuple[Span, Span]]:
    """Closed lines drawn twice: same bounds, length and area; the second is left out.

    Circles are told as holes; other lines, where they are no specks, may lie as far apart as two cuts that are one.
    """
    loops = result.loops
    rings = joined(loops)
    box, sizes = boxes(rings), np.column_stack([lengths(rings), np.abs(areas(rings))])

    wide = np.array([len(loop.vertices) > 2 for loop in loops], dtype=np.bool_)
    reach = np.where(wide & (sizes[:, 0] > SPECK * NEAR), NEAR, JOIN)

    def alike(i: int, j: int) -> bool:
        near = min(reach[i], reach[j])
        slack = np.array([8.0 * near, near * sizes[i, 0]])
        like = bool(np.abs(box[i] - box[j]).max() <= near and np.all(np.abs(sizes[i] - sizes[j]) <= slack))
        return like and (not wide[i] or same_line(loops[i], loops[j]))  # a mirrored one is as large

    rows = np.hstack([box[:, :2] + box[:, 2:], box[:, 2:] - box[:, :2]]) / 2.0
    first = firsts(rows, NEAR, alike)
    again = [(loops[k], loop) for k, loop in zip(first, loops, strict=True) if loops[k] is not loop]
    result.loops = [loop for k, loop in zip(first, loops, strict=True) if loops[k] is loop]
    return [(_mark(one, one), _mark(one, other)) for one, other in again]


def _mark(place: Profile, loop: Profile) -> Span:
    x, y = place.vertices[0].tolist()
    return Span((x, y), (x, y), 0.0, loop.chord_error, loop.handles[0] if loop.handles else "")


def _joined(doubled: list[tuple[Span, Span]]) -> list[list[tuple[Span, Span]]]:
    """Pairs of doubled spans that hang together are one fault."""
    net = _net([one for one, _ in doubled])
    groups = []
    for number, (first, _) in enumerate(net.ends):
        if number in net.at[first]:
            groups.append([doubled[one] for one in _company(net, first)])
    return groups
