"""Mistakes of a whole piece, made anew from what the job states: other hand, thickness, unit, fold or roll."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.body.change import Change, Forms, Shop, with_places
from fabplan.geom.profile import bounds
from fabplan.model.arrays import IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.job import PartSpec
from fabplan.model.part import Part

UNITS = ((25.4, "inches"), (1.0 / 25.4, "millimetres taken for inches"), (10.0, "centimetres"), (1000.0, "metres"))
"""Factors between the units that drawings are mistaken in."""

THICKNESSES = (2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""Plates in stock, mm (EN 10029 lists any; common practice)."""


def piece_changes(shop: Shop, forms: Forms, *, thickness: bool) -> Iterator[Change]:
    """Changes of a whole piece.

    Args:
        shop: how pieces are made.
        forms: the mark as it is.
        thickness: whether its thickness tells: both its faces lie on others.
    """
    yield from turns(shop, forms)
    part = next(iter(forms.values()))
    if part.section is None and part.blank is not None:
        drawn = _drawn(forms)
        assert drawn.blank is not None
        yield from _fold_changes(shop, drawn.spec, drawn.blank)
        yield from _thicknesses(shop, drawn.spec, drawn.blank) if thickness else ()
    for row in dict.fromkeys(part.holes.holes.row):
        if row:
            yield from _reversals(forms, row)


def _drawn(forms: Forms) -> Part:
    """The form that the drawing shows."""
    return next(form for form in forms.values() if form.hand in ("", form.spec.drawn))


def turns(shop: Shop, forms: Forms) -> Iterator[Change]:
    """The whole piece turned: hands changed, a bar measured from its other end, a plate of the other hand.

    Args:
        shop: how pieces are made.
        forms: the mark as it is.
    """
    part = next(iter(forms.values()))
    if len(forms) == 2:
        mark = part.spec.mark
        yield Change(
            "wrong hand",
            f"{mark}R and {mark}L stand in one another's place, or {mark} is drawn of the other hand",
            "Name the hands the other way round in the seams, or correct `drawn`.",
            {"R": forms["L"], "L": forms["R"]},
        )
    if part.section is not None:
        yield from _bar_changes(shop, part)
    elif part.blank is not None and not part.spec.hand:
        yield Change(
            "wrong hand" if len(part.panels) > 1 else "plate mirrored",
            f"{part.spec.mark} is drawn of the other hand, as seen from its other face",
            "Mirror the drawing.",
            _made(shop, part.spec, shop.other_hand(part.blank)),
        )


def _made(shop: Shop, spec: PartSpec, drawing: Drawing | None) -> Forms:
    return {part.hand: part for part in shop.remake(spec, drawing)}


def _bar_changes(shop: Shop, part: Part) -> Iterator[Change]:
    spec, length = part.spec, part.spec.length
    if length is not None and not spec.hand:
        rows = tuple(replace(row, at=tuple(length - at for at in reversed(row.at))) for row in spec.rows)
        yield Change(
            "strip reversed",
            f"all rows of {spec.mark} are measured from its other end",
            "Measure the rows from the marked end, or mark the other end.",
            _made(shop, replace(spec, rows=rows), None),
        )


def _fold_changes(shop: Shop, spec: PartSpec, drawing: Drawing) -> Iterator[Change]:
    """Each fold the other way."""
    for number, fold in enumerate(spec.folds):
        folds = (*spec.folds[:number], replace(fold, angle=-fold.angle), *spec.folds[number + 1 :])
        yield Change(
            "fold the wrong way",
            f"fold {fold.line} of {spec.mark} goes the other way",
            "Change the sign of its angle, or mark the drawing's other face.",
            _made(shop, replace(spec, folds=folds), drawing),
        )


def roll_changes(shop: Shop, forms: Forms, off: float) -> Iterator[Change]:
    """A roll to another radius.

    Args:
        shop: how pieces are made.
        forms: the mark as it is.
        off: how much larger the radius of its rows should be, mm (see `body.rest.radii_off`).
    """
    part = _drawn(forms)
    if part.spec.ring is not None:
        yield from _ring_changes(shop, part.spec, off)
    for number, roll in enumerate(part.spec.rolls):
        radius = abs(roll.inside_radius) + off
        if radius > 0.0:
            right = replace(roll, inside_radius=float(np.copysign(round(radius, 2), roll.inside_radius)))
            rolls = (*part.spec.rolls[:number], right, *part.spec.rolls[number + 1 :])
            yield Change(
                "roll radius wrong",
                f"{part.spec.mark} is rolled to an inside radius of {abs(roll.inside_radius):g} mm and fits at "
                f"{abs(right.inside_radius):g} mm",
                "Correct the radius in the job, or the holes of the blank for it.",
                _made(shop, replace(part.spec, rolls=rolls), part.blank),
            )


def _ring_changes(shop: Shop, spec: PartSpec, off: float) -> Iterator[Change]:
    """A bent bar to another radius; of one whose angle is stated, rows keep their angles."""
    ring = spec.ring
    assert ring is not None
    radius = round(ring.inside_radius + off, 2)
    if radius <= 0.0:
        return
    rows, length = spec.rows, spec.length
    if ring.angle is not None and length:
        share = ring.angle / length
        rows = tuple(replace(row, at=tuple(at * share for at in row.at), by="angle") for row in rows)
        length = None
    yield Change(
        "roll radius wrong",
        f"{spec.mark} is bent to an inside radius of {ring.inside_radius:g} mm and fits at {radius:g} mm",
        "Correct the radius in the job, or the rows for it.",
        _made(shop, replace(spec, ring=replace(ring, inside_radius=radius), rows=rows, length=length), None),
    )


def units(shop: Shop, spec: PartSpec, drawing: Drawing) -> Iterator[Change]:
    """The drawing read in another unit.

    Args:
        shop: how pieces are made.
        spec: the piece.
        drawing: as read now.
    """
    for factor, unit in UNITS:
        yield Change(
            "wrong unit",
            f"the drawing of {spec.mark} is in {unit}, and fits {factor:.4g} times as large as it is read",
            "State the unit of the drawing in its header, or draw it in millimetres.",
            _made(shop, spec, scaled(drawing, factor)),
        )


def _thicknesses(shop: Shop, spec: PartSpec, drawing: Drawing) -> Iterator[Change]:
    for thickness in THICKNESSES:
        if thickness not in (spec.thickness, spec.measured_thickness):
            yield Change(
                "wrong thickness",
                f"{spec.mark} is {spec.thickness:g} mm thick in the job and fits as one of {thickness:g} mm",
                "Correct `thickness`, or order the thickness that the body is drawn for.",
                _made(shop, replace(spec, thickness=thickness, measured=None), drawing),
                choices=len(THICKNESSES),
            )


def scaled(drawing: Drawing, factor: float) -> Drawing:
    """A drawing read in another unit: all places `factor` times as large."""
    holes = replace(drawing.holes, xy=drawing.holes.xy * factor, diameter=drawing.holes.diameter * factor)
    outline = drawing.outline
    if outline is not None:
        outline = replace(outline, vertices=outline.vertices * factor)
    cutouts = tuple(replace(one, vertices=one.vertices * factor) for one in drawing.cutouts)
    folds, rolls = (
        tuple(replace(line, points=line.points * factor) for line in lines) for lines in (drawing.folds, drawing.rolls)
    )
    return replace(drawing, holes=holes, outline=outline, cutouts=cutouts, folds=folds, rolls=rolls)


def _reversals(forms: Forms, row: str) -> Iterator[Change]:
    """One row set out from the other end of its piece, or end for end between its own first and last hole."""
    part = next(iter(forms.values()))
    for about, words in (("piece", "the other end of the piece"), ("row", "its own other end")):
        yield Change(
            "strip reversed",
            f"row {row} of {part.spec.mark} is measured from {words}",
            "Look which end the row was measured from; an equal end distance at both ends would let it turn.",
            {hand: _reversed(form, row, about) for hand, form in forms.items()},
        )


def _reversed(part: Part, row: str, about: str) -> Part:
    own = _of_row(part, row)
    xy = part.holes.holes.xy[own]
    along = int(np.argmax(np.ptp(xy, axis=0)))
    low, high = (
        bounds(part.panels[int(part.holes.panel[own[0]])].outline)[[along, along + 2]]
        if about == "piece"
        else (xy[:, along].min(), xy[:, along].max())
    )
    turned = xy.copy()
    turned[:, along] = low + high - xy[:, along]
    return with_places(part, own, turned)


def _of_row(part: Part, row: str) -> IntArray:
    return np.array([i for i, name in enumerate(part.holes.holes.row) if name == row], dtype=np.int64)
