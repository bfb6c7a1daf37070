"""Lines of forming as a drawing shows them, and the neutral line of what is bent there."""

from collections.abc import Sequence

import numpy as np

from fabplan.errors import FormingError
from fabplan.geom.bend import neutral_factor
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Line
from fabplan.model.layers import plain_name

STRAIGHT = 0.1  # mm by which a drawn line of forming may leave the straight


def factor(k: float | None, radius: float, thickness: float) -> float:
    """The factor of the neutral line: as stated, else by DIN 6935.

    Raises:
        FormingError: none is stated, and the radius is too small for DIN 6935.
    """
    if k is not None:
        return k
    try:
        return neutral_factor(radius, thickness)
    except ValueError as error:
        raise FormingError(str(error), "State `k`, or a larger inside radius.") from None


def drawn(name: str, lines: Sequence[Line], role: str) -> list[Line]:
    """The lines of the drawing that bear a name, in any case; a blank, "_" and "-" are one.

    Raises:
        FormingError: there is none.
    """
    own = [line for line in lines if plain_name(line.name) == plain_name(name)]
    if not own:
        known = ", ".join(dict.fromkeys(line.name for line in lines)) or "none"
        raise FormingError(f'no line is drawn on a layer "{name}"', f"Lines with the role {role}: {known}.")
    return own


def ends(line: Line) -> tuple[FloatArray, FloatArray]:
    """Both ends (2,) of a drawn line.

    Raises:
        FormingError: it is not straight.
    """
    start, end = line.points[0], line.points[-1]
    way = end - start
    size = float(np.hypot(*way))
    off = line.points - start
    beside = np.abs(off[:, 0] * way[1] - off[:, 1] * way[0]) / max(size, 1e-9)
    if not (size > 0.0 and beside.max() <= STRAIGHT):
        raise FormingError(f"the line on {line.name} is not straight", "Draw it straight, from edge to edge.")
    return start, end
