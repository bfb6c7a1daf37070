"""Where a closed line comes near itself: narrow slots through the void, narrow necks through the metal. numpy only.

The line is broken into short runs that hardly turn; runs whose boxes come near and that run against one another are
then compared stretch by stretch. A smooth line of a hundred thousand corners has no such pairs.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.near import box_pairs
from fabplan.geom.rings import Chords, chords, joined
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

AGAINST = float(np.cos(np.radians(170.0)))
"""Two stretches face one another where they run against each other within 10 degrees: a wedge is no slot."""

TURN = np.pi / 6.0
"""A run turns by no more than this in all, so that it cannot face itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Narrows:
    """Pairs of stretches of one line that face each other.

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

    >>> slot = Profile(np.array([[0.0, 0.0], [0.0, 4.0], [60.0, 4.0], [60.0, 0.0]]), np.zeros(4))
    >>> found = narrows([slot], 6.0)
    >>> found.width.tolist(), found.void.tolist()
    ([4.0], [True])
    """
    if not profiles:
        none = np.zeros(0)
        return Narrows(none.astype(np.int64), none, none, np.zeros((0, 2)), none.astype(np.bool_))
    rings = _rings(profiles)
    one, other = _facing(rings, limit)
    width, place, void, met = _measured(rings, (one, other))
    near = met & ~(width > limit + 2.0 * SAGITTA)
    straight = rings.chords.straight
    slack = np.where(straight[one] & straight[other], 0.0, 2.0 * SAGITTA)
    return Narrows(rings.chords.owner[one][near], width[near], slack[near], place[near], void[near])


def _rings(profiles: Sequence[Profile]) -> _Rings:
    found = chords(joined(profiles), SAGITTA)
    along = found.end - found.start
    return _Rings(found, along, along / np.maximum(np.hypot(*along.T), 1e-300)[:, None])


def _facing(rings: _Rings, limit: float) -> tuple[IntArray, IntArray]:
    """Pairs of stretches (m,), (m,) of one line that run against each other, their runs near one another."""
    first, lines = _runs(rings, limit), rings.chords
    low = np.minimum.reduceat(np.minimum(lines.start, lines.end), first, axis=0) - limit / 2.0
    high = np.maximum.reduceat(np.maximum(lines.start, lines.end), first, axis=0) + limit / 2.0
    pairs = box_pairs(low, high)
    heading, owner = rings.unit[first], lines.owner[first]
    turned_back = np.sum(heading[pairs[:, 0]] * heading[pairs[:, 1]], axis=1) < 0.0
    pairs = pairs[turned_back & (owner[pairs[:, 0]] == owner[pairs[:, 1]])]
    count = np.diff(np.append(first, len(lines.start)))
    others = count[pairs[:, 1]]
    each = count[pairs[:, 0]] * others
    source = np.repeat(np.arange(len(pairs)), each)
    step = np.arange(len(source)) - np.repeat(np.cumsum(each) - each, each)
    one = first[pairs[source, 0]] + step // others[source]
    other = first[pairs[source, 1]] + step % others[source]
    against = np.sum(rings.unit[one] * rings.unit[other], axis=1) <= AGAINST
    strangers = (lines.after[one] != other) & (lines.before[one] != other)
    return one[against & strangers], other[against & strangers]


def _runs(rings: _Rings, limit: float) -> IntArray:
    """The first stretch of each run: short, and turning little."""
    size, before, unit = np.hypot(*rings.along.T), rings.unit[rings.chords.before], rings.unit
    cross = before[:, 0] * unit[:, 1] - before[:, 1] * unit[:, 0]
    turn = np.abs(np.arctan2(cross, np.sum(before * unit, axis=1)))
    turn[0] = 0.0
    reached = np.floor((np.cumsum(size) - size) / max(limit, FIGURE))
    turned = np.floor(np.cumsum(turn) / TURN)
    new = (np.diff(reached) > 0.0) | (np.diff(turned) > 0.0) | (np.diff(rings.chords.owner) > 0)
    return np.concatenate([[0], np.nonzero(new)[0] + 1])


def _measured(rings: _Rings, pair: tuple[IntArray, IntArray]) -> tuple[FloatArray, FloatArray, BoolArray, BoolArray]:
    """Least widths (k,) over the stretch that two face each other on, middles (k, 2), through the void, whether any."""
    (one, other), start, along, unit = pair, rings.chords.start, rings.along, rings.unit
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
    place: FloatArray = start[one] + u * where[:, None] + normal * (width / 2.0)[:, None]
    met: BoolArray = (high - low > FIGURE) & (np.sign(across[:, 0]) == np.sign(across[:, 1])) & (width != 0.0)
    return np.abs(width), place, width < 0.0, met
