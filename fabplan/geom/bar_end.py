"""Ends of bars: the outline of a leg less what is sawn or notched off."""

from collections.abc import Sequence

import numpy as np
import shapely

from fabplan.errors import FormingError
from fabplan.geom.prism import polygon, profiles
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile

LEAST = 1e-6  # mm2, under which a piece is rounding


def less(outline: Profile, cuts: Sequence[FloatArray]) -> Profile:
    """An outline less some polygons (n, 2), mm.

    Raises:
        FormingError: nothing is left, or more than one piece.
    """
    face = polygon(outline).difference(shapely.union_all([shapely.Polygon(corners) for corners in cuts]))
    left = [one for one in shapely.get_parts(face) if one.area > LEAST]
    if len(left) != 1:
        what = "the cuts of its ends leave nothing of a leg" if not left else "the cuts of its ends part a leg"
        raise FormingError(what, "Look at angles, lengths and depths of `ends`.")
    whole, inner = profiles(shapely.simplify(left[0], 0.0))
    if inner:
        raise FormingError("a cut of an end leaves metal all round", "A cope reaches the end and the edge of its leg.")
    return Profile(np.array(whole.vertices), whole.bulges)
