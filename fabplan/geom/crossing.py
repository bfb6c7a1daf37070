"""Where closed lines cross or touch one another, or themselves. numpy only."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.near import box_pairs
from fabplan.geom.profile import chorded
from fabplan.geom.rings import Rings, before, joined, lengths, span_boxes, span_lengths
from fabplan.geom.tolerance import JOIN, SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

APART = 5.0 * JOIN
"""Segments of one line nearer to one another along it than this are bound to be close: they are no touch."""

BLOCK = 200_000  # pairs of segments compared at a time: some 50 MB


def crossings(profiles: Sequence[Profile]) -> tuple[FloatArray, IntArray]:
    """Where profiles cross, or touch within `JOIN`, one another or themselves.

    Returns:
        places (k, 2), mm, each once for a pair; the two profiles (k, 2) that meet there, by their numbers in order.
    """
    rings = joined(profiles)
    lines = _segments(rings, _entangled(rings))
    half = JOIN / 2.0
    pairs = box_pairs(np.minimum(lines.start, lines.end) - half, np.maximum(lines.start, lines.end) + half)
    met = [_met(lines, pairs[low : low + BLOCK]) for low in range(0, max(len(pairs), 1), BLOCK)]
    place, owners = (np.concatenate(column) for column in zip(*met, strict=True))
    _, first = np.unique(np.column_stack([owners, np.round(place / APART)]), axis=0, return_index=True)
    return place[first], owners[first]


def _met(lines: "_Segments", pairs: IntArray) -> tuple[FloatArray, IntArray]:
    """The places (k, 2) where pairs (m, 2) of segments meet, and their lines (k, 2)."""
    pairs = pairs[_strangers(lines, pairs)]
    one, other = pairs[:, 0], pairs[:, 1]
    meets, place = meeting(lines.start[one], lines.end[one], lines.start[other], lines.end[other])
    return place[meets], np.sort(lines.owner[pairs[meets]], axis=1)


@dataclass(frozen=True, slots=True, eq=False)
class _Segments:
    """Straight segments that stand for some spans, in their order.

    Attributes:
        start, end: (m, 2) mm.
        owner: (m,) number of the line.
        begin, finish: (m,) mm along the line.
        round_about: (k,) length of each line, mm.
    """

    start: FloatArray
    end: FloatArray
    owner: IntArray
    begin: FloatArray
    finish: FloatArray
    round_about: FloatArray


def _entangled(rings: Rings) -> IntArray:
    """The spans (k,) that may meet another one elsewhere than where it follows: their boxes do.

    Most of a drawing is far from all else; arcs of it need not be broken into chords.
    """
    box = span_boxes(rings)
    low, high = box[:, :2] - JOIN, box[:, 2:] + JOIN
    pairs = box_pairs(low, high)
    one, other = pairs[:, 0], pairs[:, 1]
    back = before(rings)
    beside = (back[one] == other) | (back[other] == one)
    common = np.minimum(high[one], high[other]) - np.maximum(low[one], low[other])
    plain = (rings.angle[one] == 0.0) & (rings.angle[other] == 0.0)
    apart = beside & (plain | np.all(common <= 4.0 * JOIN, axis=1))
    count = np.bincount(rings.owner, minlength=len(rings.first))
    apart &= count[rings.owner[one]] > 2  # two spans of one line follow one another at both ends
    return np.unique(pairs[~apart])


def _segments(rings: Rings, spans: IntArray) -> _Segments:
    start, pieces = chorded(rings.start[spans], rings.end[spans], rings.angle[spans], SAGITTA)
    of, first = np.repeat(spans, pieces), np.cumsum(pieces) - pieces
    end = np.concatenate([start[1:], start[:1]])
    end[first + pieces - 1] = rings.end[spans]
    size = span_lengths(rings)
    begin = np.cumsum(size) - size
    begin -= begin[rings.first][rings.owner]
    step = np.arange(len(of)) - np.repeat(first, pieces)
    each = size[of] / np.repeat(pieces, pieces)
    at = begin[of] + step * each
    return _Segments(start, end, rings.owner[of], at, at + each, lengths(rings))


def _strangers(lines: _Segments, pairs: IntArray) -> BoolArray:
    """(m,) True for pairs of segments that are not neighbours on one line, nor all but neighbours."""
    one, other = pairs[:, 0], pairs[:, 1]
    owner, begin, finish = lines.owner, lines.begin, lines.finish
    between = np.minimum(begin[other] - finish[one], begin[one] + lines.round_about[owner[one]] - finish[other])
    strangers: BoolArray = (owner[one] != owner[other]) | (between > APART)
    return strangers


def meeting(a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray) -> tuple[BoolArray, FloatArray]:
    """Whether segments a (m, 2) meet segments b (m, 2) within `JOIN`, pair by pair, and where (m, 2)."""
    da, db, apart = a1 - a0, b1 - b0, b0 - a0
    cross = da[:, 0] * db[:, 1] - da[:, 1] * db[:, 0]
    slanted = np.abs(cross) > 1e-12
    safe = np.where(slanted, cross, 1.0)
    s = (apart[:, 0] * db[:, 1] - apart[:, 1] * db[:, 0]) / safe
    t = (apart[:, 0] * da[:, 1] - apart[:, 1] * da[:, 0]) / safe
    meets: BoolArray = slanted & (s >= 0.0) & (s <= 1.0) & (t >= 0.0) & (t <= 1.0)
    place: FloatArray = a0 + np.clip(s, 0.0, 1.0)[:, None] * da
    for point, foot0, foot1 in ((b0, a0, a1), (b1, a0, a1), (a0, b0, b1), (a1, b0, b1)):
        near = ~meets & (_distance(point, foot0, foot1) <= JOIN)
        meets, place = meets | near, np.where(near[:, None], point, place)
    return meets, place


def _distance(point: FloatArray, start: FloatArray, end: FloatArray) -> FloatArray:
    """Distances (m,) of points from segments."""
    along = end - start
    share = np.sum((point - start) * along, axis=1) / np.maximum(np.sum(along * along, axis=1), 1e-300)
    distance: FloatArray = np.linalg.norm(start + np.clip(share, 0.0, 1.0)[:, None] * along - point, axis=1)
    return distance
