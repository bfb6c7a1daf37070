"""What the pieces of a body do to one another: which hold each other, which are in each other's way, holes that meet.

As the search sees it (`fabplan.kit.contact`): what moves along with a piece is the same here and there.
"""

from collections.abc import Iterator, Mapping
from itertools import combinations

import numpy as np

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.kit.contact import Contact, contact
from fabplan.kit.hang import Pairs
from fabplan.kit.shape import Shape, shape_of
from fabplan.kit.stances import BESIDE
from fabplan.model.part import Part
from fabplan.model.pose import Pose

ALIKE = 2
"""Decimals of a mm, and two more of a cosine, to which two pieces lie alike: what they do is worked out once."""

Body = Mapping[int, Pose]
"""Poses by instance."""


class Fit:
    """Some pieces, wherever they stand."""

    def __init__(self, parts: tuple[Part, ...]) -> None:
        """Take the part of each instance."""
        shapes = {id(part): shape_of(part) for part in {id(part): part for part in parts}.values()}
        self._shapes: tuple[Shape, ...] = tuple(shapes[id(part)] for part in parts)
        self._known: dict[tuple[int, int, bytes], Contact] = {}

    def held(self, body: Body) -> Pairs:
        """Pieces that lie on one another by holes, both ways round."""
        pairs = [(one, two) for one, two, found in self._pairs(body) if found.sound and len(found.one)]
        return [pair for one, two in pairs for pair in ((one, two), (two, one))]

    def foul(self, body: Body) -> tuple[int, int] | None:
        """The first two pieces of which one runs into the other, or has a hole on its bare metal."""
        return next(((one, two) for one, two, found in self._pairs(body) if not found.sound), None)

    def holes_met(self, body: Body) -> int:
        """How many holes have a mate."""
        met: set[tuple[int, int]] = set()
        for one, two, found in self._pairs(body):
            met |= {(one, hole) for hole in found.one.tolist()} | {(two, hole) for hole in found.two.tolist()}
        return len(met)

    def _pairs(self, body: Body) -> Iterator[tuple[int, int, Contact]]:
        """Pieces near one another, and what they do."""
        ends = {
            i: (points.min(axis=0) - BESIDE / 2.0, points.max(axis=0) + BESIDE / 2.0)
            for i, pose in body.items()
            if len(points := to_outer(pose, self._shapes[i].boxes.reshape(-1, 3)))
        }
        for one, two in combinations(sorted(ends), 2):
            (low, high), (other_low, other_high) = ends[one], ends[two]
            if np.all(low <= other_high) and np.all(other_low <= high):
                yield one, two, self._contact(one, two, compose(inverse(body[one]), body[two]))

    def _contact(self, one: int, two: int, lie: Pose) -> Contact:
        shapes = self._shapes[one], self._shapes[two]
        told = np.concatenate([lie.rotation.ravel().round(ALIKE + 2), lie.origin.round(ALIKE)]) + 0.0  # no minus zero
        key = id(shapes[0]), id(shapes[1]), told.tobytes()
        if key not in self._known:
            self._known[key] = contact(*shapes, lie)
        return self._known[key]
