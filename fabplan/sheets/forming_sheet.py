"""The forming sheet: where each bend lies on the blank, how far and which way it goes, and what to measure after."""

import math

import numpy as np

from fabplan.model.forming import BendRecord, FormingRecord
from fabplan.model.page import Page, Stroke, Text
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.sheets.cone_sheet import cone_sheets
from fabplan.sheets.formed import DEGREE, Formed, as_formed, formed_sheets, named, to_measure
from fabplan.sheets.frame import A3, Paper, Sheet, framed
from fabplan.sheets.pen import Box
from fabplan.sheets.picture import Item, Picture, View, extent, fitting_view, plate_picture
from fabplan.sheets.ring_sheet import ring_sheets
from fabplan.sheets.table import Table, notes
from fabplan.sheets.template_sheet import template_sheets

CAUTION = (
    "Hands off the line of the bend; nobody behind the sheet as it swings. Edges and drops cut: gloves, lift by two."
)


def forming_sheets(plan: Plan) -> tuple[Page, ...]:
    """A page or more for each folded, rolled or coned plate, each bent bar, each piece formed to template."""
    if plan.body is None:
        return ()
    parts = {part.mark: part for part in plan.body.parts}
    stops = sum(finding.blocks for finding in plan.findings)
    paper = Paper("Forming sheet", A3, plan.job, stops, (CAUTION,))
    sheets = [sheet for record in plan.forming for sheet in _sheets(paper, record, parts[record.mark])]
    return framed(paper, sheets)


def _sheets(paper: Paper, record: FormingRecord, part: Part) -> list[Sheet]:
    if record.ring is not None:
        return ring_sheets(paper, record, record.ring, part)
    if record.template is not None:
        return template_sheets(paper, record, record.template, part)
    if record.cone is not None:
        return cone_sheets(paper, record, record.cone, part)
    return _bent_sheets(paper, record, part)


def _bent_sheets(paper: Paper, record: FormingRecord, part: Part) -> list[Sheet]:
    def draw(area: Box) -> list[Item]:
        x0, y0, x1, y1 = area
        middle = y0 + 0.4 * (y1 - y0)
        small = (x0, y0, x1, middle - 4.0)
        blank = _blank(record, part, (x0, middle, x1, y1))
        return [*blank, *as_formed(part, small, "as formed, marked face up")]

    return formed_sheets(paper, Formed(named(part, record.mark), "formed", 0.52, _tables(record, part)), draw)


def _blank(record: FormingRecord, part: Part, area: Box) -> list[Item]:
    """The blank with its bends numbered; the edges of each bent zone thin beside its middle."""
    assert part.blank is not None
    picture = plate_picture(part.blank, {}, (), area)
    reach = extent(part.blank)
    assert reach is not None
    view = fitting_view(*reach, area)
    for number, bend in enumerate(record.bends, start=1):
        _bend(picture, view, bend)
        _number(picture, view, area, bend, str(number))
    return sorted(picture.items, key=lambda item: isinstance(item, Text))  # words over the lines of the bends


def _bend(picture: Picture, view: View, bend: BendRecord) -> None:
    start, end = np.array(bend.start), np.array(bend.end)
    along = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
    half = np.array([along[1], -along[0]]) * bend.width / 2.0
    for side in (-1.0, 1.0):
        picture.items.append(Stroke((view.at(start + side * half), view.at(end + side * half)), 0.13))
    picture.items.append(Stroke((view.at(start), view.at(end)), 0.35, (4.0, 1.2)))


def _number(picture: Picture, view: View, area: Box, bend: BendRecord, number: str) -> None:
    """A bend's number beyond one of its ends, or on its line where words or other pieces stand there."""
    start, end = np.array(view.at(bend.start)), np.array(view.at(bend.end))
    beyond = 4.0 / max(float(np.hypot(*(end - start))), 1e-9)
    places = [start + share * (end - start) for share in (1.0 + beyond, -beyond, 0.9, 0.1, 0.7, 0.3, 0.5)]
    texts = [Text((float(x), float(y) - 1.2), number, 3.5, "middle", bold=True, halo=True) for x, y in places]
    picture.write(next((text for text in texts if picture.free(text, area)), texts[0]))


def _tables(record: FormingRecord, part: Part) -> list[Table]:
    heads = ("no", "line", "turn", "inside radius", "which way", "zone", "k", "legs less blank", "line to edges")
    rows = tuple(
        (
            str(number),
            bend.name,
            f"{abs(bend.angle):.1f}{DEGREE}",
            f"{bend.radius:g}",
            "towards the marked face" if bend.angle > 0.0 else "away from the marked face",
            f"{bend.width:.1f}",
            f"{bend.factor:.3f}",
            "-" if bend.rolled else f"{-bend.allowance:.1f}",
            " and ".join(f"{edge:.1f}" for edge in bend.edges),
        )
        for number, bend in enumerate(record.bends, start=1)
    )
    plate = f"plate {record.thickness:g} mm" + (f", {part.spec.grade}" if part.spec.grade else ", grade not stated")
    told = (
        f"{plate}. Bend in the order of the numbers; the line is the middle of the bent zone, "
        "measured square to it to the farthest metal on either side.",
        _neutral(record),
        *(
            f"Joggle {one.name}: press both bends together, by {one.angle:.1f}{DEGREE}, over a piece as thick as "
            f"its mate; it shortens the plate by {one.shortening:.2f} mm."
            for one in record.joggles
        ),
        "Springback is not in these figures: bend to the angle and radius, by template.",
    )
    return [
        Table("Bends", heads, (0.5, 1.6, 1.0, 1.2, 2.2, 0.9, 0.9, 1.3, 1.6), rows, (0, 3, 5, 6, 7, 8)),
        to_measure("forming", _measures(record)),
        notes("", told),
    ]


def _neutral(record: FormingRecord) -> str:
    """Whose figure the k of each bend is, and what to do where it is not the bender's own."""
    by = {bend.by: [str(n) for n, one in enumerate(record.bends, 1) if one.by == bend.by] for bend in record.bends}
    words = "; ".join(f"{', '.join(numbers)}: {whose}" for whose, numbers in by.items())
    ask = " The bender's own allowance stands above DIN 6935: ask him before the blank is cut."
    return f"k of the neutral line, by bends: {words}.{ask if 'DIN 6935' in by else ''}"


def _measures(record: FormingRecord) -> tuple[tuple[str, str, str], ...]:
    """Sizes over the outside, angles between legs, chords and rises of rolled zones."""
    rows = [(f"over the outside, along {axis} of the blank's still piece", f"{size:.1f}") for axis, size in
            zip("xy", record.size[:2], strict=True)]  # fmt: skip
    rows.append(("over the outside, square to the still piece", f"{record.size[2]:.1f}"))
    for number, bend in enumerate(record.bends, start=1):
        turn = math.radians(abs(bend.angle))
        if not bend.rolled:
            rows.append((f"bend {number}: angle between the legs", f"{180.0 - abs(bend.angle):.1f}{DEGREE}"))
        elif turn < math.pi:
            rows.append((f"bend {number}: chord inside", f"{2.0 * bend.radius * math.sin(turn / 2.0):.1f}"))
            rows.append((f"bend {number}: rise inside", f"{bend.radius * (1.0 - math.cos(turn / 2.0)):.1f}"))
        else:
            rows.append((f"bend {number}: diameter inside", f"{2.0 * bend.radius:.1f}"))
    for one in record.joggles:
        way = "towards the marked face" if one.depth > 0.0 else "away from the marked face"
        rows.append((f"joggle {one.name}: set {way}", f"{abs(one.depth):.1f}"))
        rows.append((f"joggle {one.name}: run", f"{one.run:.1f}"))
    return tuple((what, wanted, "") for what, wanted in rows)
