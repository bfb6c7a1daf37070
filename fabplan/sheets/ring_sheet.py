"""The forming sheet of a bent bar: which way it is bent, its radii and straight length, and each hole by its angle."""

import math

from fabplan.model.forming import FormingRecord, RingRecord
from fabplan.model.part import Part
from fabplan.sheets.formed import DEGREE, Formed, as_formed, formed_sheets, to_measure
from fabplan.sheets.frame import Paper, Sheet
from fabplan.sheets.table import Table, columns, notes

TOLD = (
    "The bar is cut to the straight length, by the centroid of its section (common practice); grips at the ends of "
    "the rolls ask for more: ask the bender, and trim after.",
    "Holes are set out by angle from the marked end, after bending; along the straight bar they drift with the "
    "bender's neutral line.",
    "Springback is not in these figures: bend to the radius, by template.",
)


def ring_sheets(paper: Paper, record: FormingRecord, ring: RingRecord, part: Part) -> list[Sheet]:
    """The sheet of a bent bar, and more where its holes ask for them."""
    told = Formed(f"{record.mark}, {ring.section}", "bent", 0.45, _tables(record, ring, part))
    return formed_sheets(paper, told, lambda area: as_formed(part, area, "as bent"))


def _tables(record: FormingRecord, ring: RingRecord, part: Part) -> list[Table]:
    stated = (
        ("section", ring.section + (f", {part.spec.grade}" if part.spec.grade else ", grade not stated")),
        ("bent", bent_way(part.section.kind if part.section else "", ring.centre)),
        ("arc", f"{ring.angle:.2f}{DEGREE}"),
        ("straight length, on the centroid", f"{ring.length:.1f}"),
        ("radius of the centroid", f"{ring.neutral:.2f}"),
    )
    holes = tuple((number, f"{angle:.3f}{DEGREE}", f"{at:.1f}") for number, angle, at in ring.holes)
    return [
        Table("Bar", ("what", "stated"), (2.0, 3.0), stated),
        to_measure("bending", _measures(ring)),
        notes("", TOLD),
        columns("Holes: angle from the marked end, mm along the straight bar", ("hole", "angle", "along"), holes),
    ]


def _measures(ring: RingRecord) -> tuple[tuple[str, str, str], ...]:
    """Diameters of a ring, or radii with chord and rise of an arc."""
    if ring.angle >= 180.0:
        rows = [("diameter inside", 2.0 * ring.inside), ("diameter outside", 2.0 * ring.outside)]
    else:
        half = math.radians(ring.angle) / 2.0
        rows = [
            ("radius inside", ring.inside),
            ("chord inside, end to end", 2.0 * ring.inside * math.sin(half)),
            ("rise inside", ring.inside * (1.0 - math.cos(half))),
        ]
    return tuple((what, f"{value:.1f}", "") for what, value in rows)


def bent_way(kind: str, centre: str) -> str:
    """Which way a bar is bent, in words.

    >>> bent_way("angle", "+y")
    'leg a on edge, its toe inwards, the heel outside'
    """
    inwards = centre.startswith("+")
    if kind == "angle":
        leg = {"y": "a", "z": "b"}[centre[1]]
        return f"leg {leg} on edge, its toe {'inwards, the heel outside' if inwards else 'outwards, the heel inside'}"
    if centre[1] == "y":
        return f"on edge, the edge y = 0 {'outside' if inwards else 'inside'}"
    face = "flat face" if kind == "half-round" else "marked face"
    return f"on its flat, the {face} {'inside' if inwards else 'outside'}"
