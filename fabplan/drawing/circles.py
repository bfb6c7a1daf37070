"""Closed lines that are circles, however they were drawn."""

import math
from dataclasses import dataclass

import numpy as np

from fabplan.drawing.pieces import Piece
from fabplan.geom.near import median
from fabplan.model.arrays import FloatArray

POLYGON, ROUNDNESS = 12, 0.002
"""Least corners of a polygon that stands for a circle, and the share of its radius within which they must lie on one:
36 corners rounded to 0.001 mm lie on a circle of 5 mm within 0.0001 of it."""


@dataclass(frozen=True, slots=True)
class Circle:
    """Centre and diameter, in the unit of what it was made from."""

    x: float
    y: float
    diameter: float


def piece_circle(piece: Piece) -> Circle | None:
    """The circle that a piece is, or None."""
    return circle_through(piece.points, piece.bulges) if piece.closed else None


def circle_through(points: FloatArray, bulges: FloatArray) -> Circle | None:
    """The circle that a closed line is: of arcs about one centre, or a polygon of many even sides; else None.

    Args:
        points: (n, 2) corners.
        bulges: (n,) of the spans that leave them.

    >>> circle_through(np.array([[3.0, 1.0], [1.0, 1.0]]), np.array([1.0, 1.0]))
    Circle(x=2.0, y=1.0, diameter=2.0)
    """
    if len(points) < 2:
        return None
    if len(points) == 2 and bulges[0] == bulges[1] and abs(bulges[0]) == 1.0:
        (x0, y0), (x1, y1) = points.tolist()
        return Circle((x0 + x1) / 2.0 + 0.0, (y0 + y1) / 2.0 + 0.0, math.hypot(x1 - x0, y1 - y0))
    return _of_arcs(points, bulges) if bulges.any() else _of_polygon(points)


def _of_arcs(points: FloatArray, bulges: FloatArray) -> Circle | None:
    angle = 4.0 * np.arctan(bulges)
    if np.any(np.abs(bulges) <= 1e-6) or abs(abs(angle.sum()) - 2.0 * np.pi) > 1e-6:
        return None
    ends = np.roll(points, -1, axis=0)
    across = np.column_stack([points[:, 1] - ends[:, 1], ends[:, 0] - points[:, 0]])
    centre = (points + ends) / 2.0 + across * ((1.0 - bulges**2) / (4.0 * bulges))[:, None]
    radius = np.linalg.norm(points - centre, axis=1)
    if np.ptp(radius) > 1e-4 * radius[0] or np.abs(centre - centre[0]).max() > 1e-4 * radius[0]:
        return None
    x, y = (centre[0] + 0.0).tolist()  # no negative zero
    return Circle(x, y, float(2.0 * radius[0]))


def _of_polygon(points: FloatArray) -> Circle | None:
    if len(points) < POLYGON:
        return None
    centre = points.mean(axis=0)
    radius = np.linalg.norm(points - centre, axis=1)
    side = np.linalg.norm(np.roll(points, -1, axis=0) - points, axis=1)
    if np.ptp(radius) > ROUNDNESS * radius.mean() or side.max() > min(float(radius.mean()), 2.0 * median(side)):
        return None
    return Circle(float(centre[0]), float(centre[1]), float(2.0 * radius.mean()))
