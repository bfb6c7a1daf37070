"""Many closed lines at once, one after the other in single arrays: a plate of thousands of openings needs no loop."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.profile import chorded, merged, segment_areas, smooth, tips
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile


@dataclass(frozen=True, slots=True, eq=False)
class Rings:
    """The spans of several closed lines.

    Attributes:
        first: (k,) number of each line's first span.
        owner: (m,) number of the line of each span.
        start: (m, 2) mm.
        end: (m, 2) mm.
        angle: (m,) included angle, radians, signed; 0 where straight.
    """

    first: IntArray
    owner: IntArray
    start: FloatArray
    end: FloatArray
    angle: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Chords:
    """The same lines with arcs as chords: (m,) each; numbers of the chords `after` and `before` on the same line."""

    first: IntArray
    owner: IntArray
    start: FloatArray
    end: FloatArray
    straight: BoolArray
    after: IntArray
    before: IntArray


def joined(profiles: Sequence[Profile]) -> Rings:
    """The spans of profiles, of which each has one at least."""
    count = np.array([len(profile.vertices) for profile in profiles], dtype=np.int64)
    first = np.cumsum(count) - count
    start = np.concatenate([np.zeros((0, 2)), *(profile.vertices for profile in profiles)])
    bulges = np.concatenate([np.zeros(0), *(profile.bulges for profile in profiles)])
    after, _ = _round_about(first, count)
    return Rings(first, np.repeat(np.arange(len(count)), count), start, start[after], 4.0 * np.arctan(bulges))


def chords(rings: Rings, sagitta: float) -> Chords:
    """The lines as polygons whose chords lie at most `sagitta` mm from the arcs."""
    start, pieces = chorded(rings.start, rings.end, rings.angle, sagitta)
    owner = np.repeat(rings.owner, pieces)
    count = np.bincount(owner, minlength=len(rings.first)).astype(np.int64)
    first = np.cumsum(count) - count
    after, before = _round_about(first, count)
    straight = np.repeat(pieces == 1, pieces)
    return Chords(first, owner, start, start[after], straight, after, before)


def _round_about(first: IntArray, count: IntArray) -> tuple[IntArray, IntArray]:
    """Numbers (m,) of what comes after and before each on the same line."""
    after, before = np.arange(count.sum()) + 1, np.arange(count.sum()) - 1
    after[first + count - 1], before[first] = first, first + count - 1
    return after, before


def before(rings: Rings) -> IntArray:
    """Numbers (m,) of the spans before each on the same line."""
    return _round_about(rings.first, np.bincount(rings.owner, minlength=len(rings.first)).astype(np.int64))[1]


def corner_turns(rings: Rings) -> FloatArray:
    """(m,) radians by which the line turns where each span begins, positive to the left."""
    chord = np.arctan2(*(rings.end - rings.start).T[::-1])
    turn = (chord - rings.angle / 2.0) - (chord + rings.angle / 2.0)[before(rings)]
    turned: FloatArray = np.mod(turn + np.pi, 2.0 * np.pi) - np.pi
    return turned


def all_merged(profiles: Sequence[Profile]) -> list[Profile]:
    """Each profile as `profile.merged` gives it; those without a corner to leave out as they are."""
    rings = joined(profiles)
    back = before(rings)
    out = rings.start, rings.end, rings.angle
    through = smooth((rings.start[back], rings.end[back], rings.angle[back]), out)
    some = np.zeros(len(profiles), dtype=np.bool_)
    some[rings.owner[through]] = True
    return [merged(one) if more else one for one, more in zip(profiles, some.tolist(), strict=True)]


def areas(rings: Rings) -> FloatArray:
    """(k,) mm2, positive for a counter-clockwise line.

    >>> areas(joined([Profile(np.array([[3.0, 1.0], [1.0, 1.0]]), np.array([1.0, 1.0]))])).tolist()
    [3.141592653589793]
    """
    base = rings.start[rings.first][rings.owner]
    start, end = rings.start - base, rings.end - base
    cross = 0.5 * (start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1])
    return _summed(cross + segment_areas(start, end, rings.angle), rings)


def lengths(rings: Rings) -> FloatArray:
    """(k,) mm."""
    return _summed(span_lengths(rings), rings)


def span_lengths(rings: Rings) -> FloatArray:
    """(m,) mm."""
    half = np.abs(rings.angle) / 2.0
    stretch = np.divide(half, np.sin(half), out=np.ones_like(half), where=half > 1e-9)
    size: FloatArray = np.hypot(*(rings.end - rings.start).T) * stretch
    return size


def _summed(values: FloatArray, rings: Rings) -> FloatArray:
    return np.add.reduceat(values, rings.first) if len(rings.first) else np.zeros(0)


def span_boxes(rings: Rings) -> FloatArray:
    """(m, 4) least and greatest x and y of each span: xmin, ymin, xmax, ymax, mm."""
    low, high = np.minimum(rings.start, rings.end), np.maximum(rings.start, rings.end)
    points, of = tips(rings.start, rings.end, rings.angle)
    np.minimum.at(low, of, points)
    np.maximum.at(high, of, points)
    return np.hstack([low, high])


def boxes(rings: Rings) -> FloatArray:
    """(k, 4) least and greatest x and y of each line."""
    if not len(rings.first):
        return np.zeros((0, 4))
    own = span_boxes(rings)
    low, high = np.minimum.reduceat(own[:, :2], rings.first), np.maximum.reduceat(own[:, 2:], rings.first)
    return np.hstack([low, high])
