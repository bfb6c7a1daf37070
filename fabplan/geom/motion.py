"""What a motion does to a thing of some shape: turns it over, end for end or in its plane, and carries it on."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.pose import to_outer
from fabplan.geom.turn import turn_between
from fabplan.model.arrays import FloatArray, floats
from fabplan.model.pose import Pose

SLIM = 0.4
"""A thing is flat, or long, where one side of its box is no more than this share of the next."""

ROUND = 0.98
"""A thing is as broad as it is long where its sides differ by less: its length then goes by the axes around it."""

AWRY = 1.0
"""Directions, degrees, and turns that differ by less are the same."""


@dataclass(frozen=True, slots=True, eq=False)
class Motion:
    """A motion as the shape of what moves shows it, from where it lay before.

    A turn over is about the length of the thing, or what stands for it, and comes before the turn in its plane.

    Attributes:
        over: True where what is flat comes to lie on its other face.
        ends: True where what is long and not flat is turned end for end.
        turn: degrees, from 0 to 180; what is left of the turn.
        axis: (3,) of that turn, right-handed.
        about: "plane" where a flat thing turns in its plane, "length" where a long one turns about its length, or "".
        shift: (3,) of the middle of its box, mm.
    """

    over: bool
    ends: bool
    turn: float
    axis: FloatArray
    about: str
    shift: FloatArray

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        object.__setattr__(self, "axis", floats(self.axis, 3))
        object.__setattr__(self, "shift", floats(self.shift, 3))


def motion_of(points: FloatArray, move: Pose) -> Motion:
    """What a motion does to a thing.

    Args:
        points: (n, 3) its corners before the motion, mm.
        move: in the frame of the points.
    """
    sides, middle, lengths = _box(points)
    shift = to_outer(move, middle) - middle
    axis, turn = turn_between(Pose(), move)
    flat, long = lengths[2] <= SLIM * lengths[1], lengths[1] <= SLIM * lengths[0]
    half = abs(turn - 180.0) < AWRY
    if turn < AWRY:
        return Motion(False, False, 0.0, sides[2], "", shift)
    if flat and half and _square(axis, sides[2]):
        lean = np.degrees(np.arctan2(axis @ np.cross(sides[2], sides[0]), axis @ sides[0]))
        rest = (2.0 * lean) % 360.0  # a turn over about a line is one about the length, and twice the lean in the plane
        sign = 1.0 if rest <= 180.0 else -1.0
        rest = min(rest, 360.0 - rest)
        return Motion(True, False, rest if rest >= AWRY else 0.0, sign * sides[2], "plane", shift)
    if flat and _along(axis, sides[2]):
        return Motion(False, False, turn, axis, "plane", shift)
    if long and _along(axis, sides[0]):
        return Motion(False, False, turn, axis, "length", shift)
    if long and half and _square(axis, sides[0]):
        return Motion(False, True, 0.0, axis, "", shift)
    return Motion(False, False, turn, axis, "", shift)


def middle_of(points: FloatArray) -> FloatArray:
    """The middle (3,) of the box round points (n, 3) along their own directions."""
    return _box(points)[1]


def _box(points: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Directions (3, 3), the longest side first, middle (3,) and sides (3,) of the box round points."""
    about = points.mean(axis=0)
    _, columns = np.linalg.eigh((points - about).T @ (points - about))
    rows = columns.T
    own = (points - about) @ rows.T
    low, high = own.min(axis=0), own.max(axis=0)
    order = np.argsort(low - high, kind="stable")
    sides: FloatArray = rows[order]
    lengths: FloatArray = (high - low)[order]
    if lengths[1] >= ROUND * lengths[0]:
        sides = _by_axes(sides[2])
    middle: FloatArray = about + (low + high) / 2.0 @ rows
    return sides, middle, lengths


def _by_axes(normal: FloatArray) -> FloatArray:
    """Directions (3, 3) with a given third, the first along the axis of the frame that lies most square to it."""
    axis = np.eye(3)[int(np.argmin(np.abs(normal).round(3)))]
    first = axis - (axis @ normal) * normal
    first /= np.linalg.norm(first)
    sides: FloatArray = np.array([first, np.cross(normal, first), normal])
    return sides


def _along(one: FloatArray, other: FloatArray) -> bool:
    return bool(abs(one @ other) >= np.cos(np.radians(AWRY)))


def _square(one: FloatArray, other: FloatArray) -> bool:
    return bool(abs(one @ other) <= np.sin(np.radians(AWRY)))
