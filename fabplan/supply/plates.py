"""The cut list: what goes to the cutter, with figures to check the file and the delivery by."""

import math

import numpy as np

from fabplan.geom import profile as plane
from fabplan.model.body import Body
from fabplan.model.drawing import Drawing
from fabplan.model.part import Part
from fabplan.model.supply import PlateLine


def plate_lines(body: Body) -> tuple[PlateLine, ...]:
    """One line for each plate that is made for the kit, in the order of the job."""
    quantity = body.quantity()
    return tuple(
        _line(part, part.blank, quantity[part.mark])
        for part in body.kinds()
        if part.blank is not None and part.spec.made
    )


def _line(part: Part, blank: Drawing, quantity: int) -> PlateLine:
    length, width = overall(blank)
    return PlateLine(
        mark=part.mark,
        quantity=quantity,
        drawing=part.spec.drawing,
        fingerprint=blank.fingerprint[:8],
        thickness=part.spec.thickness or math.nan,
        grade=part.spec.grade,
        length=length,
        width=width,
        holes=len(blank.holes),
        cut_length=cut_length(blank),
        mass_each=_ordered(part),
        supplier=part.spec.supplier,
        note="; ".join(_notes(part, blank)),
    )


def _ordered(part: Part) -> float:
    """Mass of the plate as it is ordered, kg: of the thickness stated, where another was measured."""
    stated = part.spec.thickness
    if part.spec.mass or stated is None or part.spec.measured_thickness is None:
        return part.mass
    return part.mass * stated / part.thickness


def overall(blank: Drawing) -> tuple[float, float]:
    """Overall size of a blank, mm, larger first; NaN where no outline closes."""
    if blank.outline is None:
        return math.nan, math.nan
    x0, y0, x1, y1 = plane.bounds(blank.outline).tolist()
    return max(x1 - x0, y1 - y0), min(x1 - x0, y1 - y0)


def cut_length(blank: Drawing) -> float:
    """Length of all that is cut, mm: outline, cut-outs and holes."""
    profiles = [*([blank.outline] if blank.outline is not None else []), *blank.cutouts]
    return sum(plane.length(profile) for profile in profiles) + math.pi * float(np.sum(blank.holes.diameter))


def _notes(part: Part, blank: Drawing) -> list[str]:
    notes = []
    if part.hand and part.hand != part.spec.drawn:
        notes.append("opposite hand: cut from the mirrored drawing")
    if part.spec.folds or part.spec.joggles:
        notes.append("folded after cutting: size of the blank")
    if part.spec.formed:
        left = "trim not stated" if part.spec.trim is None else f"{part.spec.trim:g} mm left on all edges"
        notes.append(f"formed to template after cutting: size of the blank, {left}")
    if part.spec.cone is not None:
        notes.append("rolled to a cone after cutting: size of the blank")
    for one in part.spec.tapers:
        (x0, y0), (x1, y1) = [(x + 0.0, y + 0.0) for x, y in one.line]  # no minus before a nought
        notes.append(f"thinned to {one.edge:g} mm on the {one.face} face beyond ({x0:g}, {y0:g}) to ({x1:g}, {y1:g})")
    if blank.outline is None:
        notes.append("no outline closes: not to be ordered")
    if math.isnan(part.thickness):
        notes.append("thickness not stated: mass not known")
    return notes
