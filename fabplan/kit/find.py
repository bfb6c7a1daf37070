"""The bodies that a kit's holes allow, as poses of its pieces."""

from collections.abc import Mapping
from dataclasses import dataclass

from fabplan.geom.pose import compose, inverse
from fabplan.kit.alike import Kind, kinds_of
from fabplan.kit.search import WORK, Search
from fabplan.kit.stances import Stances
from fabplan.model.part import Part
from fabplan.model.pose import Pose


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
        near: where not all ways were looked at: so many pieces of the first body, whichever hang together, were laid
            anew in all ways.
    """

    datum: int
    bodies: tuple[Mapping[int, Pose], ...]
    bare: int
    whole: bool
    kinds: tuple[tuple[int, ...], ...]
    near: int = 0


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
    found = Search(kinds, stances, work).run(stances.datum)
    bodies, like = [], dict[int, int]()
    for body in found.bodies:
        named = _named(kinds, stances, body, first, like)
        like = like or named
        bodies.append(_poses(kinds, stances, named, parts))
    bare = found.bare if found.bodies else sum(len(kind.shape) * len(kind.instances) for kind in kinds)
    return Bodies(first, tuple(bodies), bare, found.whole, tuple(kind.instances for kind in kinds), found.near)


def _datum(kinds: tuple[Kind, ...]) -> int:
    """The plate with most holes, else whatever has: what can turn in its place then hangs on what stands."""

    def rank(k: int) -> tuple[bool, int]:
        return kinds[k].shape.part.section is None, len(kinds[k].shape)

    return max(range(len(kinds)), key=rank)


def _named(
    kinds: tuple[Kind, ...], stances: Stances, body: tuple[int, ...], datum: int, like: Mapping[int, int]
) -> dict[int, int]:
    """Instance by place: pieces alike stand where they stand in another body, as far as it has their places."""
    named: dict[int, int] = {body[0]: datum}
    named |= {place: like[place] for place in body if place in like}
    taken = set(named.values())
    for place in body:
        if place not in named:
            free = (i for i in kinds[stances.kind(place)].instances if i not in taken)
            named[place] = next(free)
            taken.add(named[place])
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
