"""Where a closed line comes near itself: narrow slots through the void, narrow necks through the metal. numpy only.

The line is broken into short runs that hardly turn; runs whose boxes come near and that run against one another are
then compared stretch by stretch. A smooth line of a hundred thousand corners has no such pairs. Corners that reach into
the metal or into the void are compared with what lies before them, whichever way it runs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.near import box_pairs
from fabplan.geom.rings import Chords, Rings, before, chords, joined, span_boxes
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

AGAINST = float(np.cos(np.radians(170.0)))
"""Two stretches face one another where they run against each other within 10 degrees: a wedge is no slot."""

TURN = np.pi / 6.0
"""A run turns by no more than this in all, so that it cannot face itself."""

TIP = np.radians(20.0)
"""A corner that turns less is a bend of the line, no tip (common practice)."""

MOST = 4_000_000
"""Pairs of stretches compared, some 1 GB: of a line that has more within the limit, a nearer one is taken."""

HALVINGS = 20

Pairs = tuple[IntArray, IntArray]


@dataclass(frozen=True, slots=True, eq=False)
class Narrows:
    """Pairs of stretches of one line that face each other, and tips of corners with the line before them.

    Attributes:
        owner: (k,) number of the profile.
        width: (k,) least distance between them, mm.
        slack: (k,) mm by which chords of arcs may make it less than it is; 0 between straight spans.
        place: (k, 2) mm, in the middle of the narrowest place.
        void: (k,) True through the void, False through the metal, which lies to the left of the line.
    """

    owner: IntArray
    width: FloatArray
    slack: FloatArray
    place: FloatArray
    void: BoolArray

    def worst_of_each(self, some: IntArray) -> IntArray:
        """Of some pairs, by number, the narrowest of each profile."""
        ranked = some[np.lexsort((np.round((self.width + self.slack)[some], 6), self.owner[some]))]
        _, first = np.unique(self.owner[ranked], return_index=True)
        return ranked[first]


@dataclass(frozen=True, slots=True, eq=False)
class _Rings:
    """Stretches of several closed lines, one after the other: chords, the way along each (m, 2), unit vectors."""

    chords: Chords
    along: FloatArray
    unit: FloatArray


def narrows(profiles: Sequence[Profile], limit: float) -> Narrows:
    """Stretches of each profile nearer to one another than about `limit`, mm, that face each other.

    Of profiles with too many such to compare, the narrowest are given.

    >>> slot = Profile(np.array([[0.0, 0.0], [0.0, 4.0], [60.0, 4.0], [60.0, 0.0]]), np.zeros(4))
    >>> found = narrows([slot], 6.0)
    >>> found.width.tolist(), found.void.tolist()
    ([4.0], [True])
    """
    some = _suspects(joined(profiles), limit)
    if not len(some):
        none = np.zeros(0)
        return Narrows(none.astype(np.int64), none, none, np.zeros((0, 2)), none.astype(np.bool_))
    rings = _rings([profiles[k] for k in some.tolist()])
    near = next((found for k in range(HALVINGS) if (found := _near(rings, limit / 2.0**k)) is not None), None)
    if near is None:
        return narrows((), limit)
    facing, tips = near
    faced = _measured(rings, facing, limit)
    pointed = _before_tips(rings, tips, limit)
    owner, width, slack, place, void = (np.concatenate(columns) for columns in zip(faced, pointed, strict=True))
    return Narrows(some[owner], width, slack, place, void)


def _suspects(rings: Rings, limit: float) -> IntArray:
    """The lines (k,) that may come near themselves: most do not, and need not be broken into chords.

    Two spans that do not follow one another are near, an arc is small enough to face itself, or an arc meets its
    neighbour at a corner and may bend back over it.
    """
    back, box = before(rings), span_boxes(rings)
    reach = limit / 2.0 + 2.0 * SAGITTA
    low, high = box[:, :2] - reach, box[:, 2:] + reach
    # of a line of tiny spans the next but one are near already: all its pairs would be without number
    third = back[back]
    tight = np.all((low <= high[third]) & (low[third] <= high), axis=1) & (back[third] != np.arange(len(back)))
    tight &= third != np.arange(len(back))
    dense = np.zeros(len(rings.first), dtype=np.bool_)
    dense[rings.owner[tight]] = True
    left = np.nonzero(~dense[rings.owner])[0]
    pairs = left[box_pairs(low[left], high[left])]
    one, other = pairs[:, 0], pairs[:, 1]
    near = (rings.owner[one] == rings.owner[other]) & (back[one] != other) & (back[other] != one)
    start, end, angle = rings.start, rings.end, rings.angle
    arc, chord = angle != 0.0, np.hypot(*(end - start).T)
    small = arc & (chord <= (limit + 2.0 * SAGITTA) * np.abs(np.sin(angle / 2.0)))  # a chord of r is 2 r sin(angle / 2)
    heading = np.arctan2(*(end - start).T[::-1])
    turn = (heading - angle / 2.0) - (heading + angle / 2.0)[back]
    kink = (arc | arc[back]) & (np.abs(np.mod(turn + np.pi, 2.0 * np.pi) - np.pi) > TIP)
    return np.unique(np.concatenate([np.nonzero(dense)[0], rings.owner[one[near]], rings.owner[small | kink]]))


def _rings(profiles: Sequence[Profile]) -> _Rings:
    found = chords(joined(profiles), SAGITTA)
    along = found.end - found.start
    return _Rings(found, along, along / np.maximum(np.hypot(*along.T), 1e-300)[:, None])


def _near(rings: _Rings, limit: float) -> tuple[Pairs, Pairs] | None:
    """Stretches (m,), (m,) of one line whose runs are near and turned back; tips and stretches of runs near them.

    None where they are more than `MOST`.
    """
    first, lines, tips = _runs(rings, limit), rings.chords, _tips(rings)
    low = np.minimum.reduceat(np.minimum(lines.start, lines.end), first, axis=0)
    high = np.maximum.reduceat(np.maximum(lines.start, lines.end), first, axis=0)
    points = lines.start[tips]
    pairs = box_pairs(np.vstack([low, points]) - limit / 2.0, np.vstack([high, points]) + limit / 2.0, MOST)
    if len(pairs) > MOST:
        return None
    owner = np.concatenate([lines.owner[first], lines.owner[tips]])
    pairs = pairs[owner[pairs[:, 0]] == owner[pairs[:, 1]]]
    of_runs, of_tips = pairs[:, 1] < len(first), (pairs[:, 0] < len(first)) & (pairs[:, 1] >= len(first))
    heading = rings.unit[first]
    runs = pairs[of_runs]
    runs = runs[np.sum(heading[runs[:, 0]] * heading[runs[:, 1]], axis=1) < 0.0]
    count = np.diff(np.append(first, len(lines.start)))
    if np.sum(count[runs[:, 0]] * count[runs[:, 1]]) + np.sum(count[pairs[of_tips, 0]]) > MOST:
        return None
    source, one = _spread(first[runs[:, 0]], count[runs[:, 0]])
    again, other = _spread(first[runs[source, 1]], count[runs[source, 1]])
    before, stretch = _spread(first[pairs[of_tips, 0]], count[pairs[of_tips, 0]])
    return (one[again], other), (tips[pairs[of_tips, 1][before] - len(first)], stretch)


def _spread(first: IntArray, count: IntArray) -> Pairs:
    """All numbers of some runs, run by run: the place of the run (m,) in what is given, and the number (m,)."""
    source = np.repeat(np.arange(len(first)), count)
    return source, first[source] + np.arange(len(source)) - np.repeat(np.cumsum(count) - count, count)


def _turns(rings: _Rings) -> FloatArray:
    """(m,) radians by which the line turns where each stretch begins, positive to the left."""
    into, out = rings.unit[rings.chords.before], rings.unit
    turn: FloatArray = np.arctan2(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], np.sum(into * out, axis=1))
    return turn


def _tips(rings: _Rings) -> IntArray:
    """The stretches that begin at a corner."""
    tips: IntArray = np.nonzero(np.abs(_turns(rings)) > TIP)[0]
    return tips


def _runs(rings: _Rings, limit: float) -> IntArray:
    """The first stretch of each run: short, and turning little."""
    size, turn = np.hypot(*rings.along.T), np.abs(_turns(rings))
    turn[0] = 0.0
    reached = np.floor((np.cumsum(size) - size) / max(limit, FIGURE))
    turned = np.floor(np.cumsum(turn) / TURN)
    new = (np.diff(reached) > 0.0) | (np.diff(turned) > 0.0) | (np.diff(rings.chords.owner) > 0)
    return np.concatenate([[0], np.nonzero(new)[0] + 1])


_Columns = tuple[IntArray, FloatArray, FloatArray, FloatArray, BoolArray]


def _measured(rings: _Rings, pairs: Pairs, limit: float) -> _Columns:
    """The columns of `Narrows` for stretches that run against each other: least width over what faces the other."""
    lines = rings.chords
    against = np.sum(rings.unit[pairs[0]] * rings.unit[pairs[1]], axis=1) <= AGAINST
    against &= (lines.after[pairs[0]] != pairs[1]) & (lines.before[pairs[0]] != pairs[1])
    one, other = pairs[0][against], pairs[1][against]
    start, along, unit = lines.start, rings.along, rings.unit
    u, size = unit[one], np.sum(along[one] * unit[one], axis=1)
    ends = np.stack([start[other] - start[one], start[other] + along[other] - start[one]], axis=1)
    reach = np.einsum("kex,kx->ke", ends, u)
    off = u[:, None, 0] * ends[:, :, 1] - u[:, None, 1] * ends[:, :, 0]
    low, high = np.maximum(reach.min(axis=1), 0.0), np.minimum(reach.max(axis=1), size)
    rise = (off[:, 1] - off[:, 0]) / np.where(reach[:, 1] == reach[:, 0], 1.0, reach[:, 1] - reach[:, 0])
    at = np.stack([low, high], axis=1)
    across = off[:, :1] + rise[:, None] * (at - reach[:, :1])
    nearest = np.abs(across).argmin(axis=1)
    rows = np.arange(len(one))
    width, where = across[rows, nearest], at[rows, nearest]
    normal = np.column_stack([-u[:, 1], u[:, 0]])
    place = start[one] + u * where[:, None] + normal * (width / 2.0)[:, None]
    met = (high - low > FIGURE) & (np.sign(across[:, 0]) == np.sign(across[:, 1])) & (width != 0.0)
    near = met & ~(np.abs(width) > limit + 2.0 * SAGITTA)
    slack = np.where(lines.straight[one] & lines.straight[other], 0.0, 2.0 * SAGITTA)
    return lines.owner[one][near], np.abs(width)[near], slack[near], place[near], (width < 0.0)[near]


def _before_tips(rings: _Rings, pairs: Pairs, limit: float) -> _Columns:
    """The same for tips: the nearest place of a stretch, nearest along it as well.

    A corner to the right reaches into the metal, with a neck before it, one to the left into the void.
    """
    (tip, other), lines, unit = pairs, rings.chords, rings.unit
    point, start, along = lines.start[tip], lines.start[other], rings.along[other]
    share = np.sum((point - start) * along, axis=1) / np.maximum(np.sum(along**2, axis=1), 1e-300)
    nearest = start + np.clip(share, 0.0, 1.0)[:, None] * along
    way = nearest - point
    width = np.hypot(*way.T)

    def runs(stretch: IntArray) -> FloatArray:
        return np.asarray(np.sum(way * unit[stretch], axis=1))

    slack = FIGURE * np.maximum(width, FIGURE)
    met = (other != tip) & (other != lines.before[tip]) & (width > FIGURE) & ~(width > limit + 2.0 * SAGITTA)
    met &= (runs(lines.before[tip]) >= -slack) & (runs(tip) <= slack)  # no nearer from either flank of the corner
    met &= (share > 0.0) | (runs(lines.before[other]) <= slack)  # nor from beyond the end of the other stretch
    met &= (share < 1.0) | (runs(lines.after[other]) >= -slack)
    void = _turns(rings)[tip] > 0.0
    side = unit[other][:, 0] * way[:, 1] - unit[other][:, 1] * way[:, 0]
    met &= np.where(void, -side, side) <= slack  # it has its metal, or its void, on this side
    rounded = np.where(lines.straight[other], 0.0, 2.0 * SAGITTA)
    return lines.owner[tip][met], width[met], rounded[met], ((point + nearest) / 2.0)[met], void[met]
