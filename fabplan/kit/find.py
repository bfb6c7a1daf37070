"""The bodies that a kit's holes allow, as poses of its pieces."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import thick
from fabplan.kit.alike import Kind, kinds_of
from fabplan.kit.choices import Choices
from fabplan.kit.clauses import Body, SpentError
from fabplan.kit.search import WORK, Found, Search
from fabplan.kit.stances import Stances
from fabplan.model.arrays import FloatArray
from fabplan.model.choice import Way
from fabplan.model.part import Part
from fabplan.model.pose import Pose

ROUNDS = 40
"""Rounds of bodies at random after which what a kit leaves open cannot be told in full."""


@dataclass(frozen=True, slots=True, eq=False)
class Bodies:
    """What the holes of a kit tell.

    Attributes:
        datum: instance that the others are set from; its frame is that of the body.
        bodies: poses by instance of each body that leaves the fewest holes without a mate; pieces without a pose are
            left out. Bodies that differ by symmetry alone, or by an exchange of pieces alike, count as one.
        bare: holes that no body gives a mate.
        whole: True where all ways were looked at, so that there are no other bodies as good.
        taken: bodies that were taken at random, of more than were listed, all of which the ways make; else 0.
        kinds: pieces that are one another's like, as instances.
        ways: what makes the other bodies from the first, alone or several together.
        usual: where there were too many bodies, so that only those were kept that go least against the habits of
            makers, the pieces that stand elsewhere in others; else none.
        doubles: True where pieces alike, or both hands, might lie lapped by half of their holes or more, since more
            holes meet so.
        outside: True where all bodies stand on one side of the datum, so that habits can tell what is outside.
    """

    datum: int
    bodies: tuple[Mapping[int, Pose], ...]
    bare: int
    whole: bool
    taken: int
    kinds: tuple[tuple[int, ...], ...]
    ways: tuple[Way, ...] = ()
    usual: tuple[int, ...] = ()
    doubles: bool = False
    outside: bool = False


def assembled(parts: tuple[Part, ...], datum: int | None = None, work: int = WORK) -> Bodies:
    """Put pieces together by their holes.

    Args:
        parts: part of each instance; the same object for pieces of one mark and hand.
        datum: the instance that the others are set from; None takes the plate with most holes.
        work: pairs of pieces and steps looked at before it is given up.
    """
    kinds = kinds_of(parts)
    number = _datum(kinds) if datum is None else next(k for k, kind in enumerate(kinds) if datum in kind.instances)
    first = kinds[number].instances[0] if datum is None else datum
    search, found = _searched(kinds, number, work)
    stances = search.stances
    own = tuple(kind.instances for kind in kinds)
    if not found.bodies:
        return Bodies(first, (), sum(len(kind.shape) * len(kind.instances) for kind in kinds), found.whole, 0, own)
    bodies = _Listed(kinds, stances, parts, first)
    listed = bodies.upright(found.bodies) if found.whole else found.bodies
    usual: tuple[int, ...] = ()
    choices, whole, taken = _told(search, listed, whole=found.whole)
    outside = bodies.one_side(listed)
    if found.whole and not (whole or search.cost) and (kept := search.usual(listed, outside=outside)):
        usual = tuple(i for i in search.unsettled(listed, kept[0]) if i != first)
        listed = bodies.upright(kept)
        choices, whole, taken = _told(search, listed, whole=True)
    poses = tuple(bodies.poses(body) for body in listed)
    ways = tuple(bodies.way(way, listed[0]) for way in choices.ways)
    return Bodies(first, poses, found.bare, whole, taken, own, ways, usual, stances.doubles, outside)


def _searched(kinds: tuple[Kind, ...], number: int, work: int) -> tuple[Search, Found]:
    """The search about a piece of a kind, and what it found; with pieces alike lapped where more holes meet so."""

    def run(*, doubles: bool) -> tuple[Search, Found]:
        stances = Stances(kinds, doubles=doubles)
        stances.datum = stances.number(number, Pose())
        search = Search(kinds, stances, work)
        return search, search.run()

    search, found = run(doubles=False)
    if found.whole and (not found.bodies or any(map(search.stances.may_lap, found.bodies))):
        lapped, other = run(doubles=True)
        if not found.bodies or (other.bodies and other.bare < found.bare):
            return lapped, other
    return search, found


def _told(search: Search, listed: Sequence[Body], *, whole: bool) -> tuple[Choices, bool, int]:
    """What makes some bodies of the first, whether it makes all others too, and how many at random were held to it."""
    choices = Choices(search.stances, listed[0], search.allows)
    try:
        choices.learn(listed[1:])
        for _ in range(ROUNDS if whole and not choices.full else 0):
            others = search.others()
            if not choices.learn(others):
                return choices, not choices.full, len(others)
    except SpentError:
        pass
    return choices, False, 0


@dataclass(frozen=True, slots=True, eq=False)
class _Listed:
    """Bodies that were found as poses of instances, the datum given."""

    kinds: tuple[Kind, ...]
    stances: Stances
    parts: tuple[Part, ...]
    datum: int

    def named(self, body: Body) -> dict[int, int]:
        """Instance by place, the datum first."""
        named = {body[0]: self.datum}
        for place in body[1:]:
            taken = set(named.values())
            named[place] = next(i for i in self.kinds[self.stances.kind(place)].instances if i not in taken)
        return named

    def poses(self, body: Body) -> dict[int, Pose]:
        """Poses by instance in the frame of the datum."""
        poses = {
            instance: compose(self.stances.pose(place), self._home(instance))
            for place, instance in self.named(body).items()
        }
        back = inverse(poses[self.datum])
        return {i: compose(back, poses[i]) for i in sorted(poses)}

    def upright(self, bodies: Sequence[Body]) -> list[Body]:
        """Those bodies first to which the marked face of the datum looks."""
        heights = self._heights(bodies)
        order = sorted(range(len(bodies)), key=lambda k: heights[k] < max(heights) / 2.0)
        return [bodies[k] for k in order]

    def one_side(self, bodies: Sequence[Body]) -> bool:
        """Whether all bodies stand on one side of the datum, be they many."""
        heights = self._heights(bodies)
        return min(heights) > 0.0 or max(heights) < 0.0

    def _heights(self, bodies: Sequence[Body]) -> list[float]:
        metal = metal_of(self.parts)
        return [height(self.parts, self.poses(body), metal) for body in bodies]

    def way(self, way: Way, body: Body) -> Way:
        """A way from a body, told by its order, by instance and in the frame of the datum."""
        instances, home = tuple(self.named(body).values()), self._home(self.datum)
        return tuple(
            replace(
                step,
                pieces=tuple(instances[k] for k in step.pieces),
                move=compose(compose(inverse(home), step.move), home),
            )
            for step in way
        )

    def _home(self, instance: int) -> Pose:
        """The pose that carries a piece onto the first of its kind."""
        kind = next(kind for kind in self.kinds if instance in kind.instances)
        return kind.moved[id(self.parts[instance])]


Metal = Mapping[int, tuple[FloatArray, float]]
"""By part the middle (3,) of its metal in its own frame, mm, and its volume, mm3."""


def metal_of(parts: tuple[Part, ...]) -> Metal:
    """The metal of each part that has any."""
    found: dict[int, tuple[FloatArray, float]] = {}
    for part in {id(one): one for one in parts if one.panels}.values():
        solids = [thick(panel) for panel in part.panels]
        volumes = np.array([solid.volume for solid in solids])
        found[id(part)] = volumes @ np.array([solid.middle for solid in solids]) / volumes.sum(), float(volumes.sum())
    return found


def height(parts: tuple[Part, ...], body: Mapping[int, Pose], metal: Metal) -> float:
    """How far the middle of all metal lies over the marked face of the datum, mm.

    Args:
        parts: part of each instance.
        body: poses by instance, in the frame of the datum.
        metal: of the parts.
    """
    own = [(pose, *metal[id(parts[i])]) for i, pose in body.items() if id(parts[i]) in metal]
    heights, weights = [to_outer(pose, middle)[2] for pose, middle, _ in own], [volume for *_, volume in own]
    return float(np.average(heights, weights=weights)) if own else 0.0


def _datum(kinds: tuple[Kind, ...]) -> int:
    """The plate with most holes, else whatever has: what can turn in its place then hangs on what stands."""

    def rank(k: int) -> tuple[bool, int]:
        return kinds[k].shape.part.section is None, len(kinds[k].shape)

    return max(range(len(kinds)), key=rank)
