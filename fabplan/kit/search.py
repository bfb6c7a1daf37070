"""The search for bodies that explain as many holes as possible, and the proof that there is no other.

A body grows from its datum. The open row with the fewest ways to be explained goes next; each way puts one more piece
where its own row lies on that one, unless metal would run into metal or a hole lie against blind metal. A row may be
left as spare within a budget of holes, which goes up only when no body closes. What is finished has no say in what
follows but by its metal; so two ways that leave the same rows open go on alike, and the second is not searched again:
that makes the work grow with the sum of the choices and not with their product.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from fabplan.geom.abreast import abreast
from fabplan.kit.alike import Kind
from fabplan.kit.stances import Stances
from fabplan.kit.supply import Supply
from fabplan.model.arrays import BoolArray

BUDGETS = (0, 2, 4, 8, 16, 32)
"""Holes left without a mate, tried in turn; up to `SPARE` of all."""

SPARE = 0.08

WORK = 12_000
"""Pairs of pieces and steps looked at before the search gives up: half a minute or so."""

BODIES = 300
"""Bodies after which no more are listed."""

FEWEST = 2
"""Open holes of a row from which on it is to be explained; a single one may be a spare hole in the line."""

ODD = 2
"""Single holes left over in rows to which one piece, laid by another of its rows, may give mates: three-ply corners."""

Key = tuple[int, int]  # stance of a placed piece, number of a run of it
Lists = Mapping[Key, tuple[int, ...]]
Masks = Mapping[int, BoolArray]


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A body that grows.

    Attributes:
        placed: stances, the datum first.
        met: of each stance (n,) True for holes that have a mate.
        left: how many pieces of each kind are still to be placed.
        lists: for each run of a placed piece the stances that would explain it in full.
        spare: runs that are left without a mate on purpose.
    """

    placed: tuple[int, ...]
    met: Masks
    left: tuple[int, ...]
    lists: Lists
    spare: frozenset[Key]


@dataclass(slots=True, eq=False)
class Found:
    """What a search found: bodies as stances with their unexplained holes, and whether it looked at all ways."""

    bodies: list[tuple[int, tuple[int, ...]]] = field(default_factory=list)
    whole: bool = True


class _Trouble(Counter[tuple[int, int]]):
    """How often a row of a kind, none of whose ways was left, ended a branch; once from the start."""

    def __missing__(self, key: tuple[int, int]) -> int:
        return 1


class Search:
    """One search; holds what is known of the kit and its counters."""

    def __init__(self, kinds: tuple[Kind, ...], stances: Stances, work: int = WORK) -> None:
        """Start with no body."""
        self.kinds, self.stances, self.work = kinds, stances, work
        self.total = sum(len(kind.shape) * len(kind.instances) for kind in kinds)
        self.found, self.budget = Found(), 0
        self.supply = Supply(kinds)
        self.trouble = _Trouble()
        self.seen: set[object] = set()
        self.ends: dict[object, tuple[int, ...]] = {}

    def run(self, datum: int) -> Found:
        """The bodies with the fewest unexplained holes, from a stance of the datum."""
        kind = self.stances.kind(datum)
        left = tuple(len(one.instances) - (number == kind) for number, one in enumerate(self.kinds))
        for budget in BUDGETS:
            if budget and budget > SPARE * self.total:
                break
            self.found, self.budget, self.seen, self.ends = Found(), budget, set(), {}
            start = State(
                (datum,), {datum: np.zeros(len(self.kinds[kind].shape), dtype=np.bool_)}, left, {}, frozenset()
            )
            self._grown(self._with_lists(start, datum))
            if self.found.bodies or not self.found.whole:
                break
        least = min((spent for spent, _ in self.found.bodies), default=0)
        self.found.bodies = [one for one in self.found.bodies if one[0] == least]
        return self.found

    def _grown(self, state: State) -> tuple[int, ...] | None:
        """Search on from a state; the stances that end it, where that was found."""
        key = self.stances.canonical(state.placed), state.spare
        if key in self.seen:
            return None
        self.seen.add(key)
        if self.stances.spent + len(self.seen) > self.work or len(self.found.bodies) >= BODIES:
            self.found.whole = False
            return None
        open_key = frozenset(k for k in state.placed if self._open_runs(state, k)), state.left, state.spare
        if open_key in self.ends and self._ended(state, self.ends[open_key]):
            return self.ends[open_key]
        end = self._branched(state)
        if end is not None:
            self.ends.setdefault(open_key, end)
        return end

    def _branched(self, state: State) -> tuple[int, ...] | None:
        run, ways, hopeless = self._next(state)
        if hopeless > self.budget:
            return None
        if not ways:
            return () if self._recorded(state.placed, state.met) else None
        best: tuple[int, ...] | None = None
        for number in self._ranked(state, ways):
            end = self._grown(self._placed(state, number))
            best = best if best is not None or end is None else (number, *end)
        if run is not None and hopeless + self._open(state, run) <= self.budget:
            spared = State(state.placed, state.met, state.left, state.lists, state.spare | {run})
            end = self._grown(spared)
            best = end if best is None else best
        return best

    def _next(self, state: State) -> tuple[Key | None, tuple[int, ...], int]:
        """The row to explain next, the ways to do it, and how many holes nothing can explain any more.

        A single way goes first; else the row that led astray most often for its number of ways, and nearest the datum.
        """
        best: tuple[tuple[bool, float, int, int, Key], tuple[int, ...]] | None = None
        lost = {k: np.zeros(len(met), dtype=np.bool_) for k, met in state.met.items()}
        alive = {k: met.copy() for k, met in state.met.items()}
        dead: list[Key] = []
        for depth, number in enumerate(state.placed):
            for run in self._open_runs(state, number):
                key, holes = (number, run), self.stances.run(number, run).holes
                ways = self._whole(state, key) or self._partial(state, key)
                if not ways:
                    lost[number][holes] = True
                    dead.append(key)
                    continue
                alive[number][holes] = True
                trouble = len(ways) / self.trouble[self.stances.kind(number), run]
                rank = len(ways) > 1, trouble, depth, -len(holes), key
                if best is None or rank < best[0]:
                    best = rank, ways
        rows, odd = (sum(int((~alive[k] & (lost[k] == gone)).sum()) for k in alive) for gone in (True, False))
        hopeless = max(rows + max(0, odd - ODD * sum(state.left)), self._short(state))
        if hopeless > self.budget:
            for number, run in dead:
                self.trouble[self.stances.kind(number), run] += 1
        if best is None:
            return None, self._attached(state), hopeless
        key = best[0][-1]
        more = self._partial(state, key) if self._whole(state, key) else ()
        return key, tuple(dict.fromkeys((*best[1], *more))), hopeless

    def _short(self, state: State) -> int:
        """Holes of rows without any mate that what is left cannot serve."""
        rows = [
            (self.stances.kind(number), run)
            for number in state.placed
            for run in self._open_runs(state, number)
            if not state.met[number][self.stances.run(number, run).holes].any()
        ]
        return self.supply.short(rows, state.left)

    def _open(self, state: State, key: Key) -> int:
        return int((~state.met[key[0]][self.stances.run(*key).holes]).sum())

    def _open_runs(self, state: State, number: int) -> list[int]:
        runs = self.stances.runs(number)
        return [
            k
            for k, run in enumerate(runs)
            if (number, k) not in state.spare and int((~state.met[number][run.holes]).sum()) >= FEWEST
        ]

    def _whole(self, state: State, key: Key) -> tuple[int, ...]:
        return tuple(k for k in state.lists.get(key, ()) if state.left[self.stances.kind(k)])

    def _partial(self, state: State, key: Key) -> tuple[int, ...]:
        """Ways to explain a part of a run by a shorter one, or a short one by a longer."""
        ways = (k for kind, count in enumerate(state.left) if count for k in self.stances.hung(*key, kind, whole=False))
        return tuple(k for k in dict.fromkeys(ways) if self._fits(state.placed, k) and self._helps(state, key, k))

    def _helps(self, state: State, key: Key, number: int) -> bool:
        """True where a stance gives mates to two holes of a run that have none."""
        own = self.stances.met(key[0], number)
        fresh = np.intersect1d(own, self.stances.run(*key).holes)
        return int((~state.met[key[0]][fresh]).sum()) >= FEWEST

    def _fits(self, placed: Iterable[int], number: int) -> bool:
        return all(self.stances.contact(one, number).sound for one in placed)

    def _attached(self, state: State) -> tuple[int, ...]:
        """Where no row is open: the ways of that kind which has fewest, on rows that have mates already."""
        best: tuple[int, ...] = ()
        for kind, count in enumerate(state.left):
            if not count:
                continue
            ways: dict[int, None] = {}
            for number in state.placed:
                for run in range(len(self.stances.runs(number))):
                    for whole in (True, False):
                        ways |= dict.fromkeys(self.stances.hung(number, run, kind, whole=whole))
            own = tuple(k for k in ways if self._fits(state.placed, k))
            if own and (not best or len(own) < len(best)):
                best = own
        return best

    def _ranked(self, state: State, ways: tuple[int, ...]) -> list[int]:
        """Ways in order: those that give most holes a mate first; plates that butt shut out those that do not."""
        gain = {k: self._gain(state, k) for k in ways}
        butting = {self.stances.kind(k) for k in ways if self._butts(state, k)}
        kept = [k for k in ways if self.stances.kind(k) not in butting or self._butts(state, k)]
        return sorted(kept, key=lambda k: (-gain[k], self.stances.kind(k), k))

    def _gain(self, state: State, number: int) -> int:
        return sum(len(self.stances.met(number, one)) for one in state.placed)

    def _butts(self, state: State, number: int) -> bool:
        """True where a flat plate lies edge to edge with one that bears on the same third piece."""
        solids, pose = self.stances.flat(number), self.stances.pose(number)
        if solids is None:
            return False
        bearers = [k for k in state.placed if len(self.stances.met(k, number))]
        for other in state.placed:
            flat = self.stances.flat(other)
            if flat is None or other in bearers:
                continue
            shared = any(len(self.stances.met(k, other)) for k in bearers)
            if shared and abreast(flat, self.stances.pose(other), solids, pose):
                return True
        return False

    def _placed(self, state: State, number: int) -> State:
        """The state with one more piece."""
        kind = self.stances.kind(number)
        met = self._met_with(state.placed, state.met, number)
        left = tuple(count - (k == kind) for k, count in enumerate(state.left))
        lists = {
            key: tuple(k for k in ways if left[self.stances.kind(k)] and self.stances.contact(number, k).sound)
            for key, ways in state.lists.items()
        }
        grown = State((*state.placed, number), met, left, lists, state.spare)
        return self._with_lists(grown, number)

    def _with_lists(self, state: State, number: int) -> State:
        """The state with the ways to explain the runs of its newest piece."""
        lists = dict(state.lists)
        for run in range(len(self.stances.runs(number))):
            ways = (
                k
                for kind, count in enumerate(state.left)
                if count
                for k in self.stances.hung(number, run, kind, whole=True)
            )
            lists[number, run] = tuple(k for k in dict.fromkeys(ways) if self._fits(state.placed, k))
        return State(state.placed, state.met, state.left, lists, state.spare)

    def _ended(self, state: State, end: tuple[int, ...]) -> bool:
        """Whether what ended a like state ends this one too; the body is recorded where it does."""
        placed, met = state.placed, dict(state.met)
        for number in end:
            if not self._fits(placed, number):
                return False
            grown = self._met_with(placed, met, number)
            placed, met = (*placed, number), grown
        return self._recorded(placed, met)

    def _met_with(self, placed: tuple[int, ...], met: Masks, number: int) -> dict[int, BoolArray]:
        grown = dict(met)
        own = np.zeros(len(self.kinds[self.stances.kind(number)].shape), dtype=np.bool_)
        for one in placed:
            theirs, mine = self.stances.met(one, number), self.stances.met(number, one)
            if len(mine):
                grown[one] = grown[one].copy()
                grown[one][theirs] = True
                own[mine] = True
        grown[number] = own
        return grown

    def _recorded(self, placed: tuple[int, ...], met: Masks) -> bool:
        """Take a body that no more can be added to; False where it explains too little."""
        spent = self.total - sum(int(own.sum()) for own in met.values())
        if spent > self.budget:
            return False
        key = self.stances.canonical(placed)
        if all(self.stances.canonical(one) != key for _, one in self.found.bodies):
            self.found.bodies.append((spent, placed))
            self.budget = spent
        return True
