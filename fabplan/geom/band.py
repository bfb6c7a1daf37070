"""How far a prism that lies on another reaches into a band along it."""

import numpy as np
import shapely

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import Solid
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

FAR = 1e5  # mm: past any bar
LEAST = 1.0  # mm2 of a band that a prism covers


def into_band(own: Solid, other: Solid, near: float, far: float) -> float:
    """How far `other` reaches into the band of `own` between two places along its y, from `near`, mm; 0 where not.

    Both lie flat on one another; the band ends with the face of `own`, or as far beyond as it is wide.
    """
    seen = compose(inverse(own.frame), other.frame)
    rings = [np.asarray(ring.coords) for ring in (other.face.exterior, *other.face.interiors)]
    outer, *inner = [_laid(seen, ring) for ring in rings]
    band = shapely.box(-FAR, min(near, far), FAR, max(near, far)).intersection(own.face.buffer(abs(far - near)))
    common = shapely.Polygon(outer, inner).intersection(band)
    if not common.area > LEAST:
        return 0.0
    return float(np.abs(shapely.get_coordinates(common)[:, 1] - near).max())


def _laid(seen: Pose, ring: FloatArray) -> FloatArray:
    """A ring (n, 2) of a prism's face in the frame around."""
    laid: FloatArray = to_outer(seen, np.column_stack([ring, np.zeros(len(ring))]))[:, :2]
    return laid
