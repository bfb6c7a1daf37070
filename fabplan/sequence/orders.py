"""Orders of work that can be done, weighed against one another: on the bench first or not, turned over or not."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from math import floor

import numpy as np

from fabplan.model.sequence import Tally
from fabplan.sequence.access import access
from fabplan.sequence.batches import PART, Proposal, propose
from fabplan.sequence.bench import NO_BENCH, Bench, free_reach, of_rivets, on_the_bench
from fabplan.sequence.choice import RANK, TIME
from fabplan.sequence.lifting import BY_HAND
from fabplan.sequence.phases import Phase
from fabplan.sequence.scene import Scene
from fabplan.sequence.shifts import Shift, Yard, shifts
from fabplan.sequence.solve import solver_there

NAMES = {
    RANK: "most on the bench, then fewest turn-overs and lifts, downhand (CP-SAT)",
    TIME: "least time over bench, waits and turn-overs together (CP-SAT)",
}


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """One order: the sub-assemblies of the bench, the shifts of the body after them, and what both come to."""

    bench: Bench
    shifts: tuple[Shift, ...]
    tally: Tally

    @property
    def phases(self) -> tuple[Phase, ...]:
        """Which rivets are driven while what stands, bench and body."""
        every = [*(one for unit in self.bench.shifts for one in unit), *self.shifts]
        return tuple(replace(one.phase, rivets=one.rivets, reach=one.reach) for one in every)


def orders(
    yard: Yard, phases: Sequence[Phase], *, benches: bool, apart: Collection[int] = (), fixed: Bench = NO_BENCH
) -> tuple[Order, ...]:
    """The orders, best first: most rivets with room, then least time; each says why it stands where it does.

    Args:
        yard: the yard.
        phases: states of the body with the rivets that are driven in each.
        benches: False for a stated order, which is taken as it is.
        apart: instances that nothing is riveted to on the bench.
        fixed: sub-assemblies that every order has, for no phase drives their rivets.
    """
    found = [_order(yard, phases, fixed, turning) for turning in (False, True)]
    bench = on_the_bench(yard, phases, apart, fixed) if benches else NO_BENCH
    if bench.units:
        rest = [replace(phase, rivets=phase.rivets[~bench.driven[phase.rivets]]) for phase in phases]
        found += [_order(yard, rest, fixed.joined(bench), turning) for turning in (False, True)]
    proposals = tuple(propose(yard, phases, apart, fixed.pieces)) if benches and solver_there() else ()
    bounds: dict[Tally, str] = {}
    for one in proposals:
        bench = fixed.joined(one.bench)
        both = [_order(yard, one.phases, bench, turning, NAMES[one.ranks]) for turning in (False, True)]
        sound = [made for made in both if proven(yard.scene, phases, made)]
        found += sound
        for made in sorted(sound, key=lambda made: _rank(one, made.tally))[:1]:
            bounds.setdefault(_figures(made.tally), _bounds(one, made.tally, fixed))
    unlike = {_figures(one.tally): one for one in reversed(found)}
    ranked = sorted(unlike.values(), key=lambda one: (one.tally.short, one.tally.minutes, one.tally.turns))
    told = [_why(one.tally, ranked[0].tally) + bounds.get(_figures(one.tally), "") for one in ranked]
    return tuple(replace(one, tally=replace(one.tally, why=why)) for one, why in zip(ranked, told, strict=True))


def proven(scene: Scene, phases: Sequence[Phase], order: Order) -> bool:
    """True where an order drives each rivet of the phases once, and reaches it with all its plies there.

    Nothing is taken over from the search: what stands is looked at step by step as it grows.
    """
    driven = np.concatenate([one.rivets for one in order.phases])
    aside = [shift.rivets for unit in order.bench.shifts[: order.bench.must] for shift in unit]
    wanted = np.concatenate([*(phase.rivets for phase in phases), *aside])
    if not np.array_equal(np.sort(driven), np.sort(wanted)):
        return False
    before = np.zeros(scene.member.shape[1], dtype=np.bool_)
    for shift in order.shifts:
        present, rivets = shift.phase.present, shift.rivets
        reached = access(scene.site, len(scene.member), present).reached[rivets]
        if (before & ~present).any() or (scene.member[rivets] & ~present).any() or not reached.all():
            return False
        before = present
    for number, (unit, shifts_of) in enumerate(zip(order.bench.units, order.bench.shifts, strict=True)):
        own = np.isin(np.arange(len(before)), unit)
        group = np.where(own, 0, -1)
        fixed = number < order.bench.must
        free = (
            access(scene.site, len(scene.member), own)
            if fixed
            else free_reach(scene.site, group, of_rivets(scene, group))
        ).reached
        if not all(free[shift.rivets].all() for shift in shifts_of):
            return False
    return True


def _rank(proposal: Proposal, tally: Tally) -> tuple[float, ...]:
    """What an order comes to in the ranks of a proposal."""
    if proposal.ranks == TIME:
        return tally.short, tally.minutes
    return tally.short, -tally.bench, tally.turns + tally.lifts, tally.minutes


def _bounds(proposal: Proposal, tally: Tally, fixed: Bench) -> str:
    """What no order betters by the count of CP-SAT, beside what this one comes to; all have the `fixed` bench."""
    if proposal.ranks == TIME:
        least = floor(proposal.bound[1] / PART + sum(one.minutes for one in fixed.tallies))
        return f"; no order can take less than {least} min by this count, which takes {tally.minutes:.0f}"
    _, body, lifted, _, _ = proposal.bound
    most = proposal.many - body + int(fixed.driven.sum())
    return (
        f"; no order has more than {most} rivets on the bench, nor, with {tally.bench} there, can do "
        f"with fewer than {lifted} turn-overs and lifts by this count, which has {tally.turns + tally.lifts}"
    )


def _figures(tally: Tally) -> Tally:
    return replace(tally, name="", why="")


def _order(yard: Yard, phases: Sequence[Phase], bench: Bench, turning: bool, first: str = "") -> Order:
    found, body = shifts(yard, phases, turning=turning)
    free = len(bench.units) > bench.must
    first = first or ("sub-assemblies on the bench first" if free else "bolted whole, then riveted")
    name = f"{first}, {'turned over as it pays' if turning else 'as drawn throughout'}"
    tallies = [body, *bench.tallies]
    lifts = _lifts(yard.scene, phases, bench)
    total = {field: sum(getattr(one, field) for one in tallies) for field in SUMMED}
    total["minutes"] += lifts * yard.scene.job.shop.lift_minutes
    return Order(bench, found, Tally(name=name, lifts=lifts, **total))


SUMMED = ("short", "bench", "turns", "downhand", "sideways", "overhead", "inside", "minutes")


def _lifts(scene: Scene, phases: Sequence[Phase], bench: Bench) -> int:
    """Lifts by crane: pieces set up; those that are off again in between; what goes on the bench, and comes back."""
    heavy = np.array([scene.mass(i) > BY_HAND for i in range(len(scene.body.instances))])
    placed = phases[-1].present
    late = placed & ~phases[0].present
    apart = placed if any(phases[0].present[unit[0]] for unit in bench.units) else late
    joined = np.zeros_like(placed)
    for unit in bench.units:
        joined[list(unit)] = True
    again = int((heavy & apart & ~joined).sum()) + sum(_heavy(scene, unit) for unit in bench.units)
    return int((heavy & placed).sum()) + int((heavy & apart).sum()) + again


def _heavy(scene: Scene, unit: Sequence[int]) -> bool:
    return sum(scene.mass(i) for i in unit) > BY_HAND


def _why(tally: Tally, best: Tally) -> str:
    """In what an order differs from the one taken."""
    if tally is best:
        return "taken: of those with room for most rivets the least time"
    told = [
        (tally.short - best.short, "without room over the floor"),
        (tally.overhead - best.overhead, "overhead"),
        (tally.inside - best.inside, "with a man inside"),
        (tally.turns - best.turns, "turn-overs"),
        (tally.lifts - best.lifts, "lifts"),
    ]
    more = [f"{number} more {words}" for number, words in told if number > 0]
    fewer = [f"{-number} fewer {words}" for number, words in told if number < 0]
    hours = (tally.minutes - best.minutes) / 60.0
    return (
        f"{abs(hours):.0f} h {'longer' if hours >= 0.0 else 'shorter'}: {', '.join([*more, *fewer]) or 'less downhand'}"
    )
