"""Places of pieces, each known by a number, and what is asked of pairs of them, each question once."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import Solid
from fabplan.kit.alike import Kind
from fabplan.kit.contact import APART, Contact, contact
from fabplan.kit.lies import lies
from fabplan.kit.shape import Run
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.pose import Pose

SAME = 0.3
"""Places of a piece whose box lies nearer than that, mm, are one."""

TURNS = 8
"""Turns of the datum by which bodies are told apart; a disc has more, and few bodies."""

BESIDE = 1.0
"""Boxes of pieces further apart, mm, have nothing to do with one another."""

LEAST_MATES = 2


@dataclass(frozen=True, slots=True, eq=False)
class _Stance:
    kind: int
    pose: Pose
    low: tuple[float, ...]
    high: tuple[float, ...]


class Stances:
    """All places met so far of all kinds of a kit."""

    def __init__(self, kinds: tuple[Kind, ...]) -> None:
        """Start with none."""
        self.kinds = kinds
        self.spent = 0
        self._all: list[_Stance] = []
        self._by_kind: list[list[int]] = [[] for _ in kinds]
        self._corners = [_corners(kind) for kind in kinds]
        self._marks: list[FloatArray] = [np.zeros((64, corners.size)) for corners in self._corners]
        self._lies: dict[tuple[int, int, int, bool], tuple[Pose, ...]] = {}
        self._hung: dict[tuple[int, int, int, bool], tuple[int, ...]] = {}
        self._contacts: dict[tuple[int, int], Contact] = {}
        self._relative: dict[tuple[object, ...], Contact] = {}
        self._turned: dict[tuple[int, int], int] = {}
        self.datum = -1

    def number(self, kind: int, pose: Pose) -> int:
        """The number of a place; one that a turn of the piece makes the same is the same."""
        known, count = self._marks[kind], len(self._by_kind[kind])
        seen = to_outer(pose, self._corners[kind]).ravel()
        if count:
            apart = np.abs(known[:count] - seen).max(axis=1)
            near = int(apart.argmin())
            if apart[near] <= SAME:
                return self._by_kind[kind][near]
        number = len(self._all)
        box = to_outer(pose, self.kinds[kind].shape.boxes.reshape(-1, 3))
        self._all.append(_Stance(kind, pose, tuple(box.min(axis=0).tolist()), tuple(box.max(axis=0).tolist())))
        turns = self.kinds[kind].turns
        if count + len(turns) > len(known):
            self._marks[kind] = known = np.vstack([known, np.zeros((count + len(turns), known.shape[1]))])
        for k, turn in enumerate(turns):
            self._by_kind[kind].append(number)
            known[count + k] = to_outer(compose(pose, turn), self._corners[kind]).ravel()
        return number

    def kind(self, number: int) -> int:
        """Of which kind a place is."""
        return self._all[number].kind

    def pose(self, number: int) -> Pose:
        """The pose of a place."""
        return self._all[number].pose

    def runs(self, number: int) -> tuple[Run, ...]:
        """The runs of the piece in a place."""
        return self.kinds[self._all[number].kind].shape.runs

    def run(self, number: int, run: int) -> Run:
        """One of them."""
        return self.runs(number)[run]

    def flat(self, number: int) -> Solid | None:
        """The metal of a flat plate, None for any other piece."""
        shape = self.kinds[self._all[number].kind].shape
        return shape.solids[0] if len(shape.solids) == 1 and shape.part.section is None else None

    def contact(self, one: int, two: int) -> Contact:
        """What pieces in two places do to one another, as the first sees it."""
        key = (one, two)
        known = self._contacts.get(key)
        if known is None:
            known = self._contacts[key] = self._touched(one, two)
            self._contacts[two, one] = Contact(known.two, known.one, known.blind, known.fouls)
        return known

    def _touched(self, one: int, two: int) -> Contact:
        a, b = self._all[one], self._all[two]
        if any(
            low > high + BESIDE for low, high in (*zip(a.low, b.high, strict=True), *zip(b.low, a.high, strict=True))
        ):
            return APART
        lie = compose(inverse(a.pose), b.pose)
        key = (a.kind, b.kind, *np.round(lie.rotation.ravel(), 4).tolist(), *np.round(lie.origin, 1).tolist())
        known = self._relative.get(key)
        if known is None:
            self.spent += 1
            known = self._relative[key] = contact(self.kinds[a.kind].shape, self.kinds[b.kind].shape, lie)
        return known

    def met(self, one: int, two: int) -> IntArray:
        """The holes of the piece in the first place that meet holes of the other."""
        return self.contact(one, two).one

    def hung(self, number: int, run: int, kind: int, *, whole: bool) -> tuple[int, ...]:
        """The places of a kind that lay one of its runs on a run of a placed piece, none of them against the piece."""
        key = (number, run, kind, whole)
        known = self._hung.get(key)
        if known is None:
            here = self._all[number]
            poses = (compose(here.pose, lie) for lie in self._laid(here.kind, run, kind, whole=whole))
            known = self._hung[key] = tuple(dict.fromkeys(self.number(kind, pose) for pose in poses))
        return known

    def _laid(self, one: int, run: int, two: int, *, whole: bool) -> tuple[Pose, ...]:
        key = (one, run, two, whole)
        known = self._lies.get(key)
        if known is None:
            known = self._lies[key] = tuple(self._sound_lies(one, run, two, whole=whole))
        return known

    def _sound_lies(self, one: int, run: int, two: int, *, whole: bool) -> list[Pose]:
        first, second = self.kinds[one].shape, self.kinds[two].shape
        seen: list[FloatArray] = []
        found: list[Pose] = []
        for other in second.runs:
            for lie in lies(first, first.runs[run], second, other, whole=whole):
                corners = [to_outer(compose(lie, turn), self._corners[two]) for turn in self.kinds[two].turns[:TURNS]]
                if any(np.abs(old - corners[0]).max() <= SAME for old in seen):
                    continue
                seen += corners
                self.spent += 1
                there = contact(first, second, lie)
                if there.sound and len(there.one) >= LEAST_MATES:
                    found.append(lie)
        return found

    def canonical(self, placed: Sequence[int]) -> tuple[int, ...]:
        """The same for bodies that a turn of the datum makes the same."""
        first = placed[0]
        turns = self.kinds[self._all[first].kind].turns[:TURNS]
        return min(tuple(sorted(self._after(number, k) for number in placed)) for k in range(len(turns)))

    def _after(self, number: int, turn: int) -> int:
        """The place that a turn of the datum, which stands where its frame is, makes of another."""
        if turn == 0:
            return number
        key = (number, turn)
        known = self._turned.get(key)
        if known is None:
            here = self._all[number]
            by = self.kinds[self._all[self.datum].kind].turns[turn]
            known = self._turned[key] = self.number(here.kind, compose(by, here.pose))
        return known


def _corners(kind: Kind) -> FloatArray:
    """Four places (4, 3) that tell a pose of a piece: its middle, and one along each axis as far off as it reaches."""
    points = kind.shape.boxes.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    middle, reach = (low + high) / 2.0, float(np.linalg.norm(high - low)) / 2.0
    return np.vstack([middle, middle + reach * np.eye(3)])
