"""One bend of a plate in section: how far it is developed, where its layers go, and back.

The section has u along the blank, 0 where the bend begins, and z square to it: the marked face 0, metal down to -t. A
positive angle closes towards the marked face. The neutral line keeps its length.
"""

from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import FloatArray

SHARP = 0.2  # inside radius over thickness under which the factor of DIN 6935 has no meaning (it turns negative)
ROUND = 5.0  # inside radius over thickness from which the neutral line lies in the middle


def neutral_factor(radius: float, thickness: float) -> float:
    """Factor k of the neutral line, which lies k t / 2 from the inside of the bend.

    Source: DIN 6935: 0.65 + 0.5 log10(r / t) up to r = 5 t, then 1.

    Raises:
        ValueError: the radius is under a fifth of the thickness.

    >>> round(neutral_factor(6.0, 4.0), 4), neutral_factor(60.0, 10.0)
    (0.738, 1.0)
    """
    ratio = radius / thickness
    if not ratio >= SHARP:
        raise ValueError(f"an inside radius of {radius:g} mm in {thickness:g} mm plate has no neutral line by DIN 6935")
    return 1.0 if ratio > ROUND else float(0.65 + 0.5 * np.log10(ratio))


def zone_of(deduction: float, angle: float, radius: float, thickness: float) -> float:
    """Length of the bent zone, mm, from what the outside legs are more than the blank.

    >>> from math import pi
    >>> round(zone_of(8.257, pi / 2, 6.0, 4.0) / (pi / 2) - 6.0, 3)
    1.476
    """
    return 2.0 * _corner(Bend(angle, radius, thickness)) - deduction


def factor_of(zone: float, angle: float, radius: float, thickness: float) -> float:
    """Factor k of the neutral line that gives a bent zone of a length, mm, on the blank."""
    return 2.0 * (zone / abs(angle) - radius) / thickness


@dataclass(frozen=True, slots=True)
class Bend:
    """A bend of a plate.

    Attributes:
        angle: by which the plate turns, radians, positive towards the marked face.
        radius: inside radius, mm.
        thickness: mm.
        factor: k of the neutral line, k t / 2 from the inside.
    """

    angle: float
    radius: float
    thickness: float
    factor: float = 1.0

    @property
    def neutral_radius(self) -> float:
        """Radius of the line that keeps its length, mm."""
        return self.radius + self.factor * self.thickness / 2.0

    @property
    def width(self) -> float:
        """Length of the bent zone on the blank, mm."""
        return abs(self.angle) * self.neutral_radius

    @property
    def centre(self) -> float:
        """Height of the bend's axis over the marked face, mm: over it, or under the other face."""
        return self.radius if self.angle > 0.0 else -self.thickness - self.radius


def rolled(width: float, radius: float, thickness: float) -> Bend:
    """The bend of a rolled zone: `width` of blank, mm, to an inside radius, positive towards the marked face.

    Rolled work is bent gently: the neutral line lies in the middle (factor 1).

    >>> round(rolled(2010.62, 325.0 - 10.0, 10.0).angle * 180.0 / 3.141592653589793, 2)
    360.0
    """
    around = abs(radius) + thickness / 2.0
    return Bend(float(np.copysign(width / around, radius)), abs(radius), thickness)


def allowance(bend: Bend) -> float:
    """What the sum of the outside legs of a fold misses of the blank's length, mm, negative when the blank is shorter.

    Source: DIN 6935, value v for opening angles of 180 degrees less the bend's, up to 165 degrees.

    >>> from math import pi
    >>> round(100 + 60 + allowance(Bend(pi / 2, 6.0, 4.0, neutral_factor(6.0, 4.0))), 2)
    151.74
    """
    return float(bend.width - 2.0 * _corner(bend))


def outside_leg(bend: Bend, reach: float) -> float:
    """A leg over its outside, mm, as `allowance` counts legs, from its reach on the blank off the middle of the bend.

    >>> from math import pi
    >>> bend = Bend(pi / 2, 6.0, 4.0, neutral_factor(6.0, 4.0))
    >>> round(outside_leg(bend, 151.743 / 2) * 2, 2)
    160.0
    """
    return reach - bend.width / 2.0 + _corner(bend)


def _corner(bend: Bend) -> float:
    """From where a bend begins to the corner that its outer faces make, over 90 degrees to their common tangent, mm."""
    turn = abs(bend.angle)
    share = 1.0 if turn >= np.pi / 2.0 else float(np.tan(turn / 2.0))
    return (bend.radius + bend.thickness) * share


def curl(bend: Bend, u: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Where points of the bent zone go.

    Args:
        bend: the bend.
        u: (n,) mm from where it begins, along the blank.
        z: (n,) mm over the marked face, negative in the metal.

    Returns:
        (n,) mm along the plate before the bend, (n,) mm square to it, (n,) radians by which the plate has turned there.
    """
    turn: FloatArray = bend.angle * u / bend.width
    arm = bend.centre - z
    return arm * np.sin(turn), bend.centre - arm * np.cos(turn), turn


def uncurl(bend: Bend, x: FloatArray, height: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Back from the bent zone to the blank: (n,) u and (n,) z of points given as `curl` returns them.

    The turn is taken from half a turn before the bend's middle to half a turn past it; outside the zone it goes on
    around the axis.
    """
    side = np.sign(bend.centre)
    arm = side * np.hypot(x, height - bend.centre)
    turn = np.arctan2(side * x, side * (bend.centre - height))
    middle = bend.angle / 2.0
    turn = middle + np.mod(turn - middle + np.pi, 2.0 * np.pi) - np.pi
    u: FloatArray = turn / bend.angle * bend.width
    return u, bend.centre - arm
