"""The opposite hand of a drawing: x -> -x, the marked face still up."""

from dataclasses import replace

from fabplan.drawing.fingerprint import fingerprint
from fabplan.geom.profile import mirrored_x
from fabplan.model.drawing import Drawing, Line, Shape


def other_hand(drawing: Drawing) -> Drawing:
    """The drawing of the other hand; hole numbers, names and folds keep their names and signs."""
    flip = [-1.0, 1.0]
    holes = drawing.holes
    mirrored = replace(
        drawing,
        outline=mirrored_x(drawing.outline) if drawing.outline is not None else None,
        cutouts=tuple(mirrored_x(cutout) for cutout in drawing.cutouts),
        holes=replace(holes, xy=holes.xy * flip),
        folds=tuple(_line(line) for line in drawing.folds),
        rolls=tuple(_line(line) for line in drawing.rolls),
        marks=tuple(_line(line) for line in drawing.marks),
        open_lines=tuple(_line(line) for line in drawing.open_lines),
        aside=tuple(_line(line) for line in drawing.aside),
        labels=tuple(replace(label, xy=(-label.xy[0], label.xy[1])) for label in drawing.labels),
        fits=tuple(replace(fit, xy=(-fit.xy[0], fit.xy[1])) for fit in drawing.fits),
        shapes=tuple(_shape(shape) for shape in drawing.shapes),
    )
    return replace(mirrored, fingerprint=fingerprint(mirrored))


def _shape(shape: Shape) -> Shape:
    holes = replace(shape.holes, xy=shape.holes.xy * [-1.0, 1.0])
    return Shape(shape.label, mirrored_x(shape.outline), tuple(mirrored_x(one) for one in shape.cutouts), holes)


def _line(line: Line) -> Line:
    return Line(line.name, line.points * [-1.0, 1.0], line.handle)
