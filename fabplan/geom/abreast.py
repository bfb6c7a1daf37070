"""Whether two plates lie edge to edge in one plane, as under a butt strap."""

import numpy as np
import shapely

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import LEVEL, Solid
from fabplan.geom.tolerance import TOUCH
from fabplan.model.pose import Pose

GAP = 3.0
"""Greatest gap between edges that butt, mm (common practice)."""

SHARE = 0.5
"""Share of the shorter plate's longest side along which they lie edge to edge at least."""


def abreast(one: Solid, pose_one: Pose, two: Solid, pose_two: Pose) -> bool:
    """True where two panels share the plane of a face and lie edge to edge, neither on the other."""
    seen = compose(inverse(compose(pose_one, one.frame)), compose(pose_two, two.frame))
    if abs(float(seen.rotation[2, 2])) < LEVEL:
        return False
    low, high = sorted((float(seen.origin[2]), float(seen.origin[2] - seen.rotation[2, 2] * two.thickness)))
    if min(abs(high), abs(low + one.thickness)) > TOUCH:
        return False
    ring = np.asarray(two.face.exterior.coords)
    moved = shapely.Polygon(to_outer(seen, np.column_stack([ring, np.zeros(len(ring))]))[:, :2])
    if moved.distance(one.face) > GAP:
        return False
    common = moved.exterior.intersection(one.face.buffer(GAP)).length
    sides = [max(np.hypot(*np.diff(np.asarray(face.exterior.coords), axis=0).T)) for face in (one.face, moved)]
    return bool(common >= SHARE * min(sides) and moved.intersection(one.face).area <= GAP * common)
