"""What makes a body, as clauses over places: what meets each hole and each row whole, how many there are of each piece.

A place is asked about only once something may stand in it, so the clauses grow with the search: of a body that was
found, those of its places that are new are added, and of its pieces those that foul one another are shut out.
"""

from collections.abc import Collection, Iterable
from functools import reduce
from operator import and_, or_

import numpy as np

from fabplan.kit.alike import Kind
from fabplan.kit.logic import ALWAYS, NEVER, Logic, Tally
from fabplan.kit.stances import Stances, holes_of, members
from fabplan.kit.tears import Rows

Body = tuple[int, ...]
"""Places of pieces, that of the datum first."""


class Clauses:
    """The clauses of a kit about its datum.

    Attributes:
        most: what a body may cost that is looked for: its holes without a mate and its torn rows.
        in_use: places of the bodies that were found.

    No piece stands further from the datum, counted in pieces that hang on one another, than there are pieces: else
    plates that may lie on one another would be piled up without end.
    """

    def __init__(
        self, kinds: tuple[Kind, ...], stances: Stances, rows: tuple[Rows, ...], most: int, among: int = -1
    ) -> None:
        """Start from the datum; `among`: the places that there are, else all."""
        self._kinds, self._stances, self._rows, self.most, self._among = kinds, stances, rows, most, among
        self.logic = Logic()
        self._count = [len(kind.instances) for kind in kinds]
        near = stances.linked(stances.kind(stances.datum))
        self._needed = [kind for kind, own in enumerate(rows) if own.holes and kind in near]
        self._all = [Tally(self.logic, count + 1) for count in self._count]
        self._used = [Tally(self.logic, count) for count in self._count]
        self._cost = Tally(self.logic, most + 1)
        self._literal: dict[int, int] = {}
        self._place: dict[int, int] = {}
        self._held = 0
        self._rims: dict[int, int] = {}
        self._stale: set[int] = set()
        self._beyond = NEVER
        self.in_use: set[int] = set()
        self.bounds: list[int] = []
        self._another = self.logic.new()
        self._known = 0
        self._within = [1 << stances.datum] * sum(self._count[kind] for kind in near)
        self.logic.add([self.literal(stances.datum)])
        self.hold(stances.datum)

    def closed(self) -> "Clauses":
        """The clauses of the places in use alone: few, so that each answer takes a hundredth of the time."""
        among = holes_of(self.in_use)
        closed = Clauses(self._kinds, self._stances, self._rows, self.most, among)
        closed.in_use = self.in_use
        for place in sorted(self.in_use):
            closed.hold(place)
            for other in members(self._stances.bad[place] & among).tolist():
                closed.apart(place, other)
        return closed

    def literal(self, place: int) -> int:
        """That a piece stands in a place."""
        if not self._among >> place & 1:
            return NEVER
        known = self._literal.get(place)
        if known is None:
            known = self._literal[place] = self.logic.new()
            self._place[known] = place
            self._known |= 1 << place
            self._all[self._stances.kind(place)].add(known)
        return known

    def _literals(self, places: int) -> list[int]:
        return [self.literal(place) for place in members(places & self._among).tolist()]

    def hold(self, place: int) -> bool:
        """Let the holes and rows of a piece in a place have mates; False where that was asked before."""
        if self._held >> place & 1:
            return False
        self._held |= 1 << place
        self._draw_near(place)
        self._stale |= {place, *members(self._stances.around([place]) & self._held).tolist()}
        cover = self._stances.cover(place)
        own = self._rows[self._stances.kind(place)]
        here, bare = self.literal(place), self._bare(own.holes, cover)
        for places, (_, without) in bare.items():
            self.logic.add([-here, without, *self._literals(places)])
        for row in own.rows:
            self._whole(here, [cover[hole] for hole in members(row).tolist()], bare)
        return True

    def _draw_near(self, place: int) -> None:
        """Note how few pieces can lie between the datum and those that may stand beside one in a place."""
        left = 1 << place
        for k in range(len(self._within) - 1):
            own = self._within[k] & left
            if own:
                fresh = self._stances.around(members(own).tolist()) & ~self._within[k + 1]
                for far in range(k + 1, len(self._within)):
                    self._within[far] |= fresh
                left = left & ~own | fresh & self._held

    def _bare(self, holes: int, cover: tuple[int, ...]) -> dict[int, tuple[int, int]]:
        """By what covers them, how many holes there are, and the literal that they are bare."""
        found: dict[int, int] = {}
        for hole in members(holes).tolist():
            found[cover[hole]] = found.get(cover[hole], 0) + 1
        return {places: (count, self._dear(count)) for places, count in found.items()}

    def _dear(self, cost: int) -> int:
        """A literal that costs something, as often as it is told; its contrary always holds where that is too much."""
        if cost > self.most:
            return -ALWAYS
        literal = self.logic.new()
        for _ in range(cost):
            self._cost.add(literal)
        return literal

    def _whole(self, here: int, covers: list[int], bare: dict[int, tuple[int, int]]) -> None:
        """Let a row be met by one piece but for holes that are bare, or be torn."""
        if not reduce(and_, covers):  # no piece of the kit can, so that it tells no body from another
            return
        met: list[int] = []
        for place in members(reduce(or_, covers) & self._among).tolist():
            lacking = {places for places in covers if not places >> place & 1}
            if sum(bare[places][0] for places in lacking) > self.most:
                continue
            stands = self.literal(place)
            if lacking:
                one = self.logic.new()
                for literal in (stands, *(bare[places][1] for places in lacking)):
                    self.logic.add([-one, literal])
                stands = one
            met.append(stands)
        self.logic.add([-here, self._dear(1), *met])

    def places(self, cost: int, steps: int, *, needed: bool = True) -> set[int] | None:
        """Places of a body that costs no more than so much, as far as is known; None where there is none.

        Args:
            cost: holes without a mate and torn rows.
            steps: within which it is to be found, else `SpentError` is raised.
            needed: whether each piece must stand somewhere; as one that is left may do in a place not known yet.
        """
        assumed = [-self._cost.at_least(cost + 1), self._another, *self.bounds]
        assumed += [-self._literal[place] for place in members(self._known & ~self._within[-1]).tolist()]
        for tally, count in zip(self._all, self._count, strict=True):
            self.logic.add([-tally.at_least(count + 1)])
        if needed:
            assumed += [self._all[kind].at_least(self._count[kind]) for kind in self._needed]
        else:
            assumed.append(self._at_rim())
        found = self.logic.solve(assumed, steps) if steps > 0 else None
        if found is None:
            raise SpentError
        return {self._place[one] for one in self.logic.true(self._place)} if found else None

    def allows(self, cost: int, steps: int, body: Iterable[int]) -> bool:
        """Whether a body is one of those that are looked for, told before or not; cost and steps as for `places`."""
        assumed = [-self._cost.at_least(cost + 1), *self.bounds, *map(self.literal, body)]
        found = self.logic.solve(assumed, steps) if steps > 0 else None
        if found is None:
            raise SpentError
        return found

    def _at_rim(self) -> int:
        """The literal that a piece stands beside another in a place of which nothing was asked yet."""
        for place in sorted(self._stale):
            beyond = self._stances.around([place]) & ~self._held
            rim = self._rims[place] = self.logic.new() if beyond else NEVER
            self.logic.add([-rim, self.literal(place)])
            self.logic.add([-rim, *self._literals(beyond)])
        if self._stale:
            self._beyond = self.logic.new()
            self.logic.add([-self._beyond, *self._rims.values()])
            self._stale.clear()
        return self._beyond

    def apart(self, one: int, two: int) -> None:
        """Let no pieces stand in both of two places."""
        self.logic.add([-self.literal(one), -self.literal(two)])

    def beside(self, places: Collection[int], others: int) -> None:
        """Let a piece stand in any of some places only where one stands in one of some others."""
        literals = self._literals(others)
        for place in places:
            self.logic.add([-self.literal(place), *literals])

    def reached(self, part: Collection[int], body: Collection[int]) -> None:
        """Let pieces that hang together, but not with the body, be reached from the datum by others known of.

        For now: what stands beyond is looked for beside pieces that hang on the datum.

        Args:
            part: places of pieces that hang together.
            body: places of those that hang together with the datum.
        """
        known = [place for place in part if self._held >> place & 1]
        for own in [known] if known else [[place] for place in part]:
            self._through(own, self._stances.around(own))
        if known:
            main = [place for place in body if self._held >> place & 1]
            beyond = self._stances.together(known[0], self._held & ~holes_of(main))
            self._through(beyond, self._stances.around(main) & holes_of(beyond))

    def _through(self, part: Collection[int], others: int) -> None:
        """Let a piece stand in any of some places only where one stands in one of some others, all known of."""
        gate = self.logic.new()
        self.logic.add([-self._beyond, -gate, *self._literals(others & self._held)])
        for place in part:
            self.logic.add([-self.literal(place), gate])

    def unlike(self, bodies: Iterable[Collection[int]]) -> None:
        """Let a body stand in a place that none of some bodies uses, nor one that was told before."""
        for place in sorted({place for body in bodies for place in body} - self.in_use):
            self.in_use.add(place)
            self._used[self._stances.kind(place)].add(self.literal(place))
        self.logic.add([-self._used[kind].at_least(self._count[kind]) for kind in self._needed])

    def without(self, bodies: Iterable[Collection[int]]) -> None:
        """Let no body be one of some."""
        for body in bodies:
            self.logic.add([-self._another, *(-self.literal(place) for place in body)])

    def again(self) -> None:
        """Let bodies come that were left out until now."""
        self._another = self.logic.new()

    def prefer(self, body: Iterable[int]) -> None:
        """Look for bodies like one first."""
        self.logic.prefer([self.literal(place) for place in body])

    def shuffle(self, random: np.random.Generator) -> None:
        """Look for bodies of the places in use in an order taken at random."""
        used = [self.literal(place) for place in sorted(self.in_use)]
        self.logic.prefer(
            [one if sign else -one for one, sign in zip(used, random.random(len(used)) < 0.5, strict=True)]
        )


class SpentError(Exception):
    """Nothing was found within the steps."""
