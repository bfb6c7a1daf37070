"""How far the edge of a panel lies from a point of it, square to a line: what a rule and a square measure."""

import numpy as np

from fabplan.geom.crossing import meeting
from fabplan.geom.profile import bounds, flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile


def square_off(outline: Profile, point: FloatArray, along: FloatArray) -> float:
    """The lesser distance, mm, from a point (2,) square to a direction (2,) to the edge; infinite where none is met.

    >>> from fabplan.geom.profile import rectangle
    >>> square_off(rectangle(0.0, 0.0, 100.0, 60.0), np.array([20.0, 45.0]), np.array([1.0, 0.0]))
    15.0
    """
    edge, reach = flattened(outline, SAGITTA), float(np.linalg.norm(np.ptp(bounds(outline).reshape(2, 2), axis=0)))
    off = np.array([-along[1], along[0]]) / float(np.hypot(*along)) * reach
    least = np.inf
    for far in (point + off, point - off):
        start, end = np.tile(point, (len(edge), 1)), np.tile(far, (len(edge), 1))
        meets, place = meeting(start, end, edge, np.roll(edge, -1, axis=0))
        least = min(least, float(np.linalg.norm(place[meets] - point, axis=1).min(initial=np.inf)))
    return least
