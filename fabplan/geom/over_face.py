"""Metal that stands on a face where the head of a rivet must be made."""

import numpy as np
import shapely

from fabplan.geom.pose import compose, inverse, to_own
from fabplan.geom.prism import Solid, section
from fabplan.geom.tolerance import CLASH, FIGURE
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.pose import Pose


def face_frame(point: FloatArray, outward: FloatArray) -> Pose:
    """A frame with its origin at a point (3,) of a face and z along its outward unit normal (3,)."""
    first = np.cross(np.eye(3)[int(np.abs(outward).argmin())], outward)
    first /= np.linalg.norm(first)
    return Pose(np.column_stack([first, np.cross(outward, first), outward]), point)


def fouled(frame: Pose, points: FloatArray, head: tuple[float, float], metal: Solid) -> BoolArray:
    """(n,) True for heads that metal standing over their face runs into; touching it is clear.

    A head is a spherical cap on the face; it is looked at just over the face and at half its height.

    Args:
        frame: z outward from the face, origin on it.
        points: (n, 3) middles of the heads on the face, in the frame around.
        head: diameter on the face and height, mm.
        metal: the panel, in the frame around.
    """
    diameter, height = head
    seen = compose(inverse(frame), metal.frame)
    middles = shapely.points(to_own(frame, points)[:, :2])
    runs_into = np.zeros(len(points), dtype=np.bool_)
    for level in (min(CLASH, height / 2.0), height / 2.0):
        cut = section(metal, seen, level)
        if not cut.is_empty:
            away = np.asarray(shapely.distance(cut, middles), dtype=np.float64).reshape(len(points))
            runs_into |= ~(away >= cap_radius(diameter, height, level) - FIGURE)
    return runs_into


def cap_radius(diameter: float, height: float, level: float) -> float:
    """Radius, mm, of a spherical cap at a level over its flat; its flat counts as wide just over it.

    >>> cap_radius(20.0, 10.0, 6.0)
    8.0
    """
    ball = ((diameter / 2.0) ** 2 + height**2) / (2.0 * height)
    if level <= CLASH:
        return diameter / 2.0
    return float(np.sqrt(max(ball**2 - (ball - height + level) ** 2, 0.0)))
