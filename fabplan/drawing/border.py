"""The border of a sheet that stands for the outline, where no layer tells the plate from it."""

from collections.abc import Iterator

import numpy as np

from fabplan.drawing.metal import depth
from fabplan.drawing.say import finding
from fabplan.geom.inside import inside
from fabplan.geom.profile import merged
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.profile import Profile

RATIO = 2.0**0.5  # of the sides of an A sheet (ISO 216)
SLACK = 0.01 * RATIO  # of sheets with a margin all round (ISO 5457, from memory)
SQUARE = 1e-6  # cosine of a right angle


def sheet_border(drawing: Drawing) -> Iterator[Finding]:
    """A rectangle without a hole in its metal that has the sides of a sheet, or texts or holes in what it holds."""
    sides = _sides(drawing.outline) if drawing.outline is not None else None
    held = not len(drawing.holes) or not bool((depth(drawing) > 0.0).any())
    if drawing.outline is None or sides is None or not drawing.cutouts or not held:
        return
    why = []
    long, short = sides.max(), sides.min()
    if abs(long / short - RATIO) <= SLACK + FIGURE:
        why.append("it has the sides of an A sheet")
    if _written(drawing):
        why.append("texts stand between it and what it holds")
    if len(drawing.holes):
        why.append("all holes lie in what it holds")
    if why:
        what = f"the outline of {long:.4g} x {short:.4g} mm may be the border of a sheet: {', '.join(why)}"
        mend = "Delete the border, or put it on a layer NOTE and the piece on CUT; accept it if the plate is a frame."
        x, y = drawing.outline.vertices[0].tolist()
        where = Where(drawing=drawing.name, handles=drawing.outline.handles, xy=(x, y))
        yield finding("sheet-border", what, mend, where, (float(long / short), RATIO, "to 1"))


def _sides(profile: Profile) -> FloatArray | None:
    """The two lengths (2,) of a rectangle's sides, mm, however it lies; None for any other profile."""
    plain = merged(profile)
    if len(plain.vertices) != 4 or plain.bulges.any():
        return None
    along = np.roll(plain.vertices, -1, axis=0) - plain.vertices
    length = np.linalg.norm(along, axis=1)
    square = np.abs(np.sum(along * np.roll(along, -1, axis=0), axis=1)) <= SQUARE * length * np.roll(length, -1)
    return length[:2] if bool(square.all()) else None


def _written(drawing: Drawing) -> bool:
    """True where a text stands in the metal of the outline."""
    if not drawing.labels or drawing.outline is None:
        return False
    at = np.array([label.xy for label in drawing.labels])
    held = np.any([inside(cutout, at) for cutout in drawing.cutouts], axis=0)
    return bool((inside(drawing.outline, at) & ~held).any())
