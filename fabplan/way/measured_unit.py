"""In which unit a piece was measured, where all its sizes are as many times too small as it is larger than mm."""

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.measured import Measured

UNITS = {"cm": 10.0, "inches": 25.4, "m": 1000.0}
SAME = 0.03  # share by which sizes that were rounded in that unit may differ from those drawn (assumed)


def other_unit(measured: Measured, drawn: FloatArray) -> tuple[str, float, float] | None:
    """The unit, how many mm it has, and how many times too small the sizes are; None where they are in mm.

    Args:
        measured: the holes with their places, or the tape between them.
        drawn: (n, 2) where the holes are drawn, mm.
    """
    if measured.tape:
        at = {hole.number: xy for hole, xy in zip(measured.holes, drawn, strict=True)}
        stated = sum(one.length for one in measured.tape)
        wanted = sum(float(np.linalg.norm(at[one.end] - at[one.start])) for one in measured.tape)
    else:
        own = np.array([(hole.x, hole.y) for hole in measured.holes])
        stated, wanted = (float(np.linalg.norm(xy - xy.mean(axis=0))) for xy in (own, drawn))
    if stated <= FIGURE:
        return None
    times = wanted / stated
    return next(((name, size, times) for name, size in UNITS.items() if abs(times / size - 1.0) <= SAME), None)
