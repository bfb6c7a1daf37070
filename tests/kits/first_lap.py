"""Two plates and a lap seam, to be read in a minute."""

from datetime import date

import numpy as np

from tests.kits.build import Frame, Keys, Kit, Plate, Seam, drilled, line, rectangle

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)


def first_lap() -> Kit:
    """Plate P2 lies on plate P1 with a lap of 40 mm; one odd space, so that P2 cannot be turned end for end."""
    lower = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(400.0, 200.0), 6.0)
    upper = Plate("P2", Frame((0.0, 160.0, 6.0), X, Y), rectangle(400.0, 200.0), 6.0, keys={"marked": "inside"})
    row = np.vstack([line((20.0, 180.0, 0.0), (340.0, 180.0, 0.0), 40.0), [(370.0, 180.0, 0.0)]])
    seam = Seam("A", ("P2", "P1"), row, (0.0, 0.0, -1.0), {"tight": True})
    job: Keys = {
        "title": "First lap",
        "number": "L1",
        "revision": "A",
        "date": date(2026, 11, 2),
        "datum": "P1",
        "exposed": True,
    }
    return drilled(Kit([lower, upper], [seam], job))
