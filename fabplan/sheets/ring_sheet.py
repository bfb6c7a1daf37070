"""The forming sheet of a bent bar: which way it is bent, its radii and straight length, and each hole by its angle."""

import math
from itertools import chain, repeat

from fabplan.model.body import Body
from fabplan.model.forming import FormingRecord, RingRecord
from fabplan.model.page import Text
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.sheets.frame import Paper, Sheet, room, signed
from fabplan.sheets.isometric import isometric, scene
from fabplan.sheets.pen import LEAST, Box, short
from fabplan.sheets.picture import Item
from fabplan.sheets.table import Table, flow, notes

TITLE, SIGN, SHARE, GAP = 5.0, 14.0, 0.45, 6.0  # mm; share of the width that the picture takes
SIGNED = (("bent by, initials", 1.0), ("date", 1.0), ("what did not agree, and what was done", 3.0), ("checked", 1.0))
TOLD = (
    "The bar is cut to the straight length, by the centroid of its section (common practice); grips at the ends of "
    "the rolls ask for more: ask the bender, and trim after.",
    "Holes are set out by angle from the marked end, after bending; along the straight bar they drift with the "
    "bender's neutral line.",
    "Springback is not in these figures: bend to the radius, by template.",
)
DEGREE = "\N{DEGREE SIGN}"


def ring_sheets(paper: Paper, record: FormingRecord, ring: RingRecord, part: Part) -> list[Sheet]:
    """The sheet of a bent bar, and more where its holes ask for them."""
    x0, y0, x1, y1 = room(paper)
    top, foot, split = y1 - TITLE - 4.0, y0 + SIGN + 2.0, x0 + SHARE * (x1 - x0)
    subject = f"{record.mark}, {ring.section}"
    title = Text((x0, y1 - TITLE - 1.0), short(subject, x1 - x0, TITLE, bold=True), TITLE, bold=True)
    boxes = chain([(split + GAP, foot, x1, top)], repeat((x0, foot, x1, top)))
    pages = flow(_tables(record, ring, part), boxes)
    foot_items = signed((x0, y0, x1, y1), SIGNED)
    shown = [_formed(part, (x0, foot, split, top)), *([] for _ in pages[1:])]
    return [
        Sheet((title, *picture, *items, *foot_items), subject=subject)
        for picture, items in zip(shown, pages, strict=True)
    ]


def _formed(part: Part, area: Box) -> list[Item]:
    body = Body((part,), (Instance(part.mark, 0),), (Pose(),), ("",), ("",))
    caption = Text(((area[0] + area[2]) / 2.0, area[1] + 0.5), "as bent", LEAST, "middle")
    return [*isometric(scene(body), (area[0], area[1] + 5.0, area[2], area[3]), (0,), (0,)), caption]


def _tables(record: FormingRecord, ring: RingRecord, part: Part) -> list[Table]:
    stated = (
        ("section", ring.section + (f", {part.spec.grade}" if part.spec.grade else ", grade not stated")),
        ("bent", bent_way(part.section.kind if part.section else "", ring.centre)),
        ("arc", f"{ring.angle:.2f}{DEGREE}"),
        ("straight length, on the centroid", f"{ring.length:.1f}"),
        ("radius of the centroid", f"{ring.neutral:.2f}"),
    )
    holes = tuple((number, f"{angle:.3f}{DEGREE}", f"{at:.1f}") for number, angle, at in ring.holes)
    measured = _measures(ring)
    return [
        Table("Bar", ("what", "stated"), (2.0, 3.0), stated),
        Table("To measure after bending", ("what", "wanted", "found"), (4.0, 1.5, 1.5), measured, (1,), boxed=(2,)),
        notes("", TOLD),
        Table("Holes", ("hole", "angle", "along the straight bar"), (2.0, 1.5, 2.0), holes, (1, 2)),
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
