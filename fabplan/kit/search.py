"""The search for bodies that explain as many holes as possible, and the proof that there is no other.

Bodies grow from the datum (`fabplan.kit.growth`). The most that one may cost goes up only when no body closes, or when
the starts at less found none.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import count

from fabplan.kit.alike import Kind
from fabplan.kit.growth import Body, Growth, State
from fabplan.kit.slides import slides
from fabplan.kit.stances import Stances

SLACK = (0, 1, 2, 3, 4, 8, 16)
"""Costs over the least, tried in turn."""

WORK = 200_000
"""Effort after which the search gives up, in steps: 40 s or so of the processor."""

FIRST, GROWTH = 400, 1.05
"""Steps of the first start, and by how much more each has than the one before.

A search that went astray early seldom comes back: many short ones, each in an order of its own among ways as good,
find a body sooner than a long one.
"""

NEAR = 3
"""Pieces of a body that are laid anew in all ways where not all bodies could be looked at."""

BODIES = 2000
"""Bodies after which no more are looked for."""

MOST = 1000
"""Bodies beside one body after which no more are listed."""


@dataclass(slots=True, eq=False)
class Found:
    """What a search found.

    Attributes:
        bodies: those that leave the fewest holes bare, as stances.
        bare: how many.
        near: pieces of the first of them that were laid anew in all ways, where not all ways were looked at.
        whole: True where all ways were.
    """

    bodies: list[Body] = field(default_factory=list)
    bare: int = 0
    near: int = 0
    whole: bool = True


class Search:
    """One search."""

    def __init__(self, kinds: tuple[Kind, ...], stances: Stances, work: int = WORK) -> None:
        """Start with no body."""
        self.growth, self.work = Growth(kinds, stances), work

    def run(self, datum: int) -> Found:
        """The bodies with the least cost, from a stance of the datum."""
        growth, empty = self.growth, set[int]()
        for start in count(1):
            costs = [growth.least + slack for slack in SLACK if slack not in empty]
            if not costs or growth.effort > self.work:
                break
            growth.mixed = start > 1
            level = min((start & -start).bit_length(), len(costs)) - 1  # each cost half as often as the one below
            growth.budget, growth.until = costs[level], growth.steps + int(FIRST * GROWTH**start)
            growth.limit, growth.most = self.work, BODIES
            whole = growth.bodies_from([growth.start(datum)])
            if growth.bodies and (whole or growth.bare <= growth.mateless):
                return self._told(datum, whole=whole)
            growth.forget()  # one that leaves fewer holes bare may be among the ways not looked at
            empty |= {costs[level] - growth.least} if whole else set()
        return Found(whole=len(empty) == len(SLACK))

    def _told(self, datum: int, *, whole: bool) -> Found:
        """All bodies that cost no more than those found; else what is beside the first of them."""
        growth = self.growth
        if not whole and len(growth.bodies) < BODIES:
            growth.until, growth.limit = growth.steps + self.work // 6, growth.effort + self.work // 2
            whole = growth.bodies_from([growth.start(datum)])
        if whole:
            return Found(growth.bodies, growth.bare)
        growth.until, growth.limit, growth.most = growth.steps + self.work, growth.effort + self.work, MOST
        near = NEAR * growth.bodies_from(self._without(growth.bodies[0]))
        for other in slides(growth.stances, growth.bodies[0]):
            growth.listed(other)
        return Found(growth.bodies, growth.bare, near, whole=False)

    def _without(self, body: Body) -> Iterator[State]:
        """The states of a body without some pieces that hang together, as many as `NEAR`."""
        met = self.growth.stances.met
        touching = {one: {two for two in body[1:] if met(one, two)} for one in body[1:]}
        groups = {frozenset([one]) for one in touching}
        for _ in range(min(NEAR, len(touching)) - 1):
            groups = {group | {two} for group in groups for one in group for two in touching[one] - group} or groups
        for group in sorted(map(sorted, groups)):
            state = self.growth.start(body[0])
            for number in body[1:]:
                if number not in group:
                    state = self.growth.placed(state, number)
            yield state
