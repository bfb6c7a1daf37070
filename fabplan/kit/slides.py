"""Bodies that a part of a body makes which moves as one: a ring with its end, turned on by a pitch in its shell.

A search that lays single pieces anew does not see them, for no piece of the part can move without the others.
"""

from collections.abc import Iterator, Sequence
from itertools import combinations, permutations

import numpy as np

from fabplan.geom.near import heaps
from fabplan.geom.pose import compose, inverse
from fabplan.kit.growth import Body
from fabplan.kit.stances import Stances, members
from fabplan.model.arrays import IntArray
from fabplan.model.pose import Pose

PARTS = 3
"""Parts of a body that move together at most; they may hold one another by what stands alone."""

MANY = 6
"""Parts that can move after which a motion is left alone: it takes pieces away from what they lie on."""

ALIKE = 1e-3
"""Motions that differ by less, mm and sine, are one."""


def slides(stances: Stances, body: Body) -> Iterator[Body]:
    """Bodies that differ by one motion of some pieces, each sound and with as many holes met; the datum stands.

    Args:
        stances: all places.
        body: a body, its datum first.
    """
    known = met(stances, body)
    for move in _motions(stances, body):
        moved = [stances.number(stances.kind(place), compose(move, stances.pose(place))) for place in body]
        parts = _parts(stances, body, moved)
        free = sorted(set(parts.tolist()) - {parts[0]})
        if len(free) > MANY:
            continue
        gone: list[frozenset[int]] = []
        for some in (frozenset(some) for count in range(1, PARTS + 1) for some in combinations(free, count)):
            goes = np.isin(parts, sorted(some))
            new = tuple(moved[k] if goes[k] else place for k, place in enumerate(body))
            if not any(one <= some for one in gone) and sound(stances, new) and met(stances, new) == known:
                gone.append(some)
                yield new


def _motions(stances: Stances, body: Body) -> Iterator[Pose]:
    """Motions that lay one piece of a body otherwise on another, each once."""
    known: list[np.ndarray] = []
    for one, two in combinations(range(len(body)), 2):
        if not stances.met(body[one], body[two]):
            continue
        back = inverse(stances.pose(body[two]))
        ways = 0
        for hole in members(stances.met(body[one], body[two])).tolist():
            ways |= stances.cover(body[one])[hole]
        ways &= stances.of_kind[stances.kind(body[two])] & ~(1 << body[two])
        for way in members(ways).tolist():
            move = compose(stances.pose(way), back)
            told = np.append(move.rotation.ravel(), move.origin)
            if not any(np.abs(told - other).max() <= ALIKE for other in known):
                known.append(told)
                yield move


def _parts(stances: Stances, body: Body, moved: Sequence[int]) -> IntArray:
    """(n,) the part of each piece: pieces that hold one another are of one part where neither can move alone."""
    stiff = [
        (one, two)
        for one, two in combinations(range(len(body)), 2)
        if stances.met(body[one], body[two])
        and (stances.unsound(body[one], 1 << moved[two]) or stances.unsound(body[two], 1 << moved[one]))
    ]
    return heaps(np.array(stiff, dtype=np.int64).reshape(-1, 2), len(body))


def sound(stances: Stances, body: Sequence[int]) -> bool:
    """Whether no piece of a body fouls another, or lies blind on it."""
    some = sum(1 << place for place in body)
    return len(set(body)) == len(body) and not any(stances.unsound(place, some & ~(1 << place)) for place in body)


def met(stances: Stances, body: Sequence[int]) -> int:
    """How many holes of a body have a mate."""
    holes = [0] * len(body)
    for one, two in permutations(range(len(body)), 2):
        holes[one] |= stances.met(body[one], body[two])
    return sum(own.bit_count() for own in holes)
