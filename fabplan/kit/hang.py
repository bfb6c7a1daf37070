"""Motions of pieces of a body, each with all that hangs on it: a ring takes its end along, whichever end that is."""

from collections.abc import Callable, Collection, Iterable, Mapping
from functools import cache, lru_cache
from itertools import count, groupby
from typing import Generic, TypeVar

import numpy as np

from fabplan.geom.pose import inverse
from fabplan.model.choice import Step
from fabplan.model.pose import Pose

T = TypeVar("T")

SAME = 1e-3
"""Motions that differ by less, mm and sine, are one: a piece that two choices move so goes once."""

KEPT = 4096
"""Bodies whose joints are kept in mind: each is moved in many ways."""

Pairs = Collection[tuple[int, int]]
"""Pieces that holes hold to one another, both ways round."""


class Hanging(Generic[T]):
    """How pieces hang together wherever they stand.

    Where a piece stands is a `T`: a pose, or the number of a place.
    """

    def __init__(self, datum: int, held: Callable[[Mapping[int, T]], Pairs], by: Callable[[Pose, T], T]) -> None:
        """Take what tells which pieces hold one another, and where a motion brings a piece."""
        self.datum, self._held, self._by, self._back = datum, held, by, cache(inverse)
        self._beside, self._reached = lru_cache(KEPT)(self._joined), lru_cache(KEPT)(self._walked)
        self._loose = lru_cache(KEPT)(self._parted)
        self._motions, self._motion = np.zeros((0, 12)), cache(self._numbered)

    def depths(self, body: Mapping[int, T]) -> dict[int, int]:
        """How many pieces lie between each piece and the datum; as many as there are pieces where none hold it."""
        reached = self._reached(tuple(body.items()), frozenset())
        return {i: reached.get(i, len(body)) for i in body}

    def hung(self, body: Mapping[int, T], core: Collection[int]) -> frozenset[int]:
        """The pieces that nothing holds to the datum once some are gone."""
        return self._loose(tuple(body.items()), frozenset(core))

    def _parted(self, places: tuple[tuple[int, T], ...], core: frozenset[int]) -> frozenset[int]:
        whole, without = self._reached(places, frozenset()), self._reached(places, core)
        return frozenset(whole.keys() - without.keys() - core)

    def lots(self, body: Mapping[int, T], core: Collection[int]) -> list[tuple[int, ...]]:
        """Some pieces by lots that hang together through one another, or through what hangs on them all."""
        beside = self._beside(tuple(body.items()))
        left, loose = set(core), self.hung(body, core)
        found: list[tuple[int, ...]] = []
        while left:
            wave = [min(left)]
            for one in wave:
                wave += [two for two in beside.get(one, ()) if two in left | loose and two not in wave]
            found.append(tuple(sorted(left.intersection(wave))))
            left -= set(wave)
        return found

    def moved(self, body: Mapping[int, T], steps: Iterable[Step]) -> dict[int, T]:
        """The body after some steps: those furthest from the datum go first, those of one depth as they come."""
        now = dict(body)
        for level in _levels(steps)[::-1]:
            now = self._level(now, level, back=False)
        return now

    def taken_back(self, body: Mapping[int, T], steps: Iterable[Step]) -> dict[int, T]:
        """The body from which some steps made this one."""
        now = dict(body)
        for level in _levels(steps):
            now = self._level(now, level, back=True)
        return now

    def _level(self, body: Mapping[int, T], steps: Iterable[Step], *, back: bool) -> dict[int, T]:
        """What hangs on what is looked at before any of the steps of one level is made; two may share a motion."""
        now = dict(body)
        made: set[tuple[int, int]] = set()
        for step in steps:
            move = self._back(step.move) if back else step.move
            along = frozenset() if step.alone else self.hung(body, step.pieces)
            number = self._motion(move)
            for i in (along | set(step.pieces)) & set(now):
                if (i, number) not in made:
                    made.add((i, number))
                    now[i] = self._by(move, now[i])
        return now

    def _numbered(self, move: Pose) -> int:
        """The number of a motion, the same for those that are one."""
        told = np.append(move.rotation.ravel(), move.origin)
        same = np.nonzero(np.abs(self._motions - told).max(axis=1) <= SAME)[0]
        if not len(same):
            self._motions = np.vstack([self._motions, told])
        return int(same[0]) if len(same) else len(self._motions) - 1

    def _joined(self, places: tuple[tuple[int, T], ...]) -> dict[int, list[int]]:
        """What lies on each piece."""
        beside: dict[int, list[int]] = {}
        for one, two in self._held(dict(places)):
            beside.setdefault(one, []).append(two)
        return beside

    def _walked(self, places: tuple[tuple[int, T], ...], gone: frozenset[int]) -> dict[int, int]:
        """How far from the datum the pieces lie that hang together with it once some are gone."""
        beside, depth, wave = self._beside(places), {self.datum: 0}, [self.datum]
        for far in count(1):
            near = (two for one in wave for two in beside.get(one, ()))
            wave = list(dict.fromkeys(two for two in near if two not in gone and two not in depth))
            if not wave:
                break
            depth |= dict.fromkeys(wave, far)
        return depth


def _levels(steps: Iterable[Step]) -> list[list[Step]]:
    """Steps of one depth together, those next to the datum first."""
    ranked = sorted(steps, key=lambda step: step.depth)
    return [list(level) for _, level in groupby(ranked, key=lambda step: step.depth)]
