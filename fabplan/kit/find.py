"""The bodies that a kit's holes allow, as poses of its pieces."""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import thick
from fabplan.kit.alike import Kind, kinds_of
from fabplan.kit.choices import Choices
from fabplan.kit.clauses import SpentError
from fabplan.kit.search import WORK, Search
from fabplan.kit.stances import Stances
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
        kinds: pieces that are one another's like, as instances.
        ways: what makes the other bodies from the first, alone or several together.
    """

    datum: int
    bodies: tuple[Mapping[int, Pose], ...]
    bare: int
    whole: bool
    kinds: tuple[tuple[int, ...], ...]
    ways: tuple[Way, ...] = ()


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
    stances = Stances(kinds)
    stances.datum = stances.number(number, Pose())
    search = Search(kinds, stances, work)
    found = search.run()
    own = tuple(kind.instances for kind in kinds)
    if not found.bodies:
        return Bodies(first, (), sum(len(kind.shape) * len(kind.instances) for kind in kinds), found.whole, own)
    named = [_named(kinds, stances, body, first) for body in found.bodies]
    bodies = [_poses(kinds, stances, some, parts) for some in named]
    order = list(range(len(bodies)))
    if found.whole:  # else the others were looked for near the first
        heights = [height(parts, body) for body in bodies]
        order.sort(key=lambda k: heights[k] < max(heights) / 2.0)  # that to which the datum's marked face looks
    listed = [found.bodies[k] for k in order]
    choices = Choices(stances, listed[0])
    choices.learn(listed[1:])
    whole = found.whole and _told(choices, search)
    motions = tuple(
        _by_instance(way, tuple(named[order[0]].values()), _home(kinds, parts[first], first)) for way in choices.ways
    )
    return Bodies(first, tuple(bodies[k] for k in order), found.bare, whole, own, motions)


def _told(choices: Choices, search: Search) -> bool:
    """Let choices tell bodies taken at random, until those known make all of them; False where that does not end."""
    try:
        return any(not choices.learn(search.others()) for _ in range(ROUNDS))
    except SpentError:
        return False


def height(parts: tuple[Part, ...], body: Mapping[int, Pose]) -> float:
    """How far the middle of all metal lies over the marked face of the datum, mm.

    Args:
        parts: part of each instance.
        body: poses by instance, in the frame of the datum.
    """
    solids = {id(part): [thick(panel) for panel in part.panels] for part in {id(one): one for one in parts}.values()}
    middles = [to_outer(pose, solid.middle)[2] for i, pose in body.items() for solid in solids[id(parts[i])]]
    weights = [solid.volume for i in body for solid in solids[id(parts[i])]]
    return float(np.average(middles, weights=weights)) if weights else 0.0


def _datum(kinds: tuple[Kind, ...]) -> int:
    """The plate with most holes, else whatever has: what can turn in its place then hangs on what stands."""

    def rank(k: int) -> tuple[bool, int]:
        return kinds[k].shape.part.section is None, len(kinds[k].shape)

    return max(range(len(kinds)), key=rank)


def _named(kinds: tuple[Kind, ...], stances: Stances, body: tuple[int, ...], datum: int) -> dict[int, int]:
    """Instance by place, the datum first."""
    named: dict[int, int] = {body[0]: datum}
    for place in body[1:]:
        taken = set(named.values())
        named[place] = next(i for i in kinds[stances.kind(place)].instances if i not in taken)
    return named


def _poses(
    kinds: tuple[Kind, ...], stances: Stances, named: Mapping[int, int], parts: tuple[Part, ...]
) -> dict[int, Pose]:
    """Poses by instance in the frame of the datum, which is named first."""
    poses = {
        instance: compose(stances.pose(place), kinds[stances.kind(place)].moved[id(parts[instance])])
        for place, instance in named.items()
    }
    back = inverse(poses[next(iter(named.values()))])
    return {i: compose(back, poses[i]) for i in sorted(poses)}


def _home(kinds: tuple[Kind, ...], part: Part, instance: int) -> Pose:
    return next(kind.moved[id(part)] for kind in kinds if instance in kind.instances)


def _by_instance(way: Way, instances: tuple[int, ...], home: Pose) -> Way:
    """A way in the frame of the datum, `home` being that frame in its place."""
    return tuple(
        replace(
            step, pieces=tuple(instances[k] for k in step.pieces), move=compose(compose(inverse(home), step.move), home)
        )
        for step in way
    )
