"""What would help: the body peeled again with ways in, other tools, tap rivets, or with a piece put on last."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.sequence.access import ANYWHERE, BY_OPENINGS, Site, access
from fabplan.sequence.causes import Cause
from fabplan.sequence.hand_holes import HandHole, best_place, cut, places, wanted
from fabplan.sequence.peel import Peeling, peel
from fabplan.sequence.phases import with_hangers
from fabplan.sequence.reach import Ways

MOST = 12  # pieces tried: each costs several looks at the whole body
HOLES = 6  # hand holes tried
MANY = 60  # tap rivets: more are told only where they free as many rivets


@dataclass(frozen=True, slots=True, eq=False)
class Cure:
    """One thing tried; a way in for a man where it is none of `last`, `holes`, `tapped` and `tools`.

    Attributes:
        freed: (n,) True for rivets of the core that can be driven then.
        own: (n,) True for rivets of the core that stay rivets no more: those through the pieces put on last, or tapped.
        last: instances that are put on last.
        holes: hand holes that are cut.
        tapped: True where tap rivets can be fitted in place of all its own, from the side that is reached.
        tools: True where the tools of the table are taken beside the shop's.
    """

    freed: BoolArray
    own: BoolArray
    last: tuple[int, ...] = ()
    holes: tuple[HandHole, ...] = ()
    tapped: bool = False
    tools: bool = False

    def builds(self, left: IntArray) -> bool:
        """True where nothing of the core `left` stays but its `own` rivets."""
        return bool((self.freed | self.own)[left].all())


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A body with a core.

    Attributes:
        site: the site.
        member: (n, m) plies.
        placed: (m,) what stands.
        datum: its instance.
        plates: (m,) which instances are plates.
        points: (n, 3) places of the rivets, mm.
        peeling: how far it comes apart.
        spare: the ways with the tools of the table too, where the shop counts its own alone.
        held, done: what each rivet holds (n, m), and those (n,) that are driven before, where some are on the bench.
    """

    site: Site
    member: BoolArray
    placed: BoolArray
    datum: int
    plates: BoolArray
    points: FloatArray
    peeling: Peeling
    spare: Ways | None = None
    held: BoolArray | None = None
    done: BoolArray | None = None

    @property
    def core(self) -> BoolArray:
        """(n,) True for rivets of the core."""
        core: BoolArray = self.peeling.round < 0
        return core

    def freed(self, site: Site, standing: BoolArray, men: int = BY_OPENINGS) -> BoolArray:
        """(n,) True for rivets of the core that come out of a site on which `standing` (m,) stand."""
        held = self.member if self.held is None else self.held
        freed: BoolArray = self.core & (peel(site, held, standing, self.datum, men, self.done).round >= 0)
        return freed


def cures(case: Case, found: Sequence[Cause]) -> tuple[Cure, ...]:
    """What frees rivets of the core, that which frees most first.

    The cheapest come first where they free as many: other tools, ways in, tap rivets, pieces put on last. No more
    pieces are tried once one builds the rest. The datum is never put on last: all is set from it.
    """
    left, none = np.nonzero(case.core)[0], np.zeros_like(case.core)
    way_in = Cure(case.freed(case.site, case.placed, ANYWHERE), none)
    tried = [*_other_tools(case), way_in, *_hand_holes(case), *_tapped(case, found)]
    blocked = [cause for cause in found if not way_in.freed[cause.rivets].all()]
    for off in _candidates(case, blocked):
        standing = case.placed.copy()
        standing[off] = False
        own: BoolArray = case.core & case.member[:, off].any(axis=1)
        screws = access(_tap(case.site, own), len(own), case.placed).reached
        freed, tapped = case.freed(case.site, standing), bool(screws[own].all())
        tried.append(Cure(freed, own, last=tuple(off.tolist()), tapped=tapped))
        if tried[-1].builds(left):
            break
    helpful = [cure for cure in tried if cure.freed.any() or cure.builds(left)]
    return tuple(sorted(helpful, key=lambda cure: (not cure.builds(left), -int(cure.freed.sum()))))


def _other_tools(case: Case) -> Iterator[Cure]:
    if case.spare is not None:
        other = replace(case.site, ways=case.spare, answers={}, entries={})
        yield Cure(case.freed(other, case.placed), np.zeros_like(case.core), tools=True)


def _hand_holes(case: Case) -> Iterator[Cure]:
    """Hand holes cut one after the other, each where arms are wanted most, until no further one frees a rivet."""
    site, freed, present = case.site, np.zeros_like(case.core), case.peeling.present[-1]
    asked = wanted(site, case.peeling.last, present, case.core)
    free = list(places(site, present, case.plates, case.points)) if len(asked.rivet) else []
    taken: list[HandHole] = []
    for _ in range(HOLES):
        best = best_place(site, free, asked)
        if best < 0:
            break
        hole = free.pop(best)
        free = [one for one in free if not one.overlaps(hole)]
        trial = cut(site, hole)
        after = case.freed(trial, case.placed)
        if after.sum() > freed.sum():
            site, freed, taken = trial, after, [*taken, hole]
            asked = asked.without(freed)
    yield Cure(freed, np.zeros_like(freed), holes=tuple(taken))


def _tapped(case: Case, found: Sequence[Cause]) -> Iterator[Cure]:
    """Tap rivets in place of those that one side alone is reached of: of each cause, fewest first, then of all."""
    ones = sorted((cause.rivets for cause in found if cause.other), key=len)
    every = [np.concatenate(ones)] if len(ones) > 1 else []
    for rivets in [*ones[:MOST], *every]:
        own = np.zeros_like(case.core)
        own[rivets] = True
        freed = case.freed(_tap(case.site, own), case.placed)
        if freed[rivets].all() and (len(rivets) <= MANY or (freed & ~own).sum() >= len(rivets)):
            yield Cure(freed & ~own, own, tapped=True)


def _tap(site: Site, rivets: BoolArray) -> Site:
    """The site with tap rivets in place of some rivets (n,)."""
    return replace(site, screwed=site.screwed | rivets, either=rivets, answers={}, entries={})


def _candidates(case: Case, blocked: Sequence[Cause]) -> Iterator[IntArray]:
    """Pieces to put on last, with what hangs on them: those in the way of a tool, then plates, fewest rivets first."""
    through = case.member[case.core].sum(axis=0)
    plates = np.nonzero(case.peeling.present[-1] & case.plates & (through > 0))[0].tolist()
    in_way = [i for cause in blocked for i in cause.parts]
    ranked = dict.fromkeys([*in_way, *sorted(plates, key=lambda i: (through[i], i))])
    for i in [i for i in ranked if i != case.datum][:MOST]:
        yield with_hangers(np.array([i]), case.member, case.placed, case.datum)
