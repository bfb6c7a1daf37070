"""A plate as it was formed, where its sizes were measured: bends where they came to lie, not where they are drawn."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.body.formed import formed
from fabplan.body.joggle import bends_of
from fabplan.geom.forming import BendLine, Formed, form, overall
from fabplan.geom.prism import polygon
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.job import PartSpec
from fabplan.model.measured import Measured
from fabplan.model.profile import Profile

STEP = 0.01  # mm by which a bend is moved to see what it does to the sizes
ROUNDS = 4  # sizes follow bends in proportion, but where another edge becomes the outermost
STILL = 1e-3  # share of a bend's way that a size must follow, to be one that the bend settles


def as_built(spec: PartSpec, drawing: Drawing, cutouts: Sequence[Profile]) -> Formed:
    """A plate as the job and its drawing form it, and as it was measured.

    Measured sizes over the outside move the bends: of all ways, the least by which they give the sizes, angles as
    stated. A measured diameter is that to which the plate was rolled. Sizes that no bend settles, such as that along
    a fold, move nothing.

    Raises:
        FormingError: a line is not drawn, or the blank cannot be formed as stated or as measured.
    """
    measured = spec.measured
    if measured is not None and measured.across is not None and spec.thickness is not None:
        inside = measured.across / 2.0 - spec.thickness
        rolls = tuple(replace(one, inside_radius=float(np.copysign(inside, one.inside_radius))) for one in spec.rolls)
        return formed(replace(spec, rolls=rolls), drawing, cutouts)
    shape = formed(spec, drawing, cutouts)
    if measured is None or not np.any(np.isfinite(measured.over)):
        return shape
    return _moved(spec, measured, shape, drawing, cutouts)


def _moved(spec: PartSpec, measured: Measured, shape: Formed, drawing: Drawing, cutouts: Sequence[Profile]) -> Formed:
    """The plate with its bends moved square to their lines until its sizes are those that were measured."""
    assert drawing.outline is not None
    face, still = polygon(drawing.outline, tuple(cutouts)), np.array(spec.fixed) if spec.fixed else None
    fixed = {name for one in spec.joggles for name in bends_of(one)}
    free = [k for k, line in enumerate(shape.lines) if line.name not in fixed]
    over = np.array(measured.over)
    known, moves = np.isfinite(over), np.zeros(len(free))

    def made(by: FloatArray) -> Formed:
        return form(face, shape.thickness, _lines(shape.lines, free, by), still)

    own = shape
    for _ in range(ROUNDS if free else 0):
        size = overall(own)[known]
        slopes = np.array([overall(made(moves + STEP * one))[known] - size for one in np.eye(len(free))]).T / STEP
        slopes[np.abs(slopes) < STILL] = 0.0
        moves = moves + np.linalg.lstsq(slopes, over[known] - size, rcond=1e-6)[0]
        own = made(moves)
    return own


def _lines(lines: Sequence[BendLine], free: Sequence[int], by: FloatArray) -> list[BendLine]:
    """The bends, the free ones moved to the right of their lines, mm each."""
    moved = list(lines)
    for k, more in zip(free, by.tolist(), strict=True):
        way = lines[k].end - lines[k].start
        off = more * np.array([way[1], -way[0]]) / float(np.hypot(*way))
        moved[k] = replace(lines[k], start=lines[k].start + off, end=lines[k].end + off)
    return moved
