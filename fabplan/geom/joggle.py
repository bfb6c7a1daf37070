"""A joggle: the edge of a plate set by two opposite bends, so that it lies over its mate and the faces are flush."""

from dataclasses import dataclass
from math import acos, atan2, cos, hypot, sin, sqrt

import numpy as np
import shapely

from fabplan.geom.bend import Bend
from fabplan.geom.prism import polygon
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile

SLOPE = 0.5  # mm of straight slope that is left between the bends at least


@dataclass(frozen=True, slots=True)
class Joggle:
    """A joggle in section. Lengths mm.

    Attributes:
        bend: the first of its bends; the second turns as far the other way.
        slope: straight length between the bends.
        run: from where the first bend begins to where the second ends, along the plate.
    """

    bend: Bend
    slope: float
    run: float

    @property
    def width(self) -> float:
        """Length on the blank, mm."""
        return 2.0 * self.bend.width + self.slope

    @property
    def shortening(self) -> float:
        """How much shorter the plate becomes, mm."""
        return self.width - self.run


def joggle(depth: float, run: float, bend: Bend) -> Joggle:
    """The joggle that sets a plate by `depth` within `run`.

    Along one face the first bend runs on its inside radius r, the second on r + t; with R = 2 r + t the angle a and the
    slope s follow from R (1 - cos a) + s sin a = depth and R sin a + s cos a = run (geometry).

    Args:
        depth: mm, over 0.
        run: mm.
        bend: inside radius, thickness and factor of both bends; its angle is not read.

    Raises:
        ValueError: the run is too short for the radius.

    >>> made = joggle(6.0, 30.0, Bend(0.0, 12.0, 6.0, 0.8))
    >>> round(made.bend.angle * 57.29578, 2), round(made.slope, 2), round(made.shortening, 2)
    (12.68, 24.0, 0.37)
    """
    both = 2.0 * bend.radius + bend.thickness
    least = sqrt(max(2.0 * both * depth - depth**2, 0.0) + SLOPE**2)
    if not run >= least:
        raise ValueError(f"a set of {depth:g} mm with inside radii of {bend.radius:g} mm wants a run of {least:.1f} mm")
    far = hypot(run, both - depth)
    angle = atan2(run, both - depth) - acos(min(both / far, 1.0))
    slope = depth * sin(angle) + run * cos(angle) - both * sin(angle)
    return Joggle(Bend(angle, bend.radius, bend.thickness, bend.factor), slope, run)


def set_side(outline: Profile, start: FloatArray, end: FloatArray, still: FloatArray | None) -> float:
    """The side of a line across a blank that is set: +1 for its left, -1 for its right, 0 where nothing decides it.

    It is the side without the still point, else that with less metal.
    """
    face = polygon(outline)
    way = (end - start) / np.hypot(*(end - start))
    left = np.array([-way[1], way[0]])
    if still is not None:
        return -float(np.sign((still - start) @ left))
    far = 2.0 * float(np.hypot(*np.ptp(np.asarray(face.exterior.coords), axis=0))) + float(np.hypot(*start - end))
    corners = [start - far * way, end + far * way]
    half = shapely.Polygon([*corners, corners[1] + far * left, corners[0] + far * left])
    on_left = face.intersection(half).area
    rest = face.area - on_left
    if abs(on_left - rest) <= 1e-6 * face.area:
        return 0.0
    return 1.0 if on_left < rest else -1.0
