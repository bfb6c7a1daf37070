"""What the steps and the findings about them are made from."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.sequence.access import Site
from fabplan.sequence.phases import with_hangers
from fabplan.sequence.reach import Ways

LONG = 60  # signs of a list of marks in a heading or a reason


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """What the steps are made from.

    `bolted` (n,) tells which rivets have a service bolt in the dry fit, `men` (n,) at which bolts, those that stay with
    them, a man inside turns the nut or keeps the head.
    """

    job: Job
    body: Body
    stacks: Stacks
    site: Site
    bolted: BoolArray
    datum: int
    member: BoolArray
    men: BoolArray

    @property
    def ways(self) -> Ways:
        """All ways of reaching all rivets."""
        return self.site.ways

    def mark(self, instance: int) -> str:
        """Mark of an instance."""
        return self.body.instances[instance].mark

    def marks(self, instances: Sequence[int] | IntArray) -> str:
        """Marks of instances, in a list of words."""
        return ", ".join(self.mark(int(i)) for i in instances)

    def few(self, instances: Sequence[int]) -> str:
        """Their marks, or how many they are where those would run over a line."""
        words = self.marks(instances)
        return words if len(words) <= LONG else f"{len(instances)} pieces"

    def mass(self, instance: int) -> float:
        """Mass of an instance, kg; 0 where it is not known."""
        mass = self.body.part_of(instance).mass
        return float(mass) if np.isfinite(mass) else 0.0

    def lowest(self) -> float:
        """Height of the lowest end of a rivet, mm, body frame."""
        return float(np.minimum(self.stacks.head_face[:, 2], self.stacks.point_face[:, 2]).min())

    def lift(self, instances: Sequence[int]) -> float:
        """The heaviest of some instances, kg."""
        return max((self.mass(i) for i in instances), default=0.0)

    def bolts_through(
        self, instances: Sequence[int], present: BoolArray | None = None, driven: BoolArray | None = None
    ) -> tuple[tuple[int, int], ...]:
        """Service bolts through any of some instances, of those whose plies all stand: pairs of seam and number.

        Holes whose rivets are `driven` (n,) have none any more.
        """
        through = self.bolted & self.member[:, list(instances)].any(axis=1)
        if driven is not None and len(driven):
            through &= ~driven
        if present is not None:
            through &= ~(self.member & ~present).any(axis=1)
        own = self.stacks.seam[through]
        return tuple((seam, int(np.sum(own == seam))) for seam in np.unique(own).tolist())

    def gates(self, numbers: IntArray, present: BoolArray) -> str:
        """Openings in words while `present` (m,) stand, the most used first; "" where none of them is one."""
        known, count = np.unique(numbers[numbers >= 0], return_counts=True)
        words = [self.gate(int(number), present) for number in known[np.argsort(-count, kind="stable")]]
        return " or ".join(dict.fromkeys(words))

    def gate(self, number: int, present: BoolArray | None = None) -> str:
        """One opening in words, as `fabplan.geom.flood.gates_of` numbers them: whose it is, how wide, where.

        The gap of a piece that hangs on another one that is off too is that of the other, where it is told what is
        `present` (m,).
        """
        if number < 0:
            return "the open side"
        openings = self.site.openings
        if number >= len(openings):
            off = number - len(openings)
            return f"the gap where {self.mark(off if present is None else self._bearer(off, present))} is off"
        one = openings[number]
        x, y, z = (round(value) for value in one.place.tolist())
        return f"the opening of {self.mark(int(self.site.panels.owner[one.solid]))}, {one.size:.0f} mm, at {x} {y} {z}"

    def _bearer(self, instance: int, present: BoolArray) -> int:
        """Of an instance that is off and the missing ones that bear it the one that hangs on no missing one itself."""
        placed = np.array([pose is not None for pose in self.body.poses], dtype=np.bool_)
        while True:
            mates = self.member[self.member[:, instance]].any(axis=0) & ~present
            for mate in np.nonzero(mates)[0].tolist():
                if mate != instance and instance in with_hangers(np.array([mate]), self.member, placed, self.datum):
                    instance = mate
                    break
            else:
                return instance


def count_of(number: int, what: str) -> str:
    """A number of things: 1 rivet, 2 rivets."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def indices(chosen: BoolArray) -> tuple[int, ...]:
    """The numbers of those that are chosen."""
    return tuple(np.nonzero(chosen)[0].tolist())
