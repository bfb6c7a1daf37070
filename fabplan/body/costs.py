"""What a choice costs, each question asked once: the search meets the same pieces in the same poses again and again.

A pose is known by its place in the list of its instance; poses alike to a hundredth of a millimetre are one.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import combinations

import numpy as np

from fabplan.body.fit import faults
from fabplan.body.kit import Kit, Signature, centre, inwards, looks, looks_inwards, signature
from fabplan.body.rows import FIT, hung
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import bare_holes, clash
from fabplan.geom.tolerance import CLASH, TOUCH
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

CLASH_FAULT = 3

BARE_FAULT = 1

BARE = 2
"""Holes against metal without a hole that make a fault of the pair; a single one may be missing in a sound body."""

DEEP = 1.2 * FIT
"""Depth, mm, by which pieces run into one another in earnest: more than the play of their rows in the search."""

FACE_FAULT = 2

Rank = tuple[bool, bool, tuple[float, ...]]


@dataclass(slots=True, eq=False)
class Stance:
    """One pose of one instance, and what holds for it alone.

    Attributes:
        pose: the pose.
        sign: what tells it from poses that put metal and holes elsewhere.
        low, high: (k, 3) corners of the boxes around its solids, body frame, mm.
        face_fault: cost of a marked face that looks elsewhere than stated.
        rank: order among equals: the datum's side first, then the marked face inside, then a fixed order.
    """

    pose: Pose
    sign: Signature
    low: FloatArray
    high: FloatArray
    face_fault: int
    rank: Rank


@dataclass(slots=True, eq=False)
class Costs:
    """The costs of a kit; keeps every answer."""

    kit: Kit
    _stances: list[list[Stance]] = field(init=False)
    _known: list[dict[tuple[float, ...], int]] = field(init=False)
    _hung: dict[tuple[int, int, int], tuple[int, ...]] = field(default_factory=dict)
    _links: dict[tuple[int, int, int], int] = field(default_factory=dict)
    _fouls: dict[tuple[int, int, int, int, float], bool] = field(default_factory=dict)
    _bare: dict[tuple[int, int, int, int], bool] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Start without any pose."""
        self._stances = [[] for _ in self.kit.parts]
        self._known = [{} for _ in self.kit.parts]

    def stance(self, instance: int, number: int) -> Stance:
        """One pose of one instance by its number."""
        return self._stances[instance][number]

    def number(self, instance: int, pose: Pose) -> int:
        """The number of a pose, new or known."""
        key = (*np.round(pose.rotation.ravel(), 5).tolist(), *np.round(pose.origin + 0.00123, 2).tolist())
        known = self._known[instance]
        if key not in known:
            known[key] = len(self._stances[instance])
            self._stances[instance].append(self._looked_at(instance, pose))
        return known[key]

    def _looked_at(self, instance: int, pose: Pose) -> Stance:
        kit, solids = self.kit, self.kit.solids[instance]
        corners = [to_outer(pose, solid.corners) for solid in solids]
        stated, found = kit.parts[instance].spec.marked, looks(kit, instance, pose)
        below = float(centre(solids, pose) @ kit.up) - kit.level < -1.0
        turn = tuple(np.round(pose.rotation.ravel(), 6).tolist())
        return Stance(
            pose=pose,
            sign=signature(kit, instance, pose),
            low=np.array([own.min(axis=0) for own in corners]).reshape(-1, 3),
            high=np.array([own.max(axis=0) for own in corners]).reshape(-1, 3),
            face_fault=FACE_FAULT if stated and found and stated != found else 0,
            rank=(below, looks_inwards(kit, instance, pose) < 0.0, turn),
        )

    def hung(self, link: int, placed: int, number: int) -> tuple[int, ...]:
        """Numbers of the poses that a link gives the other piece when `placed` stands in its pose `number`."""
        key = (link, placed, number)
        if key not in self._hung:
            one, pose = self.kit.every[link], self.stance(placed, number).pose
            other = one.b if placed == one.a else one.a
            poses = [hung(one, other, pose, lie) for lie in one.lies]
            self._hung[key] = tuple(dict.fromkeys(self.number(other, pose) for pose in poses))
        return self._hung[key]

    def open(self, link: int, number_a: int, number_b: int) -> int:
        """Faults of a link between two pieces in these poses."""
        key = (link, number_a, number_b)
        if key not in self._links:
            one = self.kit.every[link]
            a, b = self.stance(one.a, number_a).pose, self.stance(one.b, number_b).pose
            self._links[key] = faults(one, a, b, inwards(self.kit, one, a))
        return self._links[key]

    def astray(self, places: Mapping[int, int]) -> tuple[int, ...]:
        """The pieces at the ends of seams that do not close, in order."""
        ends = [
            (link.a, link.b)
            for number, link in enumerate(self.kit.every)
            if link.a in places and link.b in places and self.open(number, places[link.a], places[link.b])
        ]
        return tuple(sorted({i for pair in ends for i in pair}))

    def foul(self, one: int, number_one: int, two: int, number_two: int, depth: float = DEEP) -> bool:
        """True where two pieces in these poses run into one another by more than `depth`, mm."""
        if self.kit.by_holes:
            return False
        pair = (one, number_one, two, number_two) if one < two else (two, number_two, one, number_one)
        key = (*pair, depth)
        known = self._fouls.get(key)
        if known is None:
            known = self._fouls[key] = self._runs_into(*key)
        return known

    def bare(self, one: int, number_one: int, two: int, number_two: int) -> bool:
        """True where holes of one of two pieces in these poses lie against metal of the other that has none.

        A place that the job states is no choice of the search: what is wrong with it is told, not got round.
        """
        if self.kit.by_holes or not self.kit.stated.isdisjoint((one, two)):
            return False
        key = (one, number_one, two, number_two) if one < two else (two, number_two, one, number_one)
        known = self._bare.get(key)
        if known is None:
            known = self._bare[key] = self._against(*key[:2], *key[2:]) + self._against(*key[2:], *key[:2]) >= BARE
        return known

    def _against(self, one: int, number_one: int, two: int, number_two: int) -> int:
        first, second, kit = self.stance(one, number_one), self.stance(two, number_two), self.kit
        return sum(
            bare_holes(
                kit.solids[one][i], first.pose, kit.holes[one][i], kit.solids[two][k], second.pose, kit.holes[two][k]
            )
            for i, k in self._near(first, second, -TOUCH)
            if len(kit.holes[two][k])
        )

    def slight(self, places: Mapping[int, int]) -> int:
        """How many pairs of pieces touch into one another at all, be it within the play of their rows."""
        return sum(self.foul(one, places[one], two, places[two], CLASH) for one, two in combinations(sorted(places), 2))

    def _runs_into(self, one: int, number_one: int, two: int, number_two: int, depth: float) -> bool:
        """Solid against solid, only where their boxes meet: a rolled piece has some fifty of them."""
        first, second = self.stance(one, number_one), self.stance(two, number_two)
        solids = self.kit.solids
        near = self._near(first, second, depth)
        return any(clash(solids[one][i], first.pose, solids[two][k], second.pose, depth) for i, k in near)

    @staticmethod
    def _near(first: Stance, second: Stance, depth: float) -> list[tuple[int, int]]:
        """Panels of two pieces whose boxes overlap by more than `depth`, mm."""
        if not (len(first.low) and len(second.low)):
            return []
        if np.any(first.low.min(axis=0) >= second.high.max(axis=0) - depth):
            return []
        if np.any(second.low.min(axis=0) >= first.high.max(axis=0) - depth):
            return []
        meet = np.all(first.low[:, None] < second.high - depth, axis=2)
        meet &= np.all(second.low < first.high[:, None] - depth, axis=2)
        return [(i, k) for i, k in np.argwhere(meet).tolist()]
