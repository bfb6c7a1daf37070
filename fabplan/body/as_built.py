"""A plate as it was formed, where its sizes were measured: bends where they came to lie, not where they are drawn."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.formed import bent, formed
from fabplan.body.joggle import bends_of
from fabplan.errors import FormingError
from fabplan.geom.forming import BendLine, Formed, form, overall
from fabplan.geom.prism import polygon
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.forming import BuiltRecord
from fabplan.model.job import PartSpec
from fabplan.model.part import Part
from fabplan.model.profile import Profile

STEP = 0.01  # mm by which a bend is moved to see what it does to the sizes
ROUNDS, DONE = 20, 1e-4  # rounds at most, as another edge may become the outermost; mm moved that end them
STILL = 1e-3  # share of a bend's way that a size must follow, to be one that the bend settles

KEPT = 0.5
"""mm by which a piece as built may miss a size that its bends settle: rule and square to half a mm (assumed)."""


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """A plate as it is built.

    Attributes:
        shape: the plate; that of its blank where its measured sizes cannot be had.
        best: (3,) sizes over the outside that come nearest to the measured ones, mm.
        settled: (3,) True for a measured size that a bend settles.
        trouble: why its bends cannot be moved so; "" where they can.
    """

    shape: Formed
    best: FloatArray
    settled: BoolArray
    trouble: str = ""

    def misses(self, over: FloatArray) -> bool:
        """Whether bends cannot give the measured sizes (3,) that they settle."""
        off = np.abs(over - self.best)[self.settled]
        return bool(self.trouble) or not bool(np.all(off <= KEPT + FIGURE))


def as_built(spec: PartSpec, drawing: Drawing, cutouts: Sequence[Profile]) -> Formed:
    """A plate as the job and its drawing form it, and as it was measured.

    Measured sizes over the outside move the bends: of all ways, the least by which they give the sizes, angles as
    stated. A measured diameter is that to which the plate was rolled. Sizes that no bend settles, such as that along
    a fold, move nothing. Where sizes contradict each other the blank is formed as stated: what fits all of them best
    is the size of no steel.

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
    return _built(spec, shape, drawing, cutouts).shape


def built_records(parts: Sequence[Part]) -> tuple[BuiltRecord, ...]:
    """What became of the sizes measured over each formed plate whose form is known."""
    found = []
    for part in parts:
        measured = part.spec.measured
        over = measured is not None and np.any(np.isfinite(measured.over))
        if over and part.blank is not None and part.panels and bent(part.spec):
            spec = replace(part.spec, thickness=part.thickness)
            built = _built(spec, formed(spec, part.blank, part.blank.cutouts), part.blank, part.blank.cutouts)
            (x, y, z), (u, v, w) = overall(built.shape).tolist(), built.best.tolist()
            taken = not built.misses(np.array(measured.over if measured is not None else ()))
            on_x, on_y, on_z = built.settled.tolist()
            found.append(BuiltRecord(part.mark, (x, y, z), (u, v, w), (on_x, on_y, on_z), taken, built.trouble))
    return tuple(found)


def _built(spec: PartSpec, shape: Formed, drawing: Drawing, cutouts: Sequence[Profile]) -> Built:
    """The plate with its bends moved square to their lines until its sizes are those that were measured."""
    assert drawing.outline is not None
    assert spec.measured is not None
    face, first = polygon(drawing.outline, tuple(cutouts)), shape.regions[0].face.representative_point()
    still = np.array(spec.fixed or (first.x, first.y))  # the piece that keeps still may not become another
    fixed = {name for one in spec.joggles for name in bends_of(one)}
    free = [k for k, line in enumerate(shape.lines) if line.name not in fixed]
    over = np.array(spec.measured.over)
    known, moves = np.isfinite(over), np.zeros(len(free))

    def made(by: FloatArray) -> Formed:
        return form(face, shape.thickness, _lines(shape.lines, free, by), still)

    own, settled = shape, np.zeros(3, dtype=np.bool_)
    for _ in range(ROUNDS if free else 0):
        size = overall(own)[known]
        try:
            slopes = np.array([overall(made(moves + STEP * one))[known] - size for one in np.eye(len(free))]).T / STEP
            slopes[np.abs(slopes) < STILL] = 0.0
            settled[known] |= np.any(slopes != 0.0, axis=1)
            step = np.linalg.lstsq(slopes, over[known] - size, rcond=1e-6)[0]
            own = made(moves + step)
        except FormingError as error:
            return Built(shape, overall(own), settled, str(error).split(". ")[0])
        moves = moves + step
        if len(own.regions) != len(shape.regions) or np.any(_sides(own, still) != _sides(shape, still)):
            return Built(shape, overall(own), settled, "a bend would leave the blank or pass the still piece")
        if float(np.abs(step).max()) < DONE:
            break
    built = Built(own, overall(own), settled)
    return replace(built, shape=shape) if built.misses(over) else built


def _sides(shape: Formed, point: FloatArray) -> FloatArray:
    """(b,) on which side of each bend a point (2,) of the blank lies: 1 or -1."""
    ways = np.array([line.end - line.start for line in shape.lines])
    off = point - np.array([line.start for line in shape.lines])
    side: FloatArray = np.sign(ways[:, 0] * off[:, 1] - ways[:, 1] * off[:, 0])
    return side


def _lines(lines: Sequence[BendLine], free: Sequence[int], by: FloatArray) -> list[BendLine]:
    """The bends, the free ones moved to the right of their lines, mm each."""
    moved = list(lines)
    for k, more in zip(free, by.tolist(), strict=True):
        way = lines[k].end - lines[k].start
        off = more * np.array([way[1], -way[0]]) / float(np.hypot(*way))
        moved[k] = replace(lines[k], start=lines[k].start + off, end=lines[k].end + off)
    return moved
