"""How a body grows, piece by piece, from what stands.

The open hole with the fewest ways to be explained goes next; each way lays one more piece there by a row of holes,
unless metal would run into metal or a hole lie against blind metal. What a body costs is told by `fabplan.kit.tears`.
Ways that were followed to their end are shut out in what comes after. What is finished has no say in what follows but
by its metal; so two ways that leave the same holes open go on alike, and the second is not searched again: that makes
the work grow with the sum of the choices and not with their product. So it does where a piece makes a body in one place
and, with what hangs on it, in another.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.kit.alike import Kind
from fabplan.kit.carry import carried
from fabplan.kit.stances import Stances, bits, holes_of, members
from fabplan.kit.tears import Rows

SPARE = 0.08
"""Share of all holes that may be left without a mate."""

MIXED = 0.3
"""Share of the choices of a later start that are made in another order."""

SEED = 1
"""Of the order of ways as good: the same kit gives the same answer."""

Hole = tuple[int, int]  # stance of a placed piece, number of a hole of it
Masks = Mapping[int, int]
Body = tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A body that grows.

    Attributes:
        placed: stances, the datum first.
        met: of each stance the holes that have a mate.
        left: how many pieces of each kind are still to be placed.
        spare: holes that are left without a mate on purpose.
        out: stances whose bodies are known already.
    """

    placed: tuple[int, ...]
    met: Masks
    left: tuple[int, ...]
    spare: frozenset[Hole] = frozenset()
    out: int = 0


@dataclass(frozen=True, slots=True, eq=False)
class End:
    """What made a body of a state: the stances that were added, and the cost of the whole body."""

    stances: tuple[int, ...]
    cost: int


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """What goes next: the hole to explain, its ways as a set, the holes that no way is left for, and the least cost."""

    hole: Hole | None
    ways: int
    dead: tuple[Hole, ...]
    cost: int


class _Trouble(dict[tuple[int, int], float]):
    """How often a hole of a kind, for which no way was left, ended a branch; once from the start."""

    def __missing__(self, key: tuple[int, int]) -> float:
        return 1.0


class Growth:
    """Bodies that grow to a cost: those that leave the fewest holes bare, what is known of the kit, and counters.

    Attributes:
        bodies: as stances, the datum first.
        bare: holes without a mate in them.
        budget: the most that a body may cost.
        until, limit: steps and effort after which it is given up.
        most: bodies after which it is.
        mixed: True where ways as good are taken in an order of their own.
    """

    def __init__(self, kinds: tuple[Kind, ...], stances: Stances) -> None:
        """Start with no body."""
        self.kinds, self.stances, self.steps = kinds, stances, 0
        self.rows = tuple(Rows.of(stances, number) for number in range(len(kinds)))
        self.total = sum(len(kind.shape) * len(kind.instances) for kind in kinds)
        self._listed: dict[Body, Body] = {}
        self.bare, self.budget, self.until, self.limit, self.most = 0, 0, 0, 0, 1
        self.mixed, self._random, self._cut = False, np.random.default_rng(SEED), False
        self._trouble = _Trouble()
        self._last: Hole | None = None
        self._seen: set[object] = set()
        self._ends: dict[object, End] = {}

    @property
    def effort(self) -> int:
        """What was done so far, in steps."""
        return self.steps + self.stances.effort

    @property
    def least(self) -> int:
        """What a body costs at least."""
        return sum(own.torn * len(kind.instances) for own, kind in zip(self.rows, self.kinds, strict=True))

    @property
    def mateless(self) -> int:
        """How many holes no piece of the kit can meet."""
        counts = (own.holes.bit_count() * len(kind.instances) for own, kind in zip(self.rows, self.kinds, strict=True))
        return self.total - sum(counts)

    @property
    def bodies(self) -> list[Body]:
        """Those found."""
        return list(self._listed.values())

    def forget(self) -> None:
        """Go on without the bodies found."""
        self._listed = {}

    def start(self, datum: int) -> State:
        """The state of the datum alone."""
        left = _less(tuple(len(kind.instances) for kind in self.kinds), self.stances.kind(datum))
        return State((datum,), {datum: 0}, left)

    def bodies_from(self, starts: Iterable[State]) -> bool:
        """Search on from some states; False where not all could be looked at."""
        self._seen, self._ends, self._cut = set(), {}, False
        for state in starts:
            self._grown(state)
        return not self._cut

    def _grown(self, state: State) -> End | None:
        """Search on from a state; what ends it, where that was found."""
        key = self.stances.canonical(state.placed), state.spare
        if key in self._seen:
            return None
        self._seen.add(key)
        self.steps += 1
        done = self.steps > self.until or self.effort > self.limit
        if done or len(self._listed) >= self.most:
            self._cut = True
            return None
        open_ = self._open(state)
        if -self._room(state, open_) + len(state.spare) > self.budget:
            return None
        open_key = frozenset(open_.items()), state.left
        if open_key in self._ends:
            known = self._ends[open_key]
            cost = self._ended(state, known.stances)
            if cost is not None and cost >= known.cost:
                return known
        found = self._branched(state, open_)
        if found is not None:
            self._ends[open_key] = found
        return found

    def _open(self, state: State) -> dict[int, int]:
        """Of each placed piece the holes that want a mate, where there are any."""
        spare: dict[int, int] = {}
        for number, hole in state.spare:
            spare[number] = spare.get(number, 0) | 1 << hole
        wanted = {
            number: self.rows[self.stances.kind(number)].holes & ~state.met[number] & ~spare.get(number, 0)
            for number in state.placed
        }
        return {number: holes for number, holes in wanted.items() if holes}

    def _room(self, state: State, open_: Masks) -> int:
        """By how many the holes of what is left outnumber the open ones: each can serve one."""
        left = sum(count * own.holes.bit_count() for count, own in zip(state.left, self.rows, strict=True))
        return left - sum(holes.bit_count() for holes in open_.values())

    def _branched(self, state: State, open_: Masks) -> End | None:
        step = self._next(state, open_)
        if step.cost > self.budget:
            for number, hole in step.dead:
                self._trouble[self.stances.kind(number), hole] += 1 / len(step.dead)
            return None
        ways = members(step.ways).tolist() if step.hole else self._attached(state)
        if not ways:
            cost = self._recorded(state)
            return None if cost is None else End((), cost)
        best: End | None = None
        out = state.out
        ends: list[End] = []
        for number in self._ranked(state, open_, ways):
            if not any(self._carried(state, end, number) for end in ends):
                end = self._grown(replace(self.placed(state, number), out=out))
                ends += [] if end is None else [End((number, *end.stances), end.cost)]
            out |= 1 << number
        best = ends[0] if ends else None
        if step.hole is None:
            return best
        if best is None:
            self._last = step.hole
        if step.cost < self.budget:
            end = self._grown(replace(state, spare=state.spare | {step.hole}, out=out))
            best = end if best is None else best
        return best

    def _next(self, state: State, open_: Masks) -> Step:
        """The hole to explain next: that with fewest ways for the length of its row and the trouble that it made."""
        ways = self._ways(state, open_)
        dead = [hole for hole, own in ways.items() if not own]
        cost = self._cost(state, ways)
        if cost > self.budget:
            return Step(None, 0, tuple(dead), cost)
        if cost == self.budget:
            self._unbroken(state, ways)
        best: tuple[float, Hole, int] | None = None
        shut = 0
        for rank, hole in sorted((self._rank(hole, own), hole) for hole, own in ways.items() if own):
            if best is not None and best[0] <= rank:
                break
            own = ways[hole] & ~shut
            for number in state.placed:
                own &= ~self.stances.unsound(number, own)
                shut |= self.stances.bad[number]
            ways[hole] = own
            if not own:
                dead.append(hole)
                cost = self._cost(state, ways)
                if cost > self.budget:
                    return Step(None, 0, (hole,), cost)
            elif best is None or self._rank(hole, own) < best[0]:
                best = self._rank(hole, own), hole, own
        return Step(best[1], best[2], tuple(dead), cost) if best else Step(None, 0, tuple(dead), cost)

    def _rank(self, hole: Hole, ways: int) -> float:
        count, kind = ways.bit_count(), self.stances.kind(hole[0])
        if hole == self._last or count == 1:
            return 0.0
        return count / (self._trouble[kind, hole[1]] * self.rows[kind].length[hole[1]])

    def _ways(self, state: State, open_: Masks) -> dict[Hole, int]:
        """The stances that may still explain each open hole, as far as is known."""
        covers = {number: self.stances.cover(number) for number in open_}
        allowed = self._allowed(state) & self._thrifty(state, open_)
        return {
            (number, hole): covers[number][hole] & allowed
            for number, holes in open_.items()
            for hole in members(holes).tolist()
        }

    def _allowed(self, state: State) -> int:
        """Stances of pieces that are left, as far as nothing is known against them."""
        allowed = sum(self.stances.of_kind[kind] for kind, count in enumerate(state.left) if count) & ~state.out
        for number in state.placed:
            allowed &= ~self.stances.bad[number]
        return allowed

    def _thrifty(self, state: State, open_: Masks) -> int:
        """Stances that leave no more holes of their own open than those to come can serve."""
        places = [self.stances.reach(number) for number in state.placed]
        met = np.zeros(len(self.stances), dtype=np.int64)
        for index, own in places:
            met[index] += own
        holes = np.array([own.holes.bit_count() for own in self.rows])[self.stances.kinds_of_all()]
        room = self._room(state, open_) + 2 * (self.budget - len(state.spare)) + 2
        return bits(2 * (holes - met) <= room)

    def _cost(self, state: State, ways: Mapping[Hole, int]) -> int:
        """The least that a body can cost which grows from here; no more is counted once it is too much."""
        cost = len(state.spare) + sum(not own for own in ways.values())
        cost += sum(count * own.torn for count, own in zip(state.left, self.rows, strict=True))
        allowed = self._allowed(state)
        for number in state.placed:
            if cost > self.budget:
                break
            cost += sum(not self._whole(state, (number, row), ways, allowed) for row in self._rows(number))
        return cost

    def _rows(self, number: int) -> tuple[int, ...]:
        return self.rows[self.stances.kind(number)].rows

    def _whole(self, state: State, place: Hole, ways: Mapping[Hole, int], allowed: int) -> int:
        """The pieces to come that meet all holes of a row that can have a mate; -1 where a placed one does."""
        number, row = place
        bare = [hole for hole in members(row & ~state.met[number]).tolist() if not ways.get((number, hole))]
        row &= ~holes_of(bare)
        if any(row & ~self.stances.met(number, one) == 0 for one in state.placed if one != number):
            return -1
        cover = self.stances.cover(number)
        for hole in members(row).tolist():
            allowed &= ways.get((number, hole), cover[hole])
            if not allowed:
                break
        return allowed

    def _unbroken(self, state: State, ways: dict[Hole, int]) -> None:
        """Where no more rows may be torn, the open holes of a row go with what meets it whole, if anything does."""
        allowed = self._allowed(state)
        for number in dict.fromkeys(number for number, _ in ways):
            for row in self._rows(number):
                own = [(number, hole) for hole in members(row).tolist() if ways.get((number, hole))]
                whole = self._whole(state, (number, row), ways, allowed) if own else 0
                if whole > 0:
                    ways.update({hole: ways[hole] & whole for hole in own})

    def _attached(self, state: State) -> list[int]:
        """Where no hole is open: the ways of that kind which has fewest, on holes that have mates already."""
        best: list[int] = []
        for kind, count in enumerate(state.left):
            if not count:
                continue
            ways = 0
            for number in state.placed:
                for own in self.stances.cover(number):
                    ways |= own
            ways &= self.stances.of_kind[kind] & ~state.out
            for number in state.placed:
                ways &= ~self.stances.unsound(number, ways)
            found = members(ways).tolist()
            if found and (not best or len(found) < len(best)):
                best = found
        return best

    def _ranked(self, state: State, open_: Masks, ways: list[int]) -> list[int]:
        """Ways in order: those first that give most holes a mate, of these such as bodies of plates are mostly made of.

        These have few holes of their own without a mate, leave the body small, and lie far from its middle. Later
        starts take some of those that leave it as small in an order of their own.
        """
        gain = {
            way: sum((self.stances.met(number, way) & holes).bit_count() for number, holes in open_.items())
            for way in ways
        }
        own = [rows.holes.bit_count() for rows in self.rows]
        volume, away = self.stances.spread(state.placed, np.array(ways, dtype=np.int64))
        if self.mixed and self._random.random() < MIXED:
            away = self._random.random(len(ways))
        keys = [(-gain[way], own[self.stances.kind(way)]) for way in ways]
        order = sorted(range(len(ways)), key=lambda k: (*keys[k], round(float(volume[k]), 3), -away[k], ways[k]))
        return [ways[k] for k in order]

    def placed(self, state: State, number: int) -> State:
        """The state with one more piece."""
        kind, met, own = self.stances.kind(number), dict(state.met), 0
        for one in state.placed:
            theirs = self.stances.met(one, number)
            if theirs:
                met[one] |= theirs
                own |= self.stances.met(number, one)
        met[number] = own
        return State((*state.placed, number), met, _less(state.left, kind), state.spare)

    def _ended(self, state: State, end: tuple[int, ...]) -> int | None:
        """The cost of the body that what ended a like state makes of this one; it is recorded where it makes one."""
        for number in end:
            if any(self.stances.unsound(one, 1 << number) for one in state.placed):
                return None
            state = self.placed(state, number)
        return self._recorded(state)

    def _carried(self, state: State, end: End, number: int) -> bool:
        """Whether a piece makes a body in another place than it did before, with what goes along."""
        for places in carried(self.stances, state.placed, end.stances, number):
            cost = self._ended(state, places)
            if cost is not None and cost <= end.cost:
                return True
        return False

    def _recorded(self, state: State) -> int | None:
        """Take a body that no more can be added to; its cost, None where that is too much."""
        cost = self._cost(replace(state, spare=frozenset()), dict.fromkeys(self._bare(state), 0))
        cost += sum(count * own.holes.bit_count() for count, own in zip(state.left, self.rows, strict=True))
        bare = self.total - sum(met.bit_count() for met in state.met.values())
        if cost > self.budget or bare > SPARE * self.total:
            return None
        if bare < self.bare or not self._listed:
            self._listed, self.bare = {}, bare
        if bare == self.bare:
            self.listed(state.placed)
        return cost

    def listed(self, body: Body) -> None:
        """Take a body as one of those found, unless it is among them."""
        self._listed.setdefault(self.stances.canonical(body), body)

    def _bare(self, state: State) -> list[Hole]:
        """The holes of placed pieces that have no mate and could have one."""
        open_ = self._open(replace(state, spare=frozenset()))
        return [(number, hole) for number, holes in open_.items() for hole in members(holes).tolist()]


def _less(left: tuple[int, ...], kind: int) -> tuple[int, ...]:
    return tuple(count - (number == kind) for number, count in enumerate(left))
