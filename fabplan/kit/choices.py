"""What bodies as good differ in, as motions of pieces with all that hangs on them; what several make is told once.

A ring that turns in its shell takes its end along, and the end may turn on the ring as well: two motions, not their
product.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np

from fabplan.geom.pose import compose, inverse
from fabplan.kit.clauses import Body
from fabplan.kit.hang import Hanging, Pairs
from fabplan.kit.stances import TURNS, Stances
from fabplan.model.choice import Step, Way, moving
from fabplan.model.pose import Pose

MOST = 60_000
"""Ways times pairs of pieces: 266 ways of fifteen pieces, 66 of thirty, 12 of seventy."""

TRIED = 200
"""Ways tried one after another, the innermost piece first, until a body counts as not made by those known."""

Places = Mapping[int, int]
"""Where the pieces of the first body, by their order in it, stand in another one."""

Tried = tuple[tuple[int, ...], tuple[int, ...]]
"""Ways that were taken together, and where each piece then stands: in whichever order they were taken."""


class Choices:
    """What makes other bodies from the first.

    Attributes:
        ways: that do so alone or several together.
    """

    def __init__(self, stances: Stances, first: Body, allows: Callable[[Body], bool]) -> None:
        """Take the first body, its datum first, and what else is asked of a body than sound metal and as many holes."""
        self.ways: list[Way] = []
        self._stances, self._first, self._allows = stances, dict(enumerate(first)), allows
        self._after, self._meet = cache(stances.after), cache(stances.met)  # the same ways come again and again
        self._motions = cache(self._from_to)
        self._hanging = Hanging(0, self._held, self._after)
        self._depth = self._hanging.depths(self._first)
        self._met = stances.holes_met(first)

    def learn(self, bodies: Iterable[Body]) -> bool:
        """Add ways that make some bodies, those that differ least first; False where those known make all of them."""
        own, made = set(self._first.values()), True
        near = [max(self._stances.turned(body), key=lambda body: len(own & set(body))) for body in bodies]
        for _, body in sorted((len(set(body) - own), body) for body in near if len(body) == len(own)):
            if self.full:
                break
            to = self._named(body)
            if not self._made(to):
                made, way = False, self._way(to)
                for one in (*self._parted(way), way):
                    if not self._made(self._hanging.moved(self._first, one)):
                        self.ways.append(one)
        if not made:
            self._thin()
        return not made

    def _thin(self) -> None:
        """Leave out what others make together by now, ways of most pieces first."""
        for way in sorted(self.ways, key=lambda way: -len(moving(way))):
            kept = self.ways
            self.ways = [one for one in kept if one is not way]
            if not self._made(self._hanging.moved(self._first, way)):
                self.ways = kept

    @property
    def full(self) -> bool:
        """Whether there are too many ways to go on: each is held against each pair of pieces."""
        return len(self.ways) * len(self._first) ** 2 > MOST

    def _held(self, body: Places) -> Pairs:
        pairs = [(one, two) for one, two in combinations(body, 2) if self._meet(body[one], body[two])]
        return [pair for one, two in pairs for pair in ((one, two), (two, one))]

    def _off(self, body: Places) -> list[int]:
        """Pieces that stand elsewhere than in the first body, those next to the datum first."""
        return sorted((i for i, place in body.items() if place != self._first[i]), key=self._rank)

    def _rank(self, piece: int) -> tuple[int, int, int]:
        """Pieces next to the datum first, of these the ones that are alike in the fewest turns."""
        return self._depth[piece], len(self._stances.kinds[self._stances.kind(self._first[piece])].turns), piece

    def _named(self, body: Body) -> dict[int, int]:
        """Where each piece of the first body stands: as many as can be go by one motion, then the rest by others."""
        free = set(body) - set(self._first.values())
        left = [i for i, place in self._first.items() if place not in body]
        to = {i: place for i, place in self._first.items() if place in body}
        left.sort(key=self._rank)
        while left:
            found = [self._along(move, left, free) for place in sorted(free) for move in self._moves(left[0], place)]
            best = max(found, key=lambda along: (len(along), self._kept(along, to)))
            to |= best
            free -= set(best.values())
            left = [i for i in left if i not in to]
        return to

    def _kept(self, along: Places, still: Places) -> int:
        """How many holes of pieces that stand still meet the same pieces after a motion."""
        return sum(
            (self._meet(place, self._first[i]) & self._meet(place, there)).bit_count()
            for i, there in along.items()
            for place in still.values()
        )

    def _moves(self, piece: int, place: int) -> list[Pose]:
        """The motions of a piece to a place of one like it."""
        return self._motions(self._first[piece], place)

    def _from_to(self, here: int, place: int) -> list[Pose]:
        """The motions from one place to another, those that turn least first: of a disc there are many."""
        kind, back = self._stances.kinds[self._stances.kind(place)], inverse(self._stances.pose(here))
        if self._stances.kind(here) != self._stances.kind(place):
            return []
        moves = [compose(compose(self._stances.pose(place), turn), back) for turn in kind.turns]
        return sorted(moves, key=lambda move: -round(float(np.trace(move.rotation)), 6))[:TURNS]

    def _along(self, move: Pose, pieces: Iterable[int], free: set[int]) -> dict[int, int]:
        """The pieces that a motion brings to a place that is free."""
        along: dict[int, int] = {}
        for i in pieces:
            there = self._after(move, self._first[i])
            if there in free and there not in along.values():
                along[i] = there
        return along

    def _made(self, to: Places) -> bool:
        """Whether ways that are known, one of each choice, make a body together."""
        first = {pieces: k for k, pieces in reversed([*enumerate(map(moving, self.ways))])}
        ways = sorted(self.ways, key=lambda way: (len(moving(way)), first[moving(way)]))  # as choices are numbered
        return self._answered(to, ways, (), to, set())

    def _answered(
        self, to: Places, ways: Sequence[Way], used: tuple[int, ...], rest: Places, tried: set[Tried]
    ) -> bool:
        """Whether more ways make a body with those used, but for what was tried.

        `rest`: of that body, once these are taken back.
        """
        off = self._off(rest)
        if not off:
            steps = (step for k in used for step in ways[k])
            return set(self._hanging.moved(self._first, steps).values()) == set(to.values())
        taken, found = {moving(ways[k]) for k in used}, []
        named = {rest[i]: i for i in off}
        for k, way in enumerate(ways):
            if moving(way) in taken:
                continue
            for other in {named[place] for place in self._brought(way, off[0]) & named.keys()}:
                now = {**to, off[0]: to[other], other: to[off[0]]}  # of pieces alike either may have gone there
                more = tuple(sorted((*used, k)))
                back = self._hanging.taken_back(now, (step for n in more[::-1] for step in ways[n]))
                if back[off[0]] == self._first[off[0]]:
                    found.append((len(self._off(back)), other != off[0], k, more, now, back))
        for *_, more, now, back in sorted(found, key=lambda one: one[:3]):
            state = more, tuple(now.values())
            if state in tried:
                continue
            if len(tried) == TRIED:
                return False
            tried.add(state)
            if self._answered(now, ways, more, back, tried):
                return True
        return False

    def _brought(self, way: Way, piece: int) -> set[int]:
        """The places to which steps of a way bring a piece."""
        return {self._after(step.move, self._first[piece]) for step in way if piece in step.pieces}

    def _way(self, to: Places) -> Way:
        """The steps that make a body, piece by piece where motions with what hangs on them do not."""
        steps: list[Step] = []
        rest = to
        for _ in range(len(to)):
            off = self._off(rest)
            if not off:
                break
            depth = self._depth[off[0]]
            level: list[Step] = []
            for i in off:
                if self._depth[i] == depth and not any(i in step.pieces for step in level):
                    level.append(self._step(i, rest, off))
            steps += level
            rest = self._hanging.taken_back(rest, level)
        if self._hanging.moved(self._first, steps) == to:
            return tuple(steps)
        return tuple(Step((i,), self._moves(i, to[i])[0], self._depth[i], alone=True) for i in self._off(to))

    def _parted(self, way: Way) -> list[Way]:
        """A way by its steps, those that make a body by themselves apart from the others."""
        steps = [own for step in way for own in self._loose(step)]
        single = [step for step in steps if self._good(self._hanging.moved(self._first, [step]))]
        rest = tuple(step for step in steps if step not in single)
        if rest and single and not self._good(self._hanging.moved(self._first, rest)):
            return [way]
        return [*((step,) for step in single), *([rest] if rest else [])]

    def _loose(self, step: Step) -> list[Step]:
        """A step by the pieces that do not hang together, where each lot of them makes a body by itself."""
        lots = [] if step.alone else self._hanging.lots(self._first, step.pieces)
        steps = [replace(step, pieces=pieces) for pieces in lots]
        good = len(steps) > 1 and all(self._good(self._hanging.moved(self._first, [one])) for one in steps)
        return steps if good else [step]

    def _good(self, body: Places) -> bool:
        """Whether a body is sound, has as many holes met as the first, and is what is asked for."""
        places, stances = tuple(body.values()), self._stances
        return stances.sound(places) and stances.holes_met(places) == self._met and self._allows(places)

    def _step(self, piece: int, to: Places, off: Sequence[int]) -> Step:
        """The motion of a piece that most of the others make too, and of these those that hang on no other of them."""
        found = [
            (move, [i for i in off if self._after(move, self._first[i]) == to[i]])
            for move in self._moves(piece, to[piece])
        ]
        move, along = max(found, key=lambda one: len(one[1]))
        core = tuple(i for i in sorted(along) if i not in self._hanging.hung(self._first, {*along} - {i}))
        return Step(core if piece in core else (piece,), move, self._depth[piece])
