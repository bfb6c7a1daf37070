"""Closed lines that are circles, however they were drawn."""

import math
from dataclasses import dataclass, replace

import numpy as np

from fabplan.drawing.pieces import Piece
from fabplan.geom.near import median
from fabplan.geom.profile import SMOOTH
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.profile import Profile

POLYGON = 12
"""Least corners of a polygon that stands for a circle: one of fewer may be meant."""

EVEN = 8
"""Least corners of an even polygon that is told as a round, and on a layer of holes stands for one."""

ROUNDNESS, ROUNDING, ROUNDING_SHARE = 0.002, 0.0075, 0.005
"""How far corners may lie off their circle: a share of its radius, or what rounding to 0.01 gives up to another share.
36 corners rounded to 0.001 mm lie on a circle of 5 mm within 0.0001 of its radius."""

FULL = 0.89  # least share of the circle's area that its polygon holds: one of 12 sides holds 0.95, of 8 sides 0.90


@dataclass(frozen=True, slots=True)
class Circle:
    """Centre and diameter, in the unit of what it was made from.

    Of a polygon the circle goes through its corners: `corners` counts them, `error` is the greatest distance of one
    from the circle, `sag` how far its sides run inside. Of a spline or ellipse it goes through points on the curve;
    then there are no corners and no sag.
    """

    x: float
    y: float
    diameter: float
    corners: int = 0
    error: float = 0.0
    sag: float = 0.0


def piece_circle(piece: Piece, least: int = POLYGON) -> Circle | None:
    """The circle that a piece is, or None."""
    circle = circle_through(piece.points, piece.bulges, least) if piece.closed else None
    return on_curve(circle) if circle is not None and piece.error else circle


def profile_circle(profile: Profile, least: int = POLYGON) -> Circle | None:
    """The circle that a profile is, or None."""
    circle = circle_through(profile.vertices, profile.bulges, least)
    return on_curve(circle) if circle is not None and profile.chord_error else circle


def circle_through(points: FloatArray, bulges: FloatArray, least: int = POLYGON) -> Circle | None:
    """The circle that a closed line is: of arcs about one centre, or a polygon of many even sides; else None.

    Args:
        points: (n, 2) corners.
        bulges: (n,) of the spans that leave them.
        least: corners of a polygon that stands for a circle.

    >>> circle_through(np.array([[3.0, 1.0], [1.0, 1.0]]), np.array([1.0, 1.0]))
    Circle(x=2.0, y=1.0, diameter=2.0, corners=0, error=0.0, sag=0.0)
    """
    if len(points) < 2:
        return None
    if len(points) == 2 and bulges[0] == bulges[1] and abs(bulges[0]) == 1.0:
        (x0, y0), (x1, y1) = points.tolist()
        return Circle((x0 + x1) / 2.0 + 0.0, (y0 + y1) / 2.0 + 0.0, math.hypot(x1 - x0, y1 - y0))
    return _of_arcs(points, bulges) if bulges.any() else _of_polygon(points, least)


def disc_of(profile: Profile) -> Circle | None:
    """The circle that a profile of two half arcs is, None for any other profile."""
    return circle_through(profile.vertices, profile.bulges) if len(profile.vertices) == 2 else None


def _of_arcs(points: FloatArray, bulges: FloatArray) -> Circle | None:
    if np.abs(bulges).min() <= 1e-6 or abs(abs(float(np.sum(4.0 * np.arctan(bulges)))) - 2.0 * np.pi) > 1e-6:
        return None
    ends = np.roll(points, -1, axis=0)
    across = np.column_stack([points[:, 1] - ends[:, 1], ends[:, 0] - points[:, 0]])
    centre = (points + ends) / 2.0 + across * ((1.0 - bulges**2) / (4.0 * bulges))[:, None]
    radius = np.linalg.norm(points - centre, axis=1)
    if np.ptp(radius) > 1e-4 * radius[0] or np.abs(centre - centre[0]).max() > 1e-4 * radius[0]:
        return None
    x, y = (centre[0] + 0.0).tolist()  # no negative zero
    return Circle(x, y, float(2.0 * radius[0]))


def _of_polygon(points: FloatArray, least: int) -> Circle | None:
    points = points[_turns(points)]
    if len(points) < least:
        return None
    circle = fitted(points)
    if circle is None:
        return None
    ahead = np.roll(points, -1, axis=0)
    side = np.linalg.norm(ahead - points, axis=1)
    radius = circle.diameter / 2.0
    base = points - points[0]
    held = abs(float(np.sum(base[:, 0] * np.roll(base[:, 1], -1) - np.roll(base[:, 0], -1) * base[:, 1]))) / 2.0
    even = side.max() <= min(radius, 2.0 * median(side))
    return circle if even and held >= FULL * np.pi * radius**2 and circle.error <= allowed(radius) else None


def _turns(points: FloatArray) -> BoolArray:
    """(n,) True where the line does not go straight on: a side drawn in two pieces is one side."""
    into, out = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    across = np.abs(into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0])
    turns: BoolArray = across >= SMOOTH * np.linalg.norm(into, axis=1) * np.linalg.norm(out, axis=1)
    return turns


def on_curve(circle: Circle) -> Circle:
    """The circle of a polygon whose corners are places on a curve, none of them drawn."""
    return replace(circle, corners=0, sag=0.0)


def allowed(radius: float) -> float:
    """How far corners may lie off a circle of this radius and still be meant for it."""
    return max(ROUNDNESS * radius, min(ROUNDING, ROUNDING_SHARE * radius))


def fitted(points: FloatArray) -> Circle | None:
    """The circle through corners (n, 2) in their order, by least squares; None where they lie on a line.

    The algebraic fit of Kasa (IEEE Transactions on Instrumentation and Measurement 25 (1976) 8), exact for corners
    that lie on a circle, then one step of Gauss and Newton on the true distances.

    >>> round(fitted(np.array([[5.0, 0.0], [0.0, 5.0], [-5.0, 0.0], [0.0, -5.0]])).diameter, 9)
    10.0
    """
    middle = points.mean(axis=0)
    own = points - middle
    size = float(np.abs(own).max())
    if not size > 0.0:
        return None
    own = own / size
    table = np.column_stack([2.0 * own, np.ones(len(own))])
    (x, y, rest), _, rank, _ = np.linalg.lstsq(table, np.sum(own * own, axis=1), rcond=None)
    square = float(rest + x * x + y * y)
    if rank < 3 or not 0.0 < square < 1e12:
        return None
    x, y, radius = _closer(own, float(x), float(y), square**0.5)
    off = np.abs(np.linalg.norm(own - [x, y], axis=1) - radius)
    side = np.linalg.norm(np.diff(own, axis=0), axis=1).max(initial=0.0) / 2.0
    sag = radius - max(radius**2 - side**2, 0.0) ** 0.5
    (u, v), scale = middle.tolist(), size
    return Circle(
        u + x * scale,
        v + y * scale,
        2.0 * radius * scale,
        len(points),
        float(off.max()) * scale,
        float(sag) * scale,
    )


def _closer(points: FloatArray, x: float, y: float, radius: float) -> tuple[float, float, float]:
    """Centre and radius after one step of Gauss and Newton on the true distances."""
    out = points - [x, y]
    away = np.linalg.norm(out, axis=1)
    if not away.min() > 0.0:
        return x, y, radius
    slope = np.column_stack([out / away[:, None], np.ones(len(points))])
    dx, dy, better = np.linalg.lstsq(slope, away, rcond=None)[0].tolist()
    return x + dx, y + dy, better
