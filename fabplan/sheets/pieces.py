"""Several pieces of metal in one drawing, each as a drawing of its own for the sheet."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.geom.profile import bounds
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing, Line, Shape
from fabplan.model.finding import Finding
from fabplan.model.profile import Profile


def profiles_of(drawing: Drawing) -> tuple[list[Profile], list[Profile]]:
    """Outer profiles and cut-outs of all pieces in a drawing."""
    if drawing.shapes:
        cutouts = [cut for shape in drawing.shapes for cut in shape.cutouts]
        return [shape.outline for shape in drawing.shapes], cutouts
    return ([drawing.outline] if drawing.outline is not None else []), list(drawing.cutouts)


def piece_names(drawing: Drawing) -> list[str]:
    """What the pieces of a drawing are called: by their label, else by their number."""
    return [shape.label or f"piece {number}" for number, shape in enumerate(drawing.shapes, start=1)]


def pieces(drawing: Drawing) -> tuple[Drawing, ...]:
    """Each piece with its holes and the lines that begin in its box; the drawing itself where it holds one."""
    return tuple(_one(drawing, shape) for shape in drawing.shapes) or (drawing,)


def _one(drawing: Drawing, shape: Shape) -> Drawing:
    box = bounds(shape.outline)

    def own(lines: Sequence[Line]) -> tuple[Line, ...]:
        return tuple(line for line in lines if len(line.points) and _held(line.points[0], box))

    return replace(
        drawing,
        outline=shape.outline,
        cutouts=shape.cutouts,
        holes=shape.holes,
        shapes=(),
        folds=own(drawing.folds),
        rolls=own(drawing.rolls),
        marks=own(drawing.marks),
        open_lines=own(drawing.open_lines),
        aside=own(drawing.aside),
    )


def placed_on(findings: Sequence[Finding], piece: Drawing) -> tuple[Finding, ...]:
    """The same findings under the same numbers; those that lie beside a piece without their place."""
    if piece.outline is None:
        return tuple(findings)
    box = bounds(piece.outline)
    return tuple(
        one if one.where.xy is None or _held(np.array(one.where.xy), box) else _without_place(one) for one in findings
    )


def _held(point: FloatArray, box: FloatArray) -> bool:
    return bool(np.all(point >= box[:2]) and np.all(point <= box[2:]))


def _without_place(one: Finding) -> Finding:
    return replace(one, where=replace(one.where, xy=None))
