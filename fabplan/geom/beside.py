"""How far the metal of a blank reaches on either side of a line drawn across it."""

from collections.abc import Sequence

import numpy as np
import shapely

from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile

STATIONS = 201
OFF = 1e-6  # mm beside the line, where a ray begins


def reach_beside(
    outline: Profile, start: FloatArray, end: FloatArray, others: Sequence[FloatArray] = ()
) -> tuple[FloatArray, FloatArray]:
    """Square to a line, from it to the outline or to the next of some other lines.

    Args:
        outline: of the blank, mm.
        start: (2,) where the line begins, mm.
        end: (2,) where it ends, mm.
        others: open lines (k, 2), mm, at which the reach ends.

    Returns:
        (n,) places along the line, mm from its start, where it lies in the metal; (2, n) the reach on its left and on
        its right, mm.
    """
    way = end - start
    size = float(np.hypot(*way))
    along = way / size
    left = np.array([-along[1], along[0]])
    ring = flattened(outline, SAGITTA)
    face = shapely.Polygon(ring)
    at = (np.arange(STATIONS) + 0.5) / STATIONS * size
    foot = start + at[:, None] * along
    held = shapely.contains_xy(face, foot[:, 0], foot[:, 1])
    at, foot = at[held], foot[held]
    stops = shapely.union_all([face.exterior, *(shapely.LineString(line) for line in others)])
    far = float(np.hypot(*np.ptp(ring, axis=0))) + size
    reach = np.zeros((2, len(at)))
    for side, normal in enumerate((left, -left)):
        rays = shapely.linestrings(np.stack([foot + OFF * normal, foot + far * normal], axis=1))
        reach[side] = shapely.distance(shapely.points(foot), shapely.intersection(rays, stops))
    return at, reach
