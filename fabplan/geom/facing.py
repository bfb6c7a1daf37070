"""Where a closed line comes near itself: narrow slots through the void, narrow necks through the metal. numpy only.

The line is broken into short runs that hardly turn; runs whose boxes come near and that run against one another are
then compared stretch by stretch. A smooth line of a hundred thousand corners has no such pairs.
"""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.near import box_pairs
from fabplan.geom.profile import flattened, spans
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
        width: (k,) least distance between them, mm.
        slack: (k,) mm by which chords of arcs may make it less than it is; 0 between straight spans.
        place: (k, 2) mm, in the middle of the narrowest place.
        void: (k,) True through the void, False through the metal, which lies to the left of the line.
    """

    width: FloatArray
    slack: FloatArray
    place: FloatArray
    void: BoolArray


def narrows(profile: Profile, limit: float) -> Narrows:
    """Stretches of a profile nearer to one another than about `limit`, mm, that face each other.

    >>> slot = Profile(np.array([[0.0, 0.0], [0.0, 4.0], [60.0, 4.0], [60.0, 0.0]]), np.zeros(4))
    >>> found = narrows(slot, 6.0)
    >>> found.width.tolist(), found.void.tolist()
    ([4.0], [True])
    """
    start, straight = _stretches(profile)
    along = np.roll(start, -1, axis=0) - start
    size = np.hypot(*along.T)
    unit = along / np.maximum(size, 1e-300)[:, None]
    one, other = _facing(start, along, unit, limit)
    n = len(start)
    apart = np.mod(one - other, n)
    apart = np.minimum(apart, n - apart)
    keep = (apart > 1) & (size[one] > 0.0) & (size[other] > 0.0)
    one, other = one[keep], other[keep]
    width, place, void, met = _measured(start, along, unit, (one, other))
    near = met & ~(width > limit + 2.0 * SAGITTA)
    slack = np.where(straight[one] & straight[other], 0.0, 2.0 * SAGITTA)
    return Narrows(width[near], slack[near], place[near], void[near])


def _stretches(profile: Profile) -> tuple[FloatArray, BoolArray]:
    """Points (m, 2) of the line with arcs as chords, and whether a straight span begins at each."""
    points = flattened(profile, SAGITTA)
    _, _, angle = spans(profile)
    flat = np.abs(angle) <= 1e-9
    if len(points) == len(flat):
        return points, flat
    corner = np.nonzero(np.isin(points @ np.array([1.0, 1j]), profile.vertices @ np.array([1.0, 1j])))[0]
    straight = np.zeros(len(points), dtype=np.bool_)
    if len(corner) == len(flat):
        straight[corner] = flat
    return points, straight


def _facing(start: FloatArray, along: FloatArray, unit: FloatArray, limit: float) -> tuple[IntArray, IntArray]:
    """Pairs of stretches (m,), (m,) of which the runs come near and run against each other."""
    first = _runs(along, unit, limit)
    end = start + along
    low = np.minimum.reduceat(np.minimum(start, end), first, axis=0) - limit / 2.0
    high = np.maximum.reduceat(np.maximum(start, end), first, axis=0) + limit / 2.0
    pairs = box_pairs(low, high)
    heading = unit[first]
    pairs = pairs[np.sum(heading[pairs[:, 0]] * heading[pairs[:, 1]], axis=1) < 0.0]
    count = np.diff(np.append(first, len(start)))
    ones, others = count[pairs[:, 0]], count[pairs[:, 1]]
    each = ones * others
    owner = np.repeat(np.arange(len(pairs)), each)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(each) - each, each)
    one = first[pairs[owner, 0]] + step // others[owner]
    other = first[pairs[owner, 1]] + step % others[owner]
    against = np.sum(unit[one] * unit[other], axis=1) <= AGAINST
    return one[against], other[against]


def _runs(along: FloatArray, unit: FloatArray, limit: float) -> IntArray:
    """The first stretch of each run: short, and turning little."""
    size = np.hypot(*along.T)
    before = np.roll(unit, 1, axis=0)
    turn = np.abs(np.arctan2(before[:, 0] * unit[:, 1] - before[:, 1] * unit[:, 0], np.sum(before * unit, axis=1)))
    turn[0] = 0.0
    reached = np.floor((np.cumsum(size) - size) / max(limit, FIGURE))
    turned = np.floor(np.cumsum(turn) / TURN)
    new = (np.diff(reached) > 0.0) | (np.diff(turned) > 0.0)
    return np.concatenate([[0], np.nonzero(new)[0] + 1])


def _measured(
    start: FloatArray, along: FloatArray, unit: FloatArray, pair: tuple[IntArray, IntArray]
) -> tuple[FloatArray, FloatArray, BoolArray, BoolArray]:
    """Least widths (k,) over the stretch that two face each other on, middles (k, 2), through the void, whether any."""
    one, other = pair
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
