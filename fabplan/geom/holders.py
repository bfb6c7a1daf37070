"""Which of several outlines hold a point, or some of a line."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.geom.inside import inside, near_edge
from fabplan.geom.profile import bounds
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.profile import Profile

STATIONS = 101  # places along a line, off both its ends: these lie on edges, or beyond them, as a rule


def holders(outlines: Sequence[Profile], xy: FloatArray) -> IntArray:
    """The smallest outline round each point (n, 2), -1 for none.

    Args:
        outlines: the largest first.
        xy: mm.
    """
    owner = np.full(len(xy), -1, dtype=np.int64)
    for number, outline in enumerate(outlines):  # the last to hold a point is the smallest
        box = bounds(outline)
        near = np.nonzero(np.all((xy >= box[:2]) & (xy <= box[2:]), axis=1))[0]
        if len(near):
            owner[near[inside(outline, xy[near])]] = number
    return owner


def line_holders(outlines: Sequence[Profile], lines: Sequence[FloatArray]) -> list[list[int]]:
    """For each open line (k, 2) the numbers of the outlines, largest first, in which, or on which, some of it lies."""
    if not lines:
        return []
    places = [places_along(line) for line in lines]
    every = np.vstack(places)
    line_of = np.repeat(np.arange(len(lines)), [len(own) for own in places])
    owner = holders(outlines, every)
    held = {(int(line), int(number)) for line, number in zip(line_of, owner, strict=True) if number >= 0}
    for number, outline in enumerate(outlines):
        held |= {(line, number) for line in line_of[on_edge(outline, every)].tolist()}
    return [[number for number in range(len(outlines)) if (line, number) in held] for line in range(len(lines))]


def held_lines(outlines: Sequence[Profile], lines: Sequence[Line]) -> list[tuple[Line, ...]]:
    """For each outline, largest first, the drawn lines of which some lies in it or on it."""
    found: list[list[Line]] = [[] for _ in outlines]
    for line, owners in zip(lines, line_holders(outlines, [line.points for line in lines]), strict=True):
        for number in owners:
            found[number].append(line)
    return [tuple(own) for own in found]


def one_by_one(drawing: Drawing) -> tuple[Drawing, ...]:
    """Each piece of a drawing with its holes and the lines that run in it; the drawing itself where it holds one."""
    if not drawing.shapes:
        return (drawing,)
    outlines = [shape.outline for shape in drawing.shapes]
    kinds = (drawing.folds, drawing.rolls, drawing.marks, drawing.open_lines, drawing.aside)
    held = [held_lines(outlines, lines) for lines in kinds]
    found = []
    for number, shape in enumerate(drawing.shapes):
        folds, rolls, marks, loose, aside = (own[number] for own in held)
        alone = replace(drawing, outline=shape.outline, cutouts=shape.cutouts, holes=shape.holes, shapes=())
        found.append(replace(alone, folds=folds, rolls=rolls, marks=marks, open_lines=loose, aside=aside))
    return tuple(found)


def on_edge(outline: Profile, xy: FloatArray) -> BoolArray:
    """(n,) True for points (n, 2) on an outline."""
    return near_edge(outline, xy, JOIN)


def well_inside(outlines: Sequence[Profile], xy: FloatArray) -> BoolArray:
    """(n,) True for points (n, 2) in some outline, off its edge."""
    within = holders(outlines, xy) >= 0
    for outline in outlines:
        within &= ~on_edge(outline, xy)
    return within


def places_along(line: FloatArray) -> FloatArray:
    """Places (n, 2) along an open line; of one without length its first point."""
    if len(line) < 2:
        return line[:1]
    way = np.append(0.0, np.cumsum(np.hypot(*np.diff(line, axis=0).T)))
    at = (np.arange(STATIONS) + 0.5) / STATIONS * way[-1]
    return np.column_stack([np.interp(at, way, line[:, axis]) for axis in (0, 1)])
