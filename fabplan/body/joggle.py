"""Joggles of a plate: the two bends that each of them is, and what the forming sheet tells of it."""

from collections.abc import Iterator
from math import degrees

import numpy as np

from fabplan.body.bend_lines import drawn, ends, factor
from fabplan.errors import FormingError
from fabplan.geom.bend import Bend
from fabplan.geom.forming import BendLine
from fabplan.geom.joggle import Joggle, joggle, set_side
from fabplan.model.bends import JoggleSpec
from fabplan.model.drawing import Drawing
from fabplan.model.forming import JoggleRecord
from fabplan.model.job import PartSpec


def bends_of(spec: JoggleSpec) -> tuple[str, str]:
    """Names of the two bends of a joggle: on the side that keeps still, and on the side that is set."""
    return f"{spec.line}, first", f"{spec.line}, second"


def joggle_lines(spec: PartSpec, drawing: Drawing) -> Iterator[BendLine]:
    """The bends of all joggles.

    Args:
        spec: the part, its thickness stated.
        drawing: the blank with the lines.

    Raises:
        FormingError: a line is not drawn, a run is too short, or nothing says which side is set.
    """
    still = np.array(spec.fixed) if spec.fixed else None
    for one in spec.joggles:
        assert spec.thickness is not None
        assert drawing.outline is not None
        made = _made(one, spec.thickness)
        for line in drawn(one.line, drawing.folds, "FOLD"):
            start, end = ends(line)
            side = set_side(drawing.outline, start, end, still)
            if side == 0.0:
                raise FormingError(f"both sides of joggle {one.line} are alike", "Name the still one by `fixed`.")
            way = (end - start) / np.hypot(*(end - start))
            off = side * np.array([-way[1], way[0]]) * (made.slope + made.bend.width) / 2.0
            for name, sign in zip(bends_of(one), (-1.0, 1.0), strict=True):
                angle = -sign * np.sign(one.depth) * made.bend.angle
                bend = Bend(float(angle), made.bend.radius, made.bend.thickness, made.bend.factor)
                yield BendLine(name, start + sign * off, end + sign * off, bend)


def _made(spec: JoggleSpec, thickness: float) -> Joggle:
    bend = Bend(0.0, spec.inside_radius, thickness, factor(spec.k, spec.inside_radius, thickness))
    try:
        return joggle(abs(spec.depth), spec.run, bend)
    except ValueError as error:
        raise FormingError(f"joggle {spec.line}: {error}", "Give it a longer run, or a smaller radius.") from None


def joggle_records(spec: PartSpec, thickness: float) -> tuple[JoggleRecord, ...]:
    """What the forming sheet tells of the joggles of a part that can be formed."""
    made = [(one, _made(one, thickness)) for one in spec.joggles]
    return tuple(
        JoggleRecord(one.line, one.depth, one.run, degrees(own.bend.angle), own.shortening) for one, own in made
    )
