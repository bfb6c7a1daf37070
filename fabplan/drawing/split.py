"""Several pieces of metal in one drawing: which hole and text belong to which, and each as a drawing of its own."""

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.folding import lines_of_no_piece
from fabplan.drawing.holes import Hole
from fabplan.drawing.nest import Nest
from fabplan.geom.holders import holders
from fabplan.geom.holders import one_by_one as pieces
from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.profile import area, bounds, circle
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import IntArray
from fabplan.model.drawing import Drawing, Label, Shape
from fabplan.model.holes import NO_HOLES, Holes
from fabplan.model.profile import Profile

SEVERAL = "more-than-one-profile"
BESIDE = 20.0  # letter heights: a text further than this from a piece is not its label (common practice)
MOST_DISCS = 200  # round pieces that are sought in one drawing

Plate = tuple[Profile, tuple[Profile, ...]]


def one_by_one(drawing: Drawing) -> tuple[Drawing, ...]:
    """Each piece of metal of a drawing by itself, still under the name of the file; else the drawing.

    A line goes with every piece in which some of it lies, a text with the piece round it or beside it.
    """
    if not drawing.shapes:
        return (drawing,)
    written = _label_owners([shape.outline for shape in drawing.shapes], drawing.labels)
    return tuple(
        replace(alone, labels=tuple(drawing.labels[k] for k in np.nonzero(written == number)[0].tolist()))
        for number, alone in enumerate(pieces(drawing))
    )


def split_drawing(drawing: Drawing) -> tuple[Drawing, ...]:
    """Each piece of metal of a drawing as a drawing of its own; the drawing itself where it holds no more than one.

    Entries of the account go with the piece that they are part of; findings stay with the file.
    """
    if not drawing.shapes:
        return (drawing,)
    return tuple(
        _one(piece, shape.label or str(number))
        for number, (piece, shape) in enumerate(zip(one_by_one(drawing), drawing.shapes, strict=True), start=1)
    )


def piece_of(drawing: Drawing, mark: str) -> Drawing:
    """The piece of a drawing that bears a mark; the drawing itself where it holds no more than one, or none bears it.

    What was found in the file as a whole goes with the piece, but for the finding that it holds several.
    """
    named = [number for number, shape in enumerate(drawing.shapes) if shape.label.casefold() == mark.casefold()]
    if len(named) != 1:
        return drawing
    own = _one(one_by_one(drawing)[named[0]], drawing.shapes[named[0]].label)
    handles = {entry.handle for entry in own.account}
    told = tuple(
        finding
        for finding in drawing.findings
        if finding.check != SEVERAL and (not finding.where.handles or handles & {*finding.where.handles})
    )
    return replace(own, findings=told)


def rest_of(drawing: Drawing, marks: Collection[str]) -> Drawing | None:
    """What of a drawing goes with none of the pieces that bear these marks; None where it has none, or nothing else.

    Entities, lines and pieces of metal keep their place; so do findings that name a handle of them.
    """
    pieces = [piece for piece in (piece_of(drawing, mark) for mark in marks) if piece is not drawing]
    taken = {entry.handle for piece in pieces for entry in piece.account}
    left = tuple(entry for entry in drawing.account if entry.handle not in taken)
    if not pieces or not left:
        return None
    handles = {entry.handle for entry in left}
    shapes = tuple(one for one in drawing.shapes if handles & {*one.outline.handles})
    whole = replace(drawing, outline=None, cutouts=(), holes=NO_HOLES, shapes=shapes)
    if shapes:
        first = shapes[0]
        whole = replace(whole, outline=first.outline, cutouts=first.cutouts, holes=first.holes)
    own = replace(
        whole,
        name=f"{drawing.name} (the rest)",
        shapes=shapes if len(shapes) > 1 else (),
        folds=tuple(line for line in drawing.folds if line.handle in handles),
        rolls=tuple(line for line in drawing.rolls if line.handle in handles),
        marks=tuple(line for line in drawing.marks if line.handle in handles),
        open_lines=tuple(line for line in drawing.open_lines if line.handle in handles),
        aside=tuple(line for line in drawing.aside if line.handle in handles),
        labels=drawing.labels if shapes else (),
        account=left,
        scanned=drawing.scanned - (len(drawing.account) - len(left)),
        fits=tuple(fit for fit in drawing.fits if handles & {*fit.handles}),
        findings=tuple(one for one in drawing.findings if handles & {*one.where.handles} and one.check != SEVERAL),
    )
    astray = () if shapes else tuple(lines_of_no_piece(own))
    return replace(own, findings=(*own.findings, *astray), fingerprint=fingerprint(own))


def _one(piece: Drawing, name: str) -> Drawing:
    """A piece with the entries of the account that it is made of, named within its file."""
    assert piece.outline is not None
    handles = {handle for profile in (piece.outline, *piece.cutouts) for handle in profile.handles}
    lines = (*piece.folds, *piece.rolls, *piece.marks, *piece.open_lines, *piece.aside)
    handles |= {*piece.holes.handle, *(line.handle for line in lines)}
    own = replace(
        piece,
        name=f"{piece.name} ({name})",
        account=tuple(entry for entry in piece.account if entry.handle in handles),
        fits=tuple(fit for fit in piece.fits if handles & {*fit.handles}),
        findings=(),
        paper=(),
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
    owner = holders(outlines, holes.xy)
    names = _labels(outlines, labels)
    return tuple(
        Shape(name, outline, cutouts, _some(holes, np.nonzero(owner == number)[0]))
        for number, (name, (outline, cutouts)) in enumerate(zip(names, nested.plates, strict=True))
    )


def _some(holes: Holes, index: IntArray) -> Holes:
    def pick(column: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(column[k] for k in index.tolist())

    columns = (pick(holes.row), pick(holes.number), pick(holes.purpose), pick(holes.handle))
    return Holes(holes.xy[index], holes.diameter[index], *columns)


def _labels(outlines: Sequence[Profile], labels: Sequence[Label]) -> list[str]:
    """For each outline the text of the largest letters inside it, or else of those beside it."""
    owner = _label_owners(outlines, labels)
    inner = holders(outlines, np.array([label.xy for label in labels]).reshape(-1, 2)) >= 0
    found = []
    for number in range(len(outlines)):
        own = np.nonzero(owner == number)[0]
        own = own[inner[own]] if inner[own].any() else own
        found.append(max((labels[k] for k in own.tolist()), key=lambda label: label.height).text if len(own) else "")
    return found


def _label_owners(outlines: Sequence[Profile], labels: Sequence[Label]) -> IntArray:
    """(n,) the outline round each text, else the nearest within `BESIDE`, else -1."""
    xy = np.array([label.xy for label in labels]).reshape(-1, 2)
    boxes = np.array([bounds(outline) for outline in outlines])
    owner = holders(outlines, xy)
    for k in np.nonzero(owner < 0)[0].tolist():
        away = np.hypot(*np.maximum(np.maximum(boxes[:, :2] - xy[k], xy[k] - boxes[:, 2:]), 0.0).T)
        nearest = int(away.argmin())
        if away[nearest] <= BESIDE * labels[k].height:
            owner[k] = nearest
    return owner
