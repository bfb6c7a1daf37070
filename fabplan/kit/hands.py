"""Both hands of a piece: which kinds of a kit are the mirror images of others, or of themselves."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.mirror import ACROSS, mirrored
from fabplan.geom.pose import to_outer
from fabplan.kit.alike import Kind, onto
from fabplan.kit.shape import Shape
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

SKEW = 1e-3
"""Sine of how far two pieces may be out of square to a plane, as images of one another."""

OFF = 2.0
"""Mm by which they may be out along it: twice what holes that meet may be."""


@dataclass(frozen=True, slots=True, eq=False)
class Hand:
    """The other hand of a kind.

    Attributes:
        kind: its number.
        moved: the pose that carries the mirror image of the shape onto that kind's.
    """

    kind: int
    moved: Pose


def hands_of(kinds: Sequence[Kind]) -> tuple[Hand | None, ...]:
    """The other hand of each kind; itself where it is its own mirror image, None where the kit has none."""
    return tuple(_hand(image_of(kind.shape), kinds) for kind in kinds)


def _hand(image: Shape, kinds: Sequence[Kind]) -> Hand | None:
    found = (Hand(k, pose) for k, kind in enumerate(kinds) for pose in onto(image, kind.shape, 1))
    return next(found, None)


def image_of(shape: Shape) -> Shape:
    """A shape seen in a mirror: its metal and its holes; its runs and blocks stay, and must not be used."""
    return replace(
        shape,
        solids=tuple(mirrored(one) for one in shape.solids),
        boxes=shape.boxes @ ACROSS,
        faces=shape.faces @ ACROSS,
        out=shape.out @ ACROSS,
    )


@dataclass(frozen=True, slots=True, eq=False)
class Plane:
    """A plane in which a body is looked at: `normal` (3,) of length 1, `at` mm along it."""

    normal: FloatArray
    at: float

    def image(self, place: Pose, hand: Hand) -> Pose:
        """Where the other hand of a piece stands as the mirror image of the piece in a place."""
        turn = np.eye(3) - 2.0 * np.outer(self.normal, self.normal)
        rotation = turn @ place.rotation @ ACROSS @ hand.moved.rotation.T
        return Pose(rotation, turn @ place.origin + 2.0 * self.at * self.normal - rotation @ hand.moved.origin)


def between(one: Pose, two: Pose, hand: Hand) -> Plane | None:
    """The plane in which a piece and its other hand are images of one another; None where they are in none."""
    seen = Pose(two.rotation @ hand.moved.rotation, to_outer(two, hand.moved.origin))
    turn = seen.rotation @ ACROSS @ one.rotation.T
    if abs(float(np.trace(turn)) - 1.0) > SKEW or np.abs(turn - turn.T).max() > SKEW:
        return None
    normal = np.linalg.eigh(turn)[1][:, 0]
    shift = seen.origin - turn @ one.origin
    at = float(shift @ normal) / 2.0
    return Plane(normal, at) if np.abs(shift - 2.0 * at * normal).max() <= OFF else None
