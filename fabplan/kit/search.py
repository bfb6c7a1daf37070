"""The search for bodies that explain as many holes as possible, and the proof that there is no other.

A solver of clauses (`fabplan.kit.clauses`) proposes a body of places that are known; what its pieces ask for in turn is
added, and what is wrong with it, until it stands. Once no body is left, there is none.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fabplan.kit.alike import Kind
from fabplan.kit.clauses import Body, Clauses, SpentError
from fabplan.kit.habits import Habits
from fabplan.kit.logic import ALWAYS, Tally
from fabplan.kit.stances import Stances, holes_of, members
from fabplan.kit.tears import Rows

COST = 8
"""Holes without a mate and torn rows of a body together after which it is not looked for: a kit has few that are."""

SEED = 1
"""Of the order of bodies taken at random: the same kit gives the same answer."""

WORK = 2_000_000
"""Effort after which the search gives up, in steps: two to four minutes of the processor."""

LISTING = 2
"""Times that effort after which the bodies that were found are not told either."""

BODIES = 100
"""Bodies of the places in use after which those that are left are taken at random."""

AT_RANDOM = 60
"""Bodies taken at random at a time, until what is known makes all of a lot; no proof."""


DRAWN = 6
"""Places that are drawn for each: left to itself, the solver brings the same few again and again."""


@dataclass(slots=True, eq=False)
class Found:
    """What a search found.

    Attributes:
        bodies: those that leave the fewest holes bare, as stances.
        bare: how many.
        whole: True where no other body, as cheap, has a piece in a place that none of these uses.
    """

    bodies: list[Body] = field(default_factory=list)
    bare: int = 0
    whole: bool = True


class Search:
    """One search."""

    def __init__(self, kinds: tuple[Kind, ...], stances: Stances, work: int = WORK) -> None:
        """Start with no body, from the datum of the stances."""
        self.kinds, self.stances, self.work = kinds, stances, work
        rows = tuple(Rows.of(stances, number) for number in range(len(kinds)))
        self.clauses = Clauses(kinds, stances, rows, COST)
        self.cost, self._met, self._more = 0, 0, False
        self._closed, self._before = False, 0
        self._random = np.random.default_rng(SEED)

    @property
    def effort(self) -> int:
        """What was done so far, in steps."""
        return self.stances.effort + self._before + self.clauses.logic.effort

    def run(self) -> Found:
        """The bodies with the least cost."""
        bodies: list[Body] = []
        whole = True
        try:
            for self.cost in range(COST + 1):
                self._new(bodies)
                if bodies:
                    self._close(bodies)
                    break
        except SpentError:
            whole = False
        self.work = self.effort + LISTING * self.work
        met = [self.stances.holes_met(body) for body in bodies]
        self._met = max(met, default=0)
        total = sum(len(kind.shape) * len(kind.instances) for kind in self.kinds)
        best = [body for body, own in zip(bodies, met, strict=True) if own == self._met]
        return Found(best, total - self._met, whole)

    def others(self) -> list[Body]:
        """Some bodies of the places in use, taken at random; none where all of them are listed."""
        found: list[Body] = []
        while self._more and len(found) < AT_RANDOM:
            body = self._drawn()
            if body is None:
                break
            found.append(body)
        return [body for body in found if self.stances.holes_met(body) == self._met]

    def _drawn(self) -> Body | None:
        """A body with some places in use that are drawn at random, each as far as it goes with those before it."""
        self.clauses.shuffle(self._random)
        body, bounds = self._next(), self.clauses.bounds
        before = len(bounds)
        try:
            for place in self._random.permutation(sorted(self.clauses.in_use))[:DRAWN].tolist():
                bounds.append(self.clauses.literal(place))
                other = body if body is None or place in body else self._next()
                if other is None:
                    bounds.pop()
                else:
                    body = other
        finally:
            del bounds[before:]
        return body

    def usual(self, bodies: Sequence[Body], *, outside: bool) -> list[Body]:
        """Bodies of the places in use that go least against the habits of makers; none where the effort does not last.

        Args:
            bodies: some that were found, each hole of which that can has a mate.
            outside: whether all stand on one side of the datum, so that it can be told what is outside.
        """
        best = bodies[0]
        try:
            for habit in Habits(self.stances, self.clauses, bodies).all(outside=outside):
                best = self._least(best, habit(best))
            found = [best]
            self.clauses.again()
            self.clauses.without(self.stances.turned(best))
            self._made(found)
        except SpentError:
            return []
        return [body for body in found if self.stances.holes_met(body) == self._met]

    def allows(self, body: Body) -> bool:
        """Whether a body goes as little against the habits of makers as those that are told, where these were asked."""
        if not self.clauses.bounds:
            return True
        return self.clauses.allows(self.cost, self.work - self.effort, body)

    def unsettled(self, bodies: Sequence[Body], kept: Body) -> tuple[int, ...]:
        """The instances whose like stand elsewhere in some body than in that kept, each body turned nearest to it."""
        own = set(kept)
        near = (max(self.stances.turned(body), key=lambda one: len(own & set(one))) for body in bodies)
        open_ = {self.stances.kind(place) for body in near for place in set(body) - own}
        return tuple(sorted(i for kind in open_ for i in self.kinds[kind].instances))

    def _least(self, body: Body, literals: list[int]) -> Body:
        """A body of the places in use in which fewest of some literals hold; from now on there are no others."""
        tally, best, count = Tally(self.clauses.logic, len(literals) + 1), body, len(literals) + 1
        for literal in literals:
            tally.add(literal)
        self.clauses.again()
        bounds = self.clauses.bounds
        bounds.append(ALWAYS)
        while count:
            bounds[-1] = -tally.at_least(count)
            found = self._next()
            if found is None:
                break
            best, count = found, len(self.clauses.logic.true(literals))
        bounds[-1] = -tally.at_least(count + 1)
        return best

    def _new(self, bodies: list[Body]) -> None:
        """Add bodies each of which uses a place that none before it does, near the first one where that can be."""
        while body := self._next():
            bodies.append(body)
            same = self.stances.turned(body)
            self.clauses.unlike(same)
            self.clauses.without(same)
            if len(bodies) == 1:
                self.clauses.prefer(body)

    def _close(self, bodies: list[Body]) -> None:
        """Keep to the places in use from now on, and add what else they make."""
        self._closed, self._before = True, self.clauses.logic.effort
        self.clauses = self.clauses.closed()
        for body in bodies:
            self.clauses.without(self.stances.turned(body))
        self._made(bodies)

    def _made(self, bodies: list[Body]) -> None:
        """Add what else the places in use make, up to a number."""
        self._more = False
        for _ in range(BODIES):
            body = self._next()
            if body is None:
                return
            bodies.append(body)
            self.clauses.without(self.stances.turned(body))
        self._more = True

    def _next(self) -> Body | None:
        """Another body, if there is one."""
        needed = True
        while True:
            places = self.clauses.places(self.cost, self.work - self.effort, needed=needed)
            if places is None:
                if not needed or self._closed:
                    return None
                needed = False
                continue
            body = self.stances.together(self.stances.datum, holes_of(places))
            asked = places if needed else set(body)
            if self._fouled(asked):
                continue
            if [place for place in sorted(asked) if self.clauses.hold(place)]:
                needed = True
            elif len(places) == len(body):
                return body
            else:
                self._join(places - set(body), body, needed=needed)

    def _fouled(self, places: set[int]) -> bool:
        """Whether some of the pieces in some places foul one another: they are shut out."""
        some, fouls = holes_of(places), False
        for one in sorted(places):
            for two in members(self.stances.unsound(one, some & ~(1 << one))).tolist():
                fouls = True
                if two > one:
                    self.clauses.apart(one, two)
        return fouls

    def _join(self, places: set[int], body: Body, *, needed: bool) -> None:
        """Let pieces that hang together, but not with the datum, be joined to something else."""
        left = holes_of(places)
        while left:
            part = self.stances.together(int(members(left)[0]), left)
            left &= ~holes_of(part)
            if needed:
                self.clauses.beside(part, self.stances.around(part))
            else:
                self.clauses.reached(part, body)
