"""The ways in which a piece may lie on another by a row of holes that lies whole on holes of the other."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from fabplan.geom.pose import to_outer
from fabplan.kit.contact import Contact, Lies, contacts
from fabplan.kit.lies import all_lies
from fabplan.kit.shape import Shape
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.pose import Pose

LEAST = 2
"""Holes that meet at least: a single one holds no piece in place."""


@dataclass(frozen=True, slots=True, eq=False)
class Joins:
    """Ways of one piece to lie on another, none of them against metal or blind holes.

    Attributes:
        lies: poses of the second piece in the frame of the first.
        met: (p, n) True for holes of the first that meet.
        tried: how many ways were looked at.
    """

    lies: Lies
    met: BoolArray
    tried: int

    def some(self, index: IntArray) -> "Joins":
        """Some of them."""
        return Joins(self.lies.some(index), self.met[index], self.tried)


def nowhere(one: Shape) -> Joins:
    """No way to lie on a piece."""
    return Joins(Lies(np.zeros((0, 3, 3)), np.zeros((0, 3))), np.zeros((0, len(one)), dtype=np.bool_), 0)


def joins(one: Shape, two: Shape, unlike: Callable[[Lies], IntArray]) -> Joins:
    """All ways, each once.

    Args:
        one: the piece that stands.
        two: the piece that is laid on it.
        unlike: tells which of some poses of the second are places of their own.
    """
    lies = all_lies(one, two)
    lies = lies.some(unlike(lies))
    found = contacts(one, two, lies)
    sound = [k for k, own in enumerate(found) if own.sound and len(own.one) >= LEAST]
    met = np.zeros((len(sound), len(one)), dtype=np.bool_)
    for k, number in enumerate(sound):
        met[k, found[number].one] = True
    origin = [lies.origin[k] - _off(one, two, lies.pose(k), found[k]) for k in sound]
    settled = Lies(lies.rotation[sound], np.array(origin).reshape(-1, 3))
    return Joins(settled, met, len(lies))


def _off(one: Shape, two: Shape, lie: Pose, found: Contact) -> FloatArray:
    """How far the holes that meet are out across their axes, in the mean: near-equal rows lie on one another so too."""
    apart = to_outer(lie, two.faces[found.two, 0]) - one.faces[found.one, 0]
    out = one.out[found.one]
    return np.asarray((apart - np.einsum("ni,ni->n", apart, out)[:, None] * out).mean(axis=0))
