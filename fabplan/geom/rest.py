"""How a body stands on a flat table: the faces of its hull that bear it, and how far it is from tipping."""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.spatial import ConvexHull

from fabplan.model.arrays import FloatArray

SAME = 1e-4  # by which two normals may differ on one face
FLAT = 0.5  # mm off the table that still bears, packed up


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """One face to stand on.

    Attributes:
        down: (3,) unit vector towards the table.
        height: of the centre of mass over the table, mm.
        inside: how far the centre of mass lies within the edge of what bears, seen from above, mm.
    """

    down: FloatArray
    height: float
    inside: float

    @property
    def tips_at(self) -> float:
        """Degrees by which the table may lean the worst way before the body goes over."""
        return float(np.degrees(np.arctan2(self.inside, self.height)))


def rests(points: FloatArray, centre: FloatArray) -> tuple[Rest, ...]:
    """The faces on which a body stands by itself, those that bear it best first.

    Args:
        points: (n, 3) corners of the body, not all in one plane, mm.
        centre: (3,) its centre of mass, mm.
    """
    planes = ConvexHull(points).equations[:, :3]
    downs: list[FloatArray] = []
    for number in np.unique(np.round(planes / SAME).astype(np.int64), axis=0, return_index=True)[1].tolist():
        if not downs or not (np.array(downs) @ planes[number] > 1.0 - SAME**2).any():
            downs.append(planes[number])
    found = [one for one in (rest_on(points, centre, down) for down in downs) if one is not None]
    return tuple(sorted(found, key=lambda one: -one.tips_at))


def rest_on(points: FloatArray, centre: FloatArray, down: FloatArray) -> Rest | None:
    """How a body stands with the direction `down` (3,) towards the table; None where it goes over."""
    along = points @ down
    level, across = float(along.max()), _across(down)
    edge = shapely.MultiPoint(points[along >= level - FLAT] @ across.T).convex_hull
    middle = shapely.Point(*(across @ centre))
    if not isinstance(edge, shapely.Polygon) or not edge.contains(middle):
        return None
    return Rest(down, level - float(down @ centre), float(edge.exterior.distance(middle)))


def _across(down: FloatArray) -> FloatArray:
    """Two directions (2, 3) in the table."""
    first = np.cross(np.eye(3)[int(np.abs(down).argmin())], down)
    first /= np.linalg.norm(first)
    return np.array([first, np.cross(down, first)])
