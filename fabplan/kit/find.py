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
    """

    datum: int
    bodies: tuple[Mapping[int, Pose], ...]
    bare: int
    whole: bool
    kinds: tuple[tuple[int, ...], ...]


def assembled(parts: tuple[Part, ...], datum: int | None = None, work: int = WORK) -> Bodies:
    """Put pieces together by their holes.

    Args:
        parts: part of each instance; the same object for pieces of one mark and hand.
        datum: the instance that the others are set from; None takes the piece that stands once and has most rows.
        work: pairs of pieces looked at before it is given up.
    """
    kinds = kinds_of(parts)
    number = _datum(kinds) if datum is None else next(k for k, kind in enumerate(kinds) if datum in kind.instances)
    first = kinds[number].instances[0] if datum is None else datum
    stances = Stances(kinds)
    stances.datum = stances.number(number, Pose())
    found = Search(kinds, stances, work).run(stances.datum)
    bodies = tuple(_poses(kinds, stances, body, parts, first) for _, body in found.bodies)
    bare = found.bodies[0][0] if found.bodies else sum(len(kind.shape) * len(kind.instances) for kind in kinds)
    return Bodies(first, bodies, bare, found.whole, tuple(kind.instances for kind in kinds))


def _datum(kinds: tuple[Kind, ...]) -> int:
    """The plate that stands once and has most rows; else whatever has."""

    def rank(k: int) -> tuple[bool, bool, int, int]:
        kind = kinds[k]
        return len(kind.instances) == 1, kind.shape.part.section is None, len(kind.shape.runs), len(kind.shape)

    return max(range(len(kinds)), key=rank)


def _poses(
    kinds: tuple[Kind, ...], stances: Stances, body: tuple[int, ...], parts: tuple[Part, ...], datum: int
) -> dict[int, Pose]:
    """Poses by instance in the frame of the datum; pieces alike take the places of their kind in order."""
    taken: dict[int, int] = {}
    poses: dict[int, Pose] = {}
    for place in body:
        kind = kinds[stances.kind(place)]
        own = sorted(kind.instances, key=lambda i: (i != datum, i))
        instance = own[taken.get(stances.kind(place), 0)]
        taken[stances.kind(place)] = taken.get(stances.kind(place), 0) + 1
        poses[instance] = compose(stances.pose(place), kind.moved[id(parts[instance])])
    back = inverse(poses[datum])
    return {i: compose(back, poses[i]) for i in sorted(poses)}
