"""The choice that an order leaves open, put in numbers from the yard, answered, and made into phases and a bench again.

What CP-SAT is told is at most too good: rivets count as reached on the bench, and as having room over the floor in ways
of lying other than as drawn, until an answer wants it. Then the yard is asked, and what it denies is cut off. So the
bounds hold, and an answer is no more than a proposal: `fabplan.sequence.orders` proves it as any other.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.sequence.bench import FEWEST, Bench, free_reach, may_join, of_rivets, units
from fabplan.sequence.choice import RANK, TIME, Answer, Choice, Cut
from fabplan.sequence.lifting import BY_HAND
from fabplan.sequence.phases import Phase
from fabplan.sequence.scene import Scene, indices
from fabplan.sequence.shifts import (
    DOWNHAND,
    OVERHEAD,
    SIDEWAYS,
    Yard,
    rivet_minutes,
    short_of,
    turn_minutes,
    upward,
)
from fabplan.sequence.solve import solve
from fabplan.sequence.stances import Stance

ROUNDS = 12
"""Answers that are asked for: what the yard denies in one is cut off in the next."""

ON_BENCH, NOWHERE = -1, -2
"""Places of rivets that are driven on the bench, and of those that no order drives."""

PERCENT = 100.0  # of a rivet downhand: what attitude costs is counted in it, by the rates of the shop
PART = 100.0  # of a minute: times are whole numbers of it


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What CP-SAT proposes.

    Attributes:
        bench: sub-assemblies.
        phases: the states of the body with the rivets that are left to each.
        bound: what no order betters in each of the `ranks`, with those before it as found.
        many: rivets that it drives, on the bench and after it.
    """

    bench: Bench
    phases: tuple[Phase, ...]
    bound: tuple[int, ...]
    ranks: tuple[str, ...]
    many: int


@dataclass(frozen=True, slots=True, eq=False)
class _Places:
    """Where n rivets may be driven, in p places of work.

    Attributes:
        state: (p,) the phase of each.
        stance: of each.
        drawn: (p,) True where it lies as drawn.
        able: (n, p).
        short: (n, p) True for what has no room over the floor, where it was asked.
        hard: (n, p) what attitude costs, in percent of a rivet downhand.
        minutes: (n, p) what they take there in free space, in a part of a minute.
        turn: minutes of a turn-over, the least of all states.
        ends: (m,) the pieces that stand in the first phase, and in the last.
        counted: (m,) those of the last whose lifts count.
        asked: places about which the floor was asked.
    """

    state: IntArray
    stance: tuple[Stance, ...]
    drawn: BoolArray
    able: BoolArray
    short: BoolArray
    hard: IntArray
    minutes: IntArray
    turn: float
    ends: tuple[BoolArray, BoolArray]
    counted: BoolArray
    asked: set[int] = field(default_factory=set)

    @property
    def wanted(self) -> BoolArray:
        """(n,) True for rivets that the order drives."""
        return np.asarray(self.able.any(axis=1), dtype=np.bool_)


def propose(
    yard: Yard, phases: Sequence[Phase], apart: Collection[int] = (), fixed: Collection[int] = ()
) -> Iterator[Proposal]:
    """The best orders that CP-SAT finds, by rank and by time.

    Args:
        yard: the yard.
        phases: states of the body with the rivets that are driven in each.
        apart: instances that nothing is riveted to on the bench.
        fixed: instances that are in sub-assemblies already; their lifts are left out of the bounds.
    """
    places = _places(yard, phases, fixed)
    if not places.wanted.any():
        return
    _ask(yard, phases, places, np.nonzero(places.drawn)[0].tolist())
    onto, bench = may_join(yard.scene, phases, fixed), _on_bench(yard, places.wanted)
    onto[:, list(apart)] = False
    cuts: list[Cut] = []
    for ranks in (RANK, TIME):
        found = _answered(yard, phases, (places, onto, bench), cuts, ranks)
        if found is not None:
            yield _proposal(yard, phases, places, (*found, ranks))


def _answered(
    yard: Yard,
    phases: Sequence[Phase],
    open_yet: tuple[_Places, BoolArray, BoolArray],
    cuts: list[Cut],
    ranks: Sequence[str],
) -> tuple[Answer, IntArray] | None:
    """An answer that the yard does not deny, and the place (n,) of each rivet; `cuts` grows."""
    places, onto, bench = open_yet
    found: tuple[Answer, IntArray] | None = None
    for _ in range(ROUNDS):
        batch, choice = _choice(yard, places, (onto, bench), cuts)
        answer = solve(choice, ranks)
        if answer is None:
            return found
        place = np.where(batch >= 0, answer.place[batch], NOWHERE)
        found = answer, place
        denied = list(_denied(yard, answer.group, place == ON_BENCH, batch))
        fresh = sorted(set(place[place >= 0].tolist()) - places.asked)
        if not denied and not fresh:
            break
        cuts += denied
        _ask(yard, phases, places, fresh)
    return found


def _places(yard: Yard, phases: Sequence[Phase], fixed: Collection[int] = ()) -> _Places:
    """All states and the ways in which the body may lie in each; as drawn alone where it cannot be turned over."""
    scene, wanted = yard.scene, np.zeros(len(yard.scene.member), dtype=np.bool_)
    for phase in phases:
        wanted[phase.rivets] = True
    state, stance, drawn, turns, columns = [], [], [], [], []
    for number, phase in enumerate(phases):
        weight, lying = yard.lies(phase.present)
        turns.append(turn_minutes(scene, weight.mass))
        here = wanted & phase.reach.reached & ~(scene.member & ~phase.present).any(axis=1)
        for k, lies in enumerate(lying[: None if np.isfinite(turns[-1]) else 1]):
            state.append(number)
            stance.append(lies)
            drawn.append(k == 0)
            takes = rivet_minutes(scene, phase.reach, np.arange(len(here)), yard.floor(lies))
            columns.append((here, np.zeros_like(here), _hard(scene, phase, lies), np.rint(PART * takes)))
    able, short, hard, minutes = (np.array(column).T for column in zip(*columns, strict=True))
    ends = phases[0].present, phases[-1].present
    counted = ends[1] & ~np.isin(np.arange(len(ends[1])), list(fixed))
    turn = min((one for one in turns if np.isfinite(one)), default=0.0)
    return _Places(
        np.array(state),
        tuple(stance),
        np.array(drawn),
        able,
        short,
        hard,
        minutes.astype(np.int64),
        turn,
        ends,
        counted,
    )


def _hard(scene: Scene, phase: Phase, lies: Stance) -> IntArray:
    """(n,) what attitude costs, in percent of a rivet downhand."""
    up = upward(scene, phase.reach, np.arange(len(scene.member)), lies.down)
    cost = np.where(up >= DOWNHAND, 1.0, np.where(up > -DOWNHAND, SIDEWAYS, OVERHEAD)) - 1.0
    return np.rint(PERCENT * cost).astype(np.int64)


def _ask(yard: Yard, phases: Sequence[Phase], places: _Places, fresh: Sequence[int]) -> None:
    """Ask the floor about some places of work."""
    for p in fresh:
        phase = replace(phases[places.state[p]], rivets=np.nonzero(places.able[:, p])[0])
        reach = yard.over_floor(phase, yard.floor(places.stance[p]))
        places.short[phase.rivets, p] = short_of(phase, reach, phase.rivets)
        places.asked.add(p)


def _on_bench(yard: Yard, wanted: BoolArray) -> BoolArray:
    """(n,) True for rivets that are reached on the bench while their plies alone are there."""
    scene, found = yard.scene, np.zeros_like(wanted)
    for own in np.unique(scene.member[wanted], axis=0):
        group, of = np.where(own, 0, -1), np.where((scene.member == own).all(axis=1), 0, -1)
        found |= free_reach(scene.site, group, of).reached
    return found & wanted


def _choice(
    yard: Yard, places: _Places, bench: tuple[BoolArray, BoolArray], cuts: Sequence[Cut]
) -> tuple[IntArray, Choice]:
    """(n,) the batch of each rivet, -1 for those that no order drives, and the choice; cuts are of rivets, (n,)."""
    scene, (onto, free) = yard.scene, bench
    own = np.nonzero(places.wanted)[0]
    able = places.able[own]
    plies = np.unique(scene.member[own], axis=0, return_inverse=True)[1].reshape(-1, 1)
    alike = [plies, scene.stacks.seam[own, None], free[own, None], able, places.short[own]]
    alike += [np.where(able, costs[own], 0) for costs in (places.hard, places.minutes)]
    alike += [cut.batches[own, None] for cut in cuts]
    _, first, of, many = np.unique(np.hstack(alike), axis=0, return_index=True, return_inverse=True, return_counts=True)
    lead, batch = own[first], np.full(len(scene.member), -1)
    batch[own] = of.ravel()
    soonest = places.minutes[own, able.argmax(axis=1)] / PART
    late = np.rint(np.bincount(of.ravel(), scene.stacks.grip[own] * soonest)).astype(np.int64)
    shop, total = scene.job.shop, many[:, None]
    choice = Choice(
        many=many, plies=scene.member[lead], bench=free[lead], able=places.able[lead],
        short=places.short[lead] * total, hard=places.hard[lead] * total, minutes=places.minutes[lead] * total,
        downhand=np.floor(many * PART * 60.0 / shop.rivets_per_hour).astype(np.int64),
        each=(int(PART * places.turn), int(PART * shop.lift_minutes)), late=late,
        state=places.state, drawn=places.drawn, onto=onto,
        mass=np.where(places.counted, [scene.mass(i) for i in range(len(onto))], 0.0), early=places.ends[0],
        fewest=FEWEST, by_hand=BY_HAND, cuts=tuple(Cut(cut.batches[lead], cut.pieces) for cut in cuts),
    )  # fmt: skip
    return batch, choice


def _denied(yard: Yard, group: IntArray, bench: BoolArray, batch: IntArray) -> Iterator[Cut]:
    """What is not reached in the sub-assemblies of an answer: rivets, and the pieces that are too many, by batch."""
    scene, of = yard.scene, np.where(bench, of_rivets(yard.scene, group), -1)
    missed = (of >= 0) & ~free_reach(scene.site, group, of).reached
    ways, pairs = scene.ways, scene.ways.blocked
    for number in np.unique(batch[missed]).tolist():
        rivets = missed & (batch == number)
        unit = group == group[scene.member[np.argmax(rivets)]].max()
        in_way = np.zeros_like(unit)
        in_way[pairs.instance[rivets[ways.rivet[pairs.of]]]] = True
        few = unit & (in_way | scene.member[rivets].any(axis=0))
        again = free_reach(scene.site, np.where(few, 0, -1), np.where(rivets, 0, -1)).reached
        yield Cut(rivets, indices(unit if (again & rivets).any() else few))


def _proposal(
    yard: Yard, phases: Sequence[Phase], places: _Places, chosen: tuple[Answer, IntArray, tuple[str, ...]]
) -> Proposal:
    """The answer made into a bench and phases; what the bench does not drive goes into the first state that can."""
    answer, place, ranks = chosen
    bench = units(yard, phases, answer.group)
    first = places.state[places.able.argmax(axis=1)]
    state = np.where(place >= 0, places.state[place], first)
    left = places.wanted & ~bench.driven
    rest = tuple(replace(one, rivets=np.nonzero(left & (state == k))[0]) for k, one in enumerate(phases))
    return Proposal(bench, rest, answer.bound, ranks, int(places.wanted.sum()))
