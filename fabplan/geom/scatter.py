"""How holes of one piece stray: near ones alike, far ones more, as tables of deviations by length say.

A deviation table gives the limit of a length; two standard deviations are taken to lie within it. How the deviation of
the distance of two holes grows with that distance is a variogram; a nugget and a straight line stand for it, since the
squares of ISO 9013's deviations grow about so: within a fifth of its limits for lengths up to 4 m. Sources: Matheron,
Principles of geostatistics (Economic Geology 58, 1963, 1246); the share of two standard deviations is an assumption.
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial.distance import cdist

from fabplan.model.arrays import FloatArray
from fabplan.model.tolerances import LengthTolerance

LIMIT = 2.0
"""Standard deviations that a limit stands for."""


@dataclass(frozen=True, slots=True)
class Variogram:
    """Variance, mm2, of the difference of two holes' errors in one direction: `nugget`, and `growth` for each mm."""

    nugget: float
    growth: float

    def deviation(self, length: FloatArray) -> FloatArray:
        """The limit, mm, that it stands for at lengths, mm."""
        return LIMIT * np.sqrt(self.nugget + self.growth * length)


def variogram(row: LengthTolerance) -> Variogram:
    """The nugget and line nearest to a row of deviations, each range taken at its geometric middle.

    Every range counts alike, by the share that it is off; the first two, below any pitch of rivets, do not count.
    """
    low = np.array([1.0, *row.lengths[:-1]])
    known = (np.array(row.deviations) > 0.0) & (np.arange(len(low)) >= 2)
    length = np.sqrt(low * np.array(row.lengths))[known]
    variance = (np.array(row.deviations)[known] / LIMIT) ** 2
    share = np.column_stack([np.ones(len(length)), length]) / variance[:, None]
    nugget, growth = np.linalg.lstsq(share, np.ones(len(length)), rcond=None)[0]
    return Variogram(max(float(nugget), 0.0), max(float(growth), 0.0))


def spread_of(row: LengthTolerance, length: float) -> float:
    """Standard deviation, mm, of a single length; the last range goes on beyond its end."""
    known = [(end, value) for end, value in zip(row.lengths, row.deviations, strict=True) if value > 0.0]
    return next((value for end, value in known if length <= end), known[-1][1]) / LIMIT


def mixing(places: FloatArray, grown: Variogram) -> FloatArray:
    """(n, n) which mixes n independent standard errors into those of holes at `places` (n, d), mm, in one direction.

    The piece as a whole stays where it is: its holes stray about their middle.
    """
    if not len(places):
        return np.zeros((0, 0))
    off = places - places.mean(axis=0)
    apart = cdist(off, off)
    away = np.linalg.norm(off, axis=1)
    covariance = grown.growth / 2.0 * (away[:, None] + away[None] - apart)
    covariance[np.diag_indices(len(places))] += grown.nugget / 2.0 + 1e-12
    mixed: FloatArray = np.linalg.cholesky(covariance)
    return mixed
