"""Where closed lines cross or touch one another, or themselves. numpy only."""

from collections.abc import Sequence

import numpy as np

from fabplan.geom.near import box_pairs
from fabplan.geom.rings import Chords, chords, joined
from fabplan.geom.tolerance import JOIN, SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

APART = 5.0 * JOIN
"""Segments of one line nearer to one another along it than this are bound to be close: they are no touch."""


def crossings(profiles: Sequence[Profile]) -> tuple[FloatArray, IntArray]:
    """Where profiles cross, or touch within `JOIN`, one another or themselves.

    Returns:
        places (k, 2), mm, each once for a pair; the two profiles (k, 2) that meet there, by their numbers in order.
    """
    lines = chords(joined(profiles), SAGITTA)
    start, end, owner = lines.start, lines.end, lines.owner
    half = JOIN / 2.0
    pairs = box_pairs(np.minimum(start, end) - half, np.maximum(start, end) + half)
    pairs = pairs[_strangers(lines, pairs)]
    one, other = pairs[:, 0], pairs[:, 1]
    meets, place = meeting(start[one], end[one], start[other], end[other])
    owners = np.sort(owner[pairs[meets]], axis=1)
    _, first = np.unique(np.column_stack([owners, np.round(place[meets] / APART)]), axis=0, return_index=True)
    return place[meets][first], owners[first]


def _strangers(lines: Chords, pairs: IntArray) -> BoolArray:
    """(m,) True for pairs of segments that are not neighbours on one line, nor all but neighbours."""
    if not len(pairs):
        return np.zeros(0, dtype=np.bool_)
    size = np.linalg.norm(lines.end - lines.start, axis=1)
    begin = np.cumsum(size) - size
    begin -= begin[lines.first][lines.owner]
    finish, round_about = begin + size, np.add.reduceat(size, lines.first)
    one, other = pairs[:, 0], pairs[:, 1]
    owner = lines.owner
    between = np.minimum(begin[other] - finish[one], begin[one] + round_about[owner[one]] - finish[other])
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
