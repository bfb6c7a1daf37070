"""Rolled plates: rows in the end that the rolls leave flat."""

from collections.abc import Iterator

import numpy as np

from fabplan.drawing.metal import at_holes, by_row, named
from fabplan.drawing.say import finding
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding
from fabplan.model.job import PartSpec
from fabplan.model.layers import plain_name

FLAT = 5.0  # t: rolls leave 0.8 to 5 t of the end flat, by machine; the worst stands in (common practice)


def flat_ends(drawing: Drawing, thickness: float, spec: PartSpec) -> Iterator[Finding]:
    """Rows that are to be round and lie within the flat end of a rolled plate, one finding a row and end."""
    if drawing.outline is None or not len(drawing.holes):
        return
    least = FLAT * thickness
    edge = flattened(drawing.outline, SAGITTA)
    for limit, inward in rolled_ends(drawing, spec):
        from_end = drawing.holes.xy @ inward - float((edge @ inward).min())
        rolled = ~(drawing.holes.xy @ inward - limit < -FIGURE)
        for own in by_row(drawing, np.nonzero(rolled & ~(from_end >= least - FIGURE))[0]):
            worst = float(from_end[own].min())
            many = "lies" if len(own) == 1 else "lie"
            what = f"{named(drawing, own)} {many} {worst:.1f} mm from the end of the rolled plate: "
            what += f"up to {least:g} mm ({FLAT:g} t) may stay flat"
            mend = (
                "Ask the roller for his flat end; have the end bent before rolling, or rolled over length and trimmed."
            )
            where = at_holes(drawing, *own.tolist())
            yield finding("flat-end-row", what, mend, where, (worst, least, "mm"))


def rolled_ends(drawing: Drawing, spec: PartSpec) -> Iterator[tuple[float, FloatArray]]:
    """Both ends of each rolled zone: where it begins along the unit vector (2,) that points into it, mm."""
    for roll in spec.rolls:
        if roll.axis:
            into = np.array([0.0, 1.0]) if roll.axis == "x" else np.array([1.0, 0.0])
            yield -np.inf, into
            yield -np.inf, -into
            continue
        start, end = _line(drawing, roll.start), _line(drawing, roll.end)
        if start is None or end is None:
            continue
        for line, other in ((start, end), (end, start)):
            way = line.points[-1] - line.points[0]
            across = np.array([-way[1], way[0]]) / np.hypot(*way)
            across = across * np.sign((other.points[0] - line.points[0]) @ across)
            yield float(line.points[0] @ across), across


def _line(drawing: Drawing, name: str) -> Line | None:
    own = (line for line in drawing.rolls if plain_name(line.name) == plain_name(name))
    return next((line for line in own if np.hypot(*(line.points[-1] - line.points[0])) > 0.0), None)
