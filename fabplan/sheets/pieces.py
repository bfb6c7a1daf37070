"""Several pieces of metal in one drawing, each as a drawing of its own for the sheet."""

from collections.abc import Sequence

import numpy as np

from fabplan.geom.holders import holders, on_edge
from fabplan.geom.profile import bounds
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding
from fabplan.model.profile import Profile


def profiles_of(drawing: Drawing) -> tuple[list[Profile], list[Profile]]:
    """Outer profiles and cut-outs of all pieces in a drawing."""
    if drawing.shapes:
        cutouts = [cut for shape in drawing.shapes for cut in shape.cutouts]
        return [shape.outline for shape in drawing.shapes], cutouts
    return ([drawing.outline] if drawing.outline is not None else []), list(drawing.cutouts)


def framed_lines(drawing: Drawing) -> list[Line]:
    """The open lines that a picture's frame holds: those that do not close, and without metal those beside it too."""
    if profiles_of(drawing)[0]:
        return [line for line in drawing.open_lines if len(line.points)]
    lines = (*drawing.open_lines, *drawing.folds, *drawing.rolls, *drawing.marks, *drawing.aside)
    return [line for line in lines if len(line.points)]


def piece_names(drawing: Drawing) -> list[str]:
    """What the pieces of a drawing are called: by their label, else by their number."""
    return [shape.label or f"piece {number}" for number, shape in enumerate(drawing.shapes, start=1)]


def metal_reach(drawing: Drawing) -> tuple[FloatArray, FloatArray] | None:
    """Lower left and upper right of the outlines, mm; None where nothing closes."""
    boxes = np.array([bounds(outline) for outline in profiles_of(drawing)[0]])
    return (boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0)) if len(boxes) else None


def feet(drawing: Drawing) -> FloatArray:
    """(n, 2) for each hole the lower left corner of the metal that it stands in, mm; without metal the origin."""
    reach = metal_reach(drawing)
    found = np.tile(reach[0] if reach else np.zeros(2), (len(drawing.holes), 1))
    place = {number: k for k, number in enumerate(drawing.holes.number)}
    for shape in drawing.shapes:
        found[[place[number] for number in shape.holes.number]] = bounds(shape.outline)[:2]
    return found


def on_pieces(findings: Sequence[Finding], drawing: Drawing) -> list[dict[int, Finding]]:
    """For each of several pieces the findings that lie on it, by their numbers in the list of all, from 1."""
    outlines = [shape.outline for shape in drawing.shapes]
    placed = [(number, one) for number, one in enumerate(findings, start=1) if one.where.xy is not None]
    xy = np.array([one.where.xy for _, one in placed], dtype=np.float64).reshape(-1, 2)
    owner = holders(outlines, xy)
    found = []
    for number, outline in enumerate(outlines):
        box = bounds(outline)
        beside = (owner < 0) & np.all((xy >= box[:2]) & (xy <= box[2:]), axis=1)
        own = (owner == number) | on_edge(outline, xy) | beside
        found.append(dict(one for one, mine in zip(placed, own.tolist(), strict=True) if mine))
    return found
