"""The circle that lies nearest to places of a plane."""

import numpy as np

from fabplan.model.arrays import FloatArray


def circle_through(xy: FloatArray) -> tuple[FloatArray, float]:
    """Centre (2,) and radius, mm, of the circle that lies nearest to places (n, 2), n > 2.

    By least squares of x^2 + y^2: Kasa, IEEE Transactions on Instrumentation and Measurement 25 (1976) 8. Exact for
    places on a circle.

    >>> centre, radius = circle_through(np.array([[8.0, 1.0], [3.0, 6.0], [-2.0, 1.0], [3.0, -4.0]]))
    >>> centre.round(9).tolist(), round(radius, 9)
    ([3.0, 1.0], 5.0)
    """
    middle = xy.mean(axis=0)
    own = xy - middle
    known = np.column_stack([2.0 * own, np.ones(len(own))])
    x, y, rest = np.linalg.lstsq(known, (own**2).sum(axis=1), rcond=None)[0].tolist()
    return middle + np.array([x, y]), float(np.sqrt(max(rest + x * x + y * y, 0.0)))
