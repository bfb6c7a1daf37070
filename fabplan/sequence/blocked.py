"""What stands in the way of what, as pairs: most ways are free of most pieces."""

from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Blocked:
    """Pairs, each once, of one of `count` ways or lines, and a piece that stands in it.

    Attributes:
        of: (p,) the way.
        instance: (p,) the piece.
        count: how many ways there are.
    """

    of: IntArray
    instance: IntArray
    count: int

    def free(self, present: BoolArray) -> BoolArray:
        """(count,) True where none of the pieces present (m,) stands in the way."""
        free = np.ones(self.count, dtype=np.bool_)
        free[self.of[present[self.instance]]] = False
        return free

    def pieces(self, present: BoolArray) -> IntArray:
        """(count,) how many of the pieces present stand in the way."""
        found: IntArray = np.bincount(self.of[present[self.instance]], minlength=self.count).astype(np.int64)
        return found

    def take(self, kept: IntArray) -> "Blocked":
        """Of some ways (k,), in their order."""
        place = np.full(self.count, -1, dtype=np.int64)
        place[kept] = np.arange(len(kept))
        there = place[self.of] >= 0
        return Blocked(place[self.of[there]], self.instance[there], len(kept))


def joined(parts: list[Blocked]) -> Blocked:
    """Several, one after the other."""
    before = np.cumsum([0, *(part.count for part in parts)])
    of = [part.of + first for part, first in zip(parts, before[:-1], strict=True)]
    none = [np.zeros(0, dtype=np.int64)]
    return Blocked(np.concatenate(of or none), np.concatenate([p.instance for p in parts] or none), int(before[-1]))
