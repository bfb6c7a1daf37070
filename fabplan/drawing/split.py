"""Several pieces of metal in one drawing: which line, hole and text belong to which."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.drawing.holes import Hole
from fabplan.drawing.nest import Nest
from fabplan.geom.holders import holders
from fabplan.geom.holders import one_by_one as pieces
from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.profile import area, bounds, circle
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import IntArray
from fabplan.model.drawing import Drawing, Label, Shape
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile

SEVERAL = "more-than-one-profile"
BESIDE = 20.0  # letter heights: a text further than this from a piece is not its label (common practice)
MOST_DISCS = 200  # round pieces that are sought in one drawing

Plate = tuple[Profile, tuple[Profile, ...]]


def one_by_one(drawing: Drawing) -> tuple[Drawing, ...]:
    """Each piece of metal of a drawing by itself, still under the name of the file; else the drawing.

    A line goes with every piece in which some of it lies, a text with the piece round it or beside it; what is written
    far from all of them, with each.
    """
    if not drawing.shapes:
        return (drawing,)
    owner = label_owners(drawing)
    written = [np.nonzero((owner == number) | (owner < 0))[0].tolist() for number in range(len(drawing.shapes))]
    return tuple(
        replace(alone, labels=tuple(drawing.labels[k] for k in own))
        for own, alone in zip(written, pieces(drawing), strict=True)
    )


def label_owners(drawing: Drawing) -> IntArray:
    """(n,) the number of the piece round each text or else beside it, -1 for a text far from all."""
    return _label_owners([(shape.outline, shape.cutouts) for shape in drawing.shapes], drawing.labels)


def discs_apart(holes: Sequence[Hole], nested: Nest) -> list[int]:
    """Numbers of round openings that lie outside all profiles and touch none: pieces of metal, not holes."""
    index = np.array([k for k, hole in enumerate(holes) if hole.purpose == "open"], dtype=np.int64)
    xy = np.array([(holes[k].circle.x, holes[k].circle.y) for k in index]).reshape(-1, 2)
    radius = np.array([holes[k].circle.diameter / 2.0 for k in index])
    for outline, _ in nested.plates:
        if len(index):
            away, _ = edge_distance(outline, xy)
            apart = ~inside(outline, xy) & (away > radius + FIGURE)
            index, xy, radius = index[apart], xy[apart], radius[apart]
    apart_from_all = []
    for k in range(len(index) if len(index) <= MOST_DISCS else 0):
        between = np.linalg.norm(xy - xy[k], axis=1)
        held = (between < radius) & (radius > radius[k])
        if not held.any():
            apart_from_all.append(int(index[k]))
    return apart_from_all


def with_discs(nested: Nest, discs: Sequence[Hole]) -> Nest:
    """The profiles with round pieces of metal among them; the largest stays the first."""
    added = [
        replace(circle((disc.circle.x, disc.circle.y), disc.circle.diameter / 2.0), handles=(disc.handle,))
        for disc in discs
    ]
    plates: list[Plate] = [*nested.plates[1:], *((one, ()) for one in added)]
    ranked = sorted(plates, key=lambda plate: -area(plate[0]))
    return replace(nested, extra=(*nested.extra, *added), plates=(*nested.plates[:1], *ranked))


def shapes(nested: Nest, holes: Holes, labels: Sequence[Label]) -> tuple[Shape, ...]:
    """The pieces of metal of a drawing with more than one, each with its holes and its label; else none."""
    if len(nested.plates) < 2:
        return ()
    outlines = [outline for outline, _ in nested.plates]
    owner = holders(outlines, holes.xy)
    names = _labels(nested.plates, labels)
    return tuple(
        Shape(name, outline, cutouts, some(holes, np.nonzero(owner == number)[0]))
        for number, (name, (outline, cutouts)) in enumerate(zip(names, nested.plates, strict=True))
    )


def some(holes: Holes, index: IntArray) -> Holes:
    """Some of the holes, by their place in the table."""

    def pick(column: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(column[k] for k in index.tolist())

    columns = (pick(holes.row), pick(holes.number), pick(holes.purpose), pick(holes.handle))
    return Holes(holes.xy[index], holes.diameter[index], *columns)


def _labels(plates: Sequence[Plate], labels: Sequence[Label]) -> list[str]:
    """For each piece the text of the largest letters inside it, or else of those beside it."""
    owner = _label_owners(plates, labels)
    inner = _in_metal(plates, labels) >= 0
    found = []
    for number in range(len(plates)):
        own = np.nonzero(owner == number)[0]
        own = own[inner[own]] if inner[own].any() else own
        found.append(max((labels[k] for k in own.tolist()), key=lambda label: label.height).text if len(own) else "")
    return found


def _in_metal(plates: Sequence[Plate], labels: Sequence[Label]) -> IntArray:
    """(n,) the piece in whose metal each text stands, -1 where it stands in an opening or outside."""
    xy = np.array([label.xy for label in labels]).reshape(-1, 2)
    owner = holders([outline for outline, _ in plates], xy)
    for number, (_, cutouts) in enumerate(plates):
        for cutout in cutouts:
            own = np.nonzero(owner == number)[0]
            owner[own[inside(cutout, xy[own])]] = -1
    return owner


def _label_owners(plates: Sequence[Plate], labels: Sequence[Label]) -> IntArray:
    """(n,) the piece in whose metal each text stands, else the nearest within `BESIDE`, else -1.

    In an opening the piece that lies in it too may be nearer than the opening's edge.
    """
    xy = np.array([label.xy for label in labels]).reshape(-1, 2)
    boxes = np.array([bounds(outline) for outline, _ in plates])
    owner, around = _in_metal(plates, labels), holders([outline for outline, _ in plates], xy)
    for k in np.nonzero(owner < 0)[0].tolist():
        away = np.hypot(*np.maximum(np.maximum(boxes[:, :2] - xy[k], xy[k] - boxes[:, 2:]), 0.0).T)
        if around[k] >= 0:
            away[around[k]] = min(edge_distance(cutout, xy[k : k + 1])[0][0] for cutout in plates[around[k]][1])
        nearest = int(away.argmin())
        if away[nearest] <= BESIDE * labels[k].height:
            owner[k] = nearest
    return owner
