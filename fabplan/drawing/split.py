"""Several pieces of metal in one drawing: which hole and text belong to which, and each as a drawing of its own."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.holes import Hole
from fabplan.drawing.nest import Nest
from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.profile import area, bounds, circle
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing, Label, Line, Shape
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile

BESIDE = 20.0  # letter heights: a text further than this from a piece is not its label (common practice)
MOST_DISCS = 200  # round pieces that are sought in one drawing

Plate = tuple[Profile, tuple[Profile, ...]]


def split_drawing(drawing: Drawing) -> tuple[Drawing, ...]:
    """Each piece of metal of a drawing as a drawing of its own; the drawing itself where it holds no more than one.

    Entries of the account and lines go with the piece that they lie in or are part of; findings stay with the file.
    """
    if not drawing.shapes:
        return (drawing,)
    return tuple(_one(drawing, number, shape) for number, shape in enumerate(drawing.shapes, start=1))


def piece_of(drawing: Drawing, mark: str) -> Drawing:
    """The piece of a drawing that bears a mark; the drawing itself where it holds no more than one, or none bears it.

    What was found in the file as a whole goes with the piece, but for the finding that it holds several.
    """
    named = [number for number, shape in enumerate(drawing.shapes) if shape.label.casefold() == mark.casefold()]
    if len(named) != 1:
        return drawing
    own = _one(drawing, named[0] + 1, drawing.shapes[named[0]])
    handles = {entry.handle for entry in own.account}
    told = tuple(
        finding
        for finding in drawing.findings
        if finding.check != "more-than-one-profile"
        and (not finding.where.handles or handles & {*finding.where.handles})
    )
    return replace(own, findings=told)


def _one(drawing: Drawing, number: int, shape: Shape) -> Drawing:
    def within(points: FloatArray) -> bool:
        return bool(inside(shape.outline, points[:1])[0])

    profiles = (shape.outline, *shape.cutouts)

    def lines(own: Sequence[Line]) -> tuple[Line, ...]:
        return tuple(line for line in own if within(line.points))

    folds, rolls, marks, loose, aside = (
        lines(own) for own in (drawing.folds, drawing.rolls, drawing.marks, drawing.open_lines, drawing.aside)
    )
    handles = {handle for profile in profiles for handle in profile.handles}
    handles |= {*shape.holes.handle, *(line.handle for line in (*folds, *rolls, *marks, *loose, *aside))}
    labels = tuple(label for label in drawing.labels if within(np.array([label.xy])))
    own = replace(
        drawing,
        name=f"{drawing.name} ({shape.label or number})",
        outline=shape.outline,
        cutouts=shape.cutouts,
        holes=shape.holes,
        labels=labels,
        account=tuple(entry for entry in drawing.account if entry.handle in handles),
        fits=tuple(fit for fit in drawing.fits if handles & {*fit.handles}),
        shapes=(),
        findings=(),
        paper=(),
        folds=folds,
        rolls=rolls,
        marks=marks,
        open_lines=loose,
        aside=aside,
    )
    return replace(own, scanned=len(own.account), fingerprint=fingerprint(own))


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
    owner = _holders(outlines, holes.xy)
    names = _labels(outlines, labels)
    return tuple(
        Shape(name, outline, cutouts, _some(holes, np.nonzero(owner == number)[0]))
        for number, (name, (outline, cutouts)) in enumerate(zip(names, nested.plates, strict=True))
    )


def _holders(outlines: Sequence[Profile], xy: FloatArray) -> IntArray:
    """The smallest outline round each point (n, 2), -1 for none."""
    owner = np.full(len(xy), -1, dtype=np.int64)
    for number, outline in enumerate(outlines):  # the largest first: the last to hold a point is the smallest
        if len(xy):
            owner[inside(outline, xy)] = number
    return owner


def _some(holes: Holes, index: IntArray) -> Holes:
    def pick(column: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(column[k] for k in index.tolist())

    columns = (pick(holes.row), pick(holes.number), pick(holes.purpose), pick(holes.handle))
    return Holes(holes.xy[index], holes.diameter[index], *columns)


def _labels(outlines: Sequence[Profile], labels: Sequence[Label]) -> list[str]:
    """For each outline the text of the largest letters inside it, or else of those beside it."""
    xy = np.array([label.xy for label in labels]).reshape(-1, 2)
    boxes = np.array([bounds(outline) for outline in outlines])
    owner = _holders(outlines, xy)
    inner: dict[int, list[Label]] = {}
    beside: dict[int, list[Label]] = {}
    for label, point, own in zip(labels, xy, owner.tolist(), strict=True):
        if own >= 0:
            inner.setdefault(own, []).append(label)
            continue
        away = np.hypot(*np.maximum(np.maximum(boxes[:, :2] - point, point - boxes[:, 2:]), 0.0).T)
        nearest = int(away.argmin())
        if away[nearest] <= BESIDE * label.height:
            beside.setdefault(nearest, []).append(label)
    found = [inner.get(number) or beside.get(number) or [] for number in range(len(outlines))]
    return [max(own, key=lambda label: label.height).text if own else "" for own in found]
