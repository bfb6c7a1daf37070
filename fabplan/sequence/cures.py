"""What would help: the body peeled again with a way in for a man, or with a piece put on last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.sequence.access import ANYWHERE, BY_OPENINGS, Site
from fabplan.sequence.causes import Cause
from fabplan.sequence.peel import Peeling, peel
from fabplan.sequence.phases import with_hangers

MOST = 12  # pieces tried: each costs several looks at the whole body


@dataclass(frozen=True, slots=True, eq=False)
class Cure:
    """One thing tried.

    Attributes:
        last: instances that are put on last; none where a way in for a man is made.
        freed: (n,) True for rivets of the core that can be driven then.
        own: (n,) True for rivets of the core that go through the pieces put on last: these stay.
    """

    last: tuple[int, ...]
    freed: BoolArray
    own: BoolArray

    def builds(self, left: IntArray) -> bool:
        """True where nothing of the core `left` stays but the rivets of the last pieces themselves."""
        return bool((self.freed | self.own)[left].all())


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A body with a core: the site, the plies (n, m), what stands, the datum, which instances are plates (m,)."""

    site: Site
    member: BoolArray
    placed: BoolArray
    datum: int
    plates: BoolArray


def cures(case: Case, peeling: Peeling, found: Sequence[Cause]) -> tuple[Cure, ...]:
    """What frees rivets of the core, that which frees most first: a way in, and pieces put on last, one by one.

    No more pieces are tried once one builds the rest. The datum is never put on last: all is set from it.
    """
    core = peeling.round < 0
    left = np.nonzero(core)[0]
    tried = [Cure((), core & (_again(case, case.placed, ANYWHERE) >= 0), np.zeros_like(core))]
    blocked = [cause for cause in found if not tried[0].freed[cause.rivets].all()]
    for off in _candidates(case, left, peeling.present[-1], blocked):
        standing = case.placed.copy()
        standing[off] = False
        freed = core & (_again(case, standing, BY_OPENINGS) >= 0)
        tried.append(Cure(tuple(off.tolist()), freed, core & case.member[:, off].any(axis=1)))
        if tried[-1].builds(left):
            break
    helpful = [cure for cure in tried if cure.freed.any()]
    return tuple(sorted(helpful, key=lambda cure: (not cure.builds(left), -int(cure.freed.sum()))))


def _again(case: Case, standing: BoolArray, men: int) -> IntArray:
    return peel(case.site, case.member, standing, case.datum, men).round


def _candidates(case: Case, left: IntArray, present: BoolArray, blocked: Sequence[Cause]) -> Iterator[IntArray]:
    """Pieces to put on last, with what hangs on them: those in the way of a tool, then plates, fewest rivets first."""
    through = case.member[left].sum(axis=0)
    plates = np.nonzero(present & case.plates & (through > 0))[0].tolist()
    in_way = [i for cause in blocked for i in cause.parts]
    ranked = dict.fromkeys([*in_way, *sorted(plates, key=lambda i: (through[i], i))])
    for i in [i for i in ranked if i != case.datum][:MOST]:
        yield with_hangers(np.array([i]), case.member, case.placed, case.datum)
