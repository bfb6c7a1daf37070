"""Motions of pieces of a body, each with all that hangs on it: a ring takes its end along, whichever end that is."""

from collections.abc import Callable, Collection, Iterable, Mapping
from itertools import groupby
from typing import Generic, TypeVar

import numpy as np

from fabplan.geom.pose import inverse
from fabplan.model.arrays import FloatArray
from fabplan.model.choice import Step
from fabplan.model.pose import Pose

T = TypeVar("T")

SAME = 1e-3
"""Motions that differ by less, mm and sine, are one: a piece that two choices move so goes once."""

Pairs = Collection[tuple[int, int]]
"""Pieces that holes hold to one another, both ways round."""


class Hanging(Generic[T]):
    """How pieces hang together wherever they stand.

    Where a piece stands is a `T`: a pose, or the number of a place.
    """

    def __init__(self, datum: int, held: Callable[[Mapping[int, T]], Pairs], by: Callable[[Pose, T], T]) -> None:
        """Take what tells which pieces hold one another, and where a motion brings a piece."""
        self.datum, self._held, self._by = datum, held, by

    def depths(self, body: Mapping[int, T]) -> dict[int, int]:
        """How many pieces lie between each piece and the datum; as many as there are pieces where none hold it."""
        return self._reached(body, self._held(body), frozenset())

    def hung(self, body: Mapping[int, T], core: Collection[int]) -> set[int]:
        """The pieces that nothing holds to the datum once some are gone."""
        return self._cut(body, self._held(body), core)

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
        held, now = self._held(body), dict(body)
        made: dict[int, list[FloatArray]] = {}
        for step in steps:
            move = inverse(step.move) if back else step.move
            along = set() if step.alone else self._cut(body, held, step.pieces)
            told = np.append(move.rotation.ravel(), move.origin)
            for i in (along | set(step.pieces)) & set(now):
                if not any(np.abs(told - other).max() <= SAME for other in made.setdefault(i, [])):
                    made[i].append(told)
                    now[i] = self._by(move, now[i])
        return now

    def _cut(self, body: Mapping[int, T], held: Pairs, core: Collection[int]) -> set[int]:
        """What hung on the datum, and does not without the core."""
        whole, without = (self._reached(body, held, frozenset(some)) for some in ((), core))
        most = len(body)
        return {i for i in body if whole[i] < most <= without[i]} - set(core)

    def _reached(self, body: Mapping[int, T], held: Pairs, gone: frozenset[int]) -> dict[int, int]:
        beside: dict[int, list[int]] = {}
        for one, two in held:
            beside.setdefault(one, []).append(two)
        depth, wave = {self.datum: 0}, [self.datum]
        while wave:
            near = (two for one in wave for two in beside.get(one, ()))
            wave = list(dict.fromkeys(two for two in near if two not in gone and two not in depth))
            depth |= {one: max(depth.values()) + 1 for one in wave}
        return {i: depth.get(i, len(body)) for i in body}


def _levels(steps: Iterable[Step]) -> list[list[Step]]:
    """Steps of one depth together, those next to the datum first."""
    ranked = sorted(steps, key=lambda step: step.depth)
    return [list(level) for _, level in groupby(ranked, key=lambda step: step.depth)]
