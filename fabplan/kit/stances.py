"""Places of pieces, each known by a number, and what is asked of them, each question once.

Sets of places are whole numbers used as bits: place `n` is `1 << n`. So are sets of holes of a piece.
"""

from bisect import bisect_left, insort
from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import reduce
from itertools import permutations
from operator import or_

import numpy as np

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.kit.alike import Kind
from fabplan.kit.contact import Lies, contacts
from fabplan.kit.hands import hands_of
from fabplan.kit.joins import Joins, joins, nowhere
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.pose import Pose

SAME = 0.3
"""Places of a piece whose box lies nearer than that, mm, are one."""

TURNS = 8
"""Turns of the datum by which bodies are told apart; a disc has more, and few bodies."""

BESIDE = 1.0
"""Boxes of pieces further apart, mm, have nothing to do with one another."""

PAIR = 10
"""Steps of a search that a pair of pieces held against one another takes as long as, measured."""

WEIGHTS = np.linspace(0.6, 1.4, 12) / 12.0
"""Of the twelve figures of four corners in the sum by which like places are looked up."""


class Places:
    """Poses of one piece by its corners; a turn that leaves the piece as it is leaves the place the same."""

    def __init__(self, kind: Kind) -> None:
        """Start with none."""
        self._corners, self._turns = _corners(kind), kind.turns
        self._keys: list[tuple[float, int]] = []
        self._known: list[tuple[FloatArray, int]] = []

    def seen(self, lies: Lies) -> FloatArray:
        """(p, 12) the corners in each of some poses."""
        moved = self._corners @ lies.rotation.transpose(0, 2, 1) + lies.origin[:, None]
        return np.asarray(moved.reshape(len(lies), 12))

    def find(self, corners: FloatArray) -> int:
        """The number under which a place was added, -1 where it was not."""
        key = float(corners @ WEIGHTS)
        for k in range(bisect_left(self._keys, (key - SAME, -1)), len(self._keys)):
            if self._keys[k][0] > key + SAME:
                break
            known, number = self._known[self._keys[k][1]]
            if np.abs(known - corners).max() <= SAME:
                return number
        return -1

    def add(self, pose: Pose, number: int) -> None:
        """Add a place under a number."""
        for turn in self._turns:
            corners = to_outer(compose(pose, turn), self._corners).ravel()
            insort(self._keys, (float(corners @ WEIGHTS), len(self._known)))
            self._known.append((corners, number))

    def unlike(self, lies: Lies) -> IntArray:
        """Which of some poses are places of their own; all of them are added."""
        kept = []
        for k, corners in enumerate(self.seen(lies)):
            if self.find(corners) < 0:
                self.add(lies.pose(k), k)
                kept.append(k)
        return np.array(kept, dtype=np.int64)


class Stances:
    """All places met so far of all kinds of a kit.

    Attributes:
        lapped: by kind the holes that meet others where pieces alike lie on one another in ways that are left out.
    """

    def __init__(self, kinds: tuple[Kind, ...], *, doubles: bool = False) -> None:
        """Start with none; `doubles`: whether pieces alike may lie on one another by half of their holes or more."""
        self.doubles = doubles
        self.kinds, self.tried, self.pairs, self.datum = kinds, 0, 0, -1
        self.hands = hands_of(kinds)
        self.lapped: defaultdict[int, int] = defaultdict(int)
        self.bad: defaultdict[int, int] = defaultdict(int)
        self._kind = np.zeros(64, dtype=np.int64)
        self._count = 0
        self._lies = Lies(np.zeros((64, 3, 3)), np.zeros((64, 3)))
        self._low, self._high = np.zeros((64, 3)), np.zeros((64, 3))
        self._places = [Places(kind) for kind in kinds]
        self._known: defaultdict[int, int] = defaultdict(int)
        self._met: dict[tuple[int, int], int] = {}
        self._joins: dict[tuple[int, int], Joins] = {}
        self._cover: dict[int, tuple[int, ...]] = {}
        self._turned: dict[tuple[int, int], int] = {}

    def __len__(self) -> int:
        """How many places are known."""
        return self._count

    @property
    def effort(self) -> int:
        """What was done so far, in steps of a search: two places take as long as one, a pair of pieces as ten."""
        return (self.tried + len(self)) // 2 + PAIR * self.pairs

    def kind(self, number: int) -> int:
        """Of which kind a place is."""
        return int(self._kind[number])

    def pose(self, number: int) -> Pose:
        """The pose of a place."""
        return self._lies.pose(number)

    def number(self, kind: int, pose: Pose) -> int:
        """The number of a place; one that a turn of the piece makes the same is the same."""
        return int(self._numbers(kind, Lies(pose.rotation[None], pose.origin[None]))[0])

    def after(self, move: Pose, number: int) -> int:
        """The place to which a motion brings the piece in a place."""
        return self.number(self.kind(number), compose(move, self.pose(number)))

    def _numbers(self, kind: int, lies: Lies) -> IntArray:
        places = self._places[kind]
        found = np.zeros(len(lies), dtype=np.int64)
        for k, corners in enumerate(places.seen(lies)):
            known = places.find(corners)
            found[k] = known if known >= 0 else self._new(kind, lies.pose(k))
        return found

    def _new(self, kind: int, pose: Pose) -> int:
        number = self._count
        if number == len(self._low):
            self._kind = np.concatenate([self._kind, np.zeros_like(self._kind)])
            self._lies = Lies(_doubled(self._lies.rotation), _doubled(self._lies.origin))
            self._low, self._high = _doubled(self._low), _doubled(self._high)
        self._kind[number], self._count = kind, number + 1
        self._lies.rotation[number], self._lies.origin[number] = pose.rotation, pose.origin
        box = to_outer(pose, self.kinds[kind].shape.boxes.reshape(-1, 3))
        self._low[number], self._high[number] = box.min(axis=0), box.max(axis=0)
        self._places[kind].add(pose, number)
        return number

    def joins(self, one: int, two: int) -> Joins:
        """The ways in which a piece of one kind may lie on one of another."""
        known = self._joins.get((one, two))
        if known is None:
            shapes = self.kinds[one].shape, self.kinds[two].shape
            lone = one == two and len(self.kinds[one].instances) == 1  # it cannot lie on itself
            known = nowhere(shapes[0]) if lone else joins(*shapes, Places(self.kinds[two]).unlike)
            double = np.array([self._double(one, two, int(met.sum())) for met in known.met], dtype=np.bool_)
            self.lapped[one] |= bits(np.asarray(known.met[double].any(axis=0)))
            known = self._joins[one, two] = known.some(np.nonzero(~double)[0])
            self.tried += known.tried
        return known

    def linked(self, kind: int) -> set[int]:
        """The kinds that may hang together with one: some piece of each may lie on one of another of them."""
        found = [kind]
        for one in found:
            found += [two for two in range(len(self.kinds)) if two not in found and len(self.joins(one, two).lies)]
        return set(found)

    def _double(self, one: int, two: int, holes: int) -> bool:
        """Whether two pieces alike, or of both hands, lie on one another by half of their holes or more.

        Any two of them do so, whatever they are for: that they can tells nothing.
        """
        hand = self.hands[one]
        alike = one == two or (hand is not None and two == hand.kind)
        return not self.doubles and alike and 2 * holes >= len(self.kinds[one].shape)

    def cover(self, number: int) -> tuple[int, ...]:
        """For each hole of a piece in a place the places of other pieces that meet it."""
        if number not in self._cover:
            self._spread(number)
        return self._cover[number]

    def _spread(self, number: int) -> None:
        kind, pose = self.kind(number), self.pose(number)
        found = [np.zeros(0, dtype=np.int64)]
        met = [np.zeros((0, len(self.kinds[kind].shape)), dtype=np.bool_)]
        for other in range(len(self.kinds)):
            ways = self.joins(kind, other)
            if len(ways.lies):
                turn = pose.rotation @ ways.lies.rotation
                found.append(self._numbers(other, Lies(turn, to_outer(pose, ways.lies.origin))))
                met.append(ways.met)
        places, holes = np.concatenate(found), np.vstack(met)
        unlike, which = np.unique(holes, axis=1, return_inverse=True)  # holes of a row have the same mates
        sets = [holes_of(places[column].tolist()) for column in unlike.T]
        self._cover[number] = tuple(sets[k] for k in which.ravel().tolist())

    def unsound(self, number: int, some: int) -> int:
        """Those of some places in which pieces foul one in a given place, or lie blind on it."""
        unknown = some & ~self._known[number]
        if unknown:
            self._learn(number, unknown)
        return self.bad[number] & some

    def _learn(self, number: int, some: int) -> None:
        self._known[number] |= some
        index = members(some)
        near = np.all(self._low[index] <= self._high[number] + BESIDE, axis=1)
        near &= np.all(self._high[index] >= self._low[number] - BESIDE, axis=1)
        index = index[near]
        kinds = self._kind[index]
        back, shape = inverse(self.pose(number)), self.kinds[self.kind(number)].shape
        for kind in np.unique(kinds).tolist():
            own = index[kinds == kind]
            lies = Lies(back.rotation @ self._lies.rotation[own], to_outer(back, self._lies.origin[own]))
            self.pairs += len(own)
            for other, found in zip(own.tolist(), contacts(shape, self.kinds[kind].shape, lies), strict=True):
                self._known[other] |= 1 << number
                if not found.sound or self._double(self.kind(number), kind, len(found.one)):
                    self.bad[number] |= 1 << other
                    self.bad[other] |= 1 << number
                elif len(found.one):
                    self._met[number, other], self._met[other, number] = (
                        holes_of(found.one.tolist()),
                        holes_of(found.two.tolist()),
                    )

    def met(self, one: int, two: int) -> int:
        """The holes of the piece in the first place that meet holes of the other."""
        if not self._known[one] >> two & 1:
            self._learn(one, 1 << two)
        return self._met.get((one, two), 0)

    def around(self, places: Iterable[int]) -> int:
        """All places in which a piece would meet one in some places, but for these."""
        some = tuple(places)
        return reduce(or_, (own for place in some for own in self.cover(place)), 0) & ~holes_of(some)

    def together(self, first: int, some: int) -> tuple[int, ...]:
        """Those of some places whose pieces hang together with one in a place, it first."""
        found, left = [first], some & ~(1 << first)
        for one in found:
            near = self.around([one]) & left
            left &= ~near
            found += members(near).tolist()
        return tuple(found)

    def sound(self, body: Sequence[int]) -> bool:
        """Whether no piece of a body fouls another, or lies blind on it."""
        some = holes_of(body)
        return some.bit_count() == len(body) and not any(self.unsound(place, some & ~(1 << place)) for place in body)

    def holes_met(self, body: Sequence[int]) -> int:
        """How many holes of a body have a mate."""
        holes = [0] * len(body)
        for one, two in permutations(range(len(body)), 2):
            holes[one] |= self.met(body[one], body[two])
        return sum(own.bit_count() for own in holes)

    def may_lap(self, body: Sequence[int]) -> bool:
        """Whether pieces alike, lapped by half of their holes or more, might give a mate to a hole of a body."""
        for one in body:
            met = reduce(or_, (self.met(one, two) for two in body if two != one), 0)
            if self.lapped[self.kind(one)] & ~met:
                return True
        return False

    def canonical(self, placed: Sequence[int]) -> tuple[int, ...]:
        """The same for bodies that a turn of the datum makes the same."""
        return min(tuple(sorted(body)) for body in self.turned(placed))

    def turned(self, placed: Sequence[int]) -> list[tuple[int, ...]]:
        """A body in each of the turns of the datum that leave the datum as it is."""
        turns = self.kinds[self.kind(placed[0])].turns[:TURNS]
        return [tuple(self._after(number, k) for number in placed) for k in range(len(turns))]

    def _after(self, number: int, turn: int) -> int:
        """The place that a turn of the datum, which stands where its frame is, makes of another."""
        if turn == 0:
            return number
        known = self._turned.get((number, turn))
        if known is None:
            by = self.kinds[self.kind(self.datum)].turns[turn]
            known = self._turned[number, turn] = self.number(self.kind(number), compose(by, self.pose(number)))
        return known


def bits(row: BoolArray) -> int:
    """The set of the true entries of a row (n,)."""
    return int.from_bytes(np.packbits(row, bitorder="little").tobytes(), "little")


def members(some: int) -> IntArray:
    """The members of a set in order."""
    row = np.frombuffer(some.to_bytes(some.bit_length() // 8 + 1, "little"), dtype=np.uint8)
    return np.nonzero(np.unpackbits(row, bitorder="little"))[0]


def holes_of(index: Iterable[int]) -> int:
    """The set of some indices, each as often as it comes."""
    return sum(1 << k for k in dict.fromkeys(index))


def _doubled(table: FloatArray) -> FloatArray:
    return np.concatenate([table, np.zeros_like(table)])


def _corners(kind: Kind) -> FloatArray:
    """Four places (4, 3) that tell a pose of a piece: its middle, and one along each axis as far off as it reaches."""
    points = kind.shape.boxes.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    middle, reach = (low + high) / 2.0, float(np.linalg.norm(high - low)) / 2.0
    return np.vstack([middle, middle + reach * np.eye(3)])
