"""The check sheet: what the draughtsman needs before a DXF goes out."""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping
from itertools import chain, repeat
from pathlib import PurePath

import numpy as np

from fabplan.geom.holders import one_by_one
from fabplan.geom.profile import bounds
from fabplan.model.arrays import FloatArray
from fabplan.model.checked import Checked
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.layout import SpacingFigure
from fabplan.model.page import Page, Text
from fabplan.model.plan import Plan
from fabplan.sheets.frame import A3, SIGN, Paper, Sheet, framed, room, signed
from fabplan.sheets.pen import Box, short
from fabplan.sheets.picture import extent, fitting_view, line_key, plate_picture
from fabplan.sheets.pieces import metal_reach, on_pieces, piece_names
from fabplan.sheets.schedule import diameter_letters, hole_schedule
from fabplan.sheets.table import Table, flow, notes

SHARE = 0.56  # of the page's width, for a picture that stands beside the lists
LOWEST = 60.0  # mm, the least height of a picture above the lists, and of the lists below it
UNDER = 20.0  # mm, the least height of lists under a picture that stands beside others
TITLE, HEAD = 6.0, 11.0  # mm: capitals of the heading, and its room
GAP = 4.0
MOST_PIECES = 24  # pieces of one drawing that have a sheet of their own, numbers that are listed
_BESIDE = "how the piece meets its mates, but for what is listed here: see the findings of the plan"
LONGEST = 60  # signs of a text that are shown
SIGNED = (
    ("drawn, initials", 0.2),
    ("date", 0.2),
    ("checked by a second person, initials", 0.3),
    ("accepted with these findings: which, and why", 0.6),
)


def check_sheets(plan: Plan) -> tuple[Page, ...]:
    """The check sheets of a plan, each struck where the plan has a stop anywhere: no piece of it may go out."""
    stops = sum(finding.blocks for finding in plan.findings)
    return tuple(page for one in plan.checked for page in check_sheet(one, plan.job, stops))


def check_sheet(checked: Checked, job: Job | None, stops: int | None = None) -> tuple[Page, ...]:
    """The check sheet of one drawing: one page, more where the lists are long.

    Args:
        checked: the drawing, with what its body tells of it.
        job: for the title block, or None.
        stops: open stops of the plan; None counts those of the drawing by itself.
    """
    findings = _listed(checked)
    if stops is None:
        stops = sum(finding.blocks for finding in findings)
    paper = Paper("Check sheet", A3, job, stops)
    area = room(paper)
    inner = (area[0], area[1] + SIGN + 2.0, area[2], area[3] - HEAD)
    letters = diameter_letters(checked.drawing.holes.diameter)
    tables = _tables(checked)
    drawn, boxes = _places(checked, tables, inner)
    numbered = dict(enumerate(findings, start=1))
    picture = plate_picture(checked.drawing, numbered, letters, drawn)
    columns = flow(tables, _boxes(boxes, area))
    listed = tuple(range(1, len(findings) + 1))
    subject = _subject(checked)
    head = short(subject, area[2] - area[0], TITLE, bold=True)
    fixed = (Text((area[0], area[3] - TITLE - 1.0), head, TITLE, bold=True), *signed(area, SIGNED))
    first = [item for column in columns[: len(boxes)] for item in column]
    sheets = [Sheet((*fixed, *picture.items, *first), tuple(picture.rings), listed, subject)]
    sheets += _piece_sheets(checked, findings, area)
    rest = columns[len(boxes) :]
    sheets += [
        Sheet(tuple(item for column in rest[k : k + 2] for item in column), subject=subject)
        for k in range(0, len(rest), 2)
    ]
    return framed(paper, sheets)


def _piece_sheets(checked: Checked, findings: tuple[Finding, ...], area: Box) -> list[Sheet]:
    """A sheet for each of several pieces of a drawing, the largest first: its picture, size, findings and holes."""
    drawing, sheets = checked.drawing, []
    own = one_by_one(drawing) if drawing.shapes else ()
    letters = dict(zip(drawing.holes.number, diameter_letters(drawing.holes.diameter), strict=True))
    split = area[0] + SHARE * (area[2] - area[0])
    told = on_pieces(findings, drawing)
    for name, piece, numbered in list(zip(piece_names(drawing), own, told, strict=False))[:MOST_PIECES]:
        box = (area[0], area[1] + 2.0, split, area[3] - HEAD)
        named = [letters[number] for number in piece.holes.number]
        picture = plate_picture(piece, numbered, named, box)
        head = short(f"{name}, of {_subject(checked)}", area[2] - area[0], TITLE, bold=True)
        title = Text((area[0], area[3] - TITLE - 1.0), head, TITLE, bold=True)
        facts = Table("", ("", ""), (0.75, 4.45), (("overall size", _size(piece)), *_key(piece)))
        tables = [
            facts,
            finding_table("Findings at this piece, by their numbers in the list of all", numbered, (name,)),
        ]
        tables.append(_hole_schedule(piece, "Hole schedule", letters))
        columns = flow(tables, repeat((split + GAP, *box[1:2], area[2], box[3])))
        items = (title, *picture.items, *columns[0])
        sheets.append(Sheet(items, tuple(picture.rings), tuple(numbered), _subject(checked)))
        sheets += [Sheet(tuple(column), subject=_subject(checked)) for column in columns[1:]]
    return sheets


def _listed(checked: Checked) -> tuple[Finding, ...]:
    """All findings on the piece in the order of their numbers: gravest first, of one level the drawing's own first."""
    return tuple(sorted([*checked.findings, *checked.of_body], key=lambda finding: finding.level))


def _subject(checked: Checked) -> str:
    mark = checked.part.mark if checked.part else ""
    return ", ".join(filter(None, [mark, checked.drawing.name, checked.drawing.fingerprint[:8]]))


def _places(checked: Checked, tables: list[Table], inner: Box) -> tuple[Box, list[Box]]:
    """Where the picture goes and where the lists go on the first page: beside it, or below it where that is larger."""
    x0, y0, x1, y1 = inner
    split = x0 + SHARE * (x1 - x0)
    beside = (x0, y0, split, y1), [(split + GAP, y0, x1, y1)]
    reach = extent(checked.drawing)
    if reach is None:
        return beside
    scale = fitting_view(*reach, beside[0]).scale
    room = y1 - y0 - LOWEST - GAP
    if fitting_view(*reach, (x0, y1 - room, x1, y1)).scale >= scale:
        return _and_under(reach, tables, beside)
    middle = (x0 + x1) / 2.0
    foot = _foot(tables, middle - 3.0 - x0, room)
    below = (x0, y0 + foot + GAP, x1, y1), [(x0, y0, middle - 3.0, y0 + foot), (middle + 3.0, y0, x1, y0 + foot)]
    if foot <= room and fitting_view(*reach, below[0]).scale < scale:
        return below
    return _and_under(reach, tables, beside)


def _and_under(
    reach: tuple[FloatArray, FloatArray], tables: list[Table], beside: tuple[Box, list[Box]]
) -> tuple[Box, list[Box]]:
    """The lists beside the picture; what does not fit there goes under it, where that makes the picture no smaller."""
    (x0, y0, split, y1), lists = beside
    scale = fitting_view(*reach, beside[0]).scale
    for high in np.arange(UNDER, (y1 - y0) / 2.0, 5.0).tolist():
        above, under = (x0, y0 + high + GAP, split, y1), (x0, y0, split, y0 + high)
        used = len(flow(tables, chain(lists, repeat(under))))
        if used <= 1 or fitting_view(*reach, above).scale > scale:
            break
        if used == 2:
            return above, [*lists, under]
    return beside


def _foot(tables: list[Table], wide: float, most: float) -> float:
    """The least height at which the lists fit two columns, mm, in steps of 5; infinite where it is over `most`."""
    for high in np.arange(LOWEST, most, 5.0).tolist():
        if len(flow(tables, repeat((0.0, 0.0, wide, high)))) <= 2:
            return float(high)
    return float("inf")


def _boxes(first: list[Box], area: Box) -> Iterator[Box]:
    """The boxes of the first page; two columns on each page after."""
    yield from first
    middle = (area[0] + area[2]) / 2.0
    while True:
        yield area[0], area[1], middle - 3.0, area[3]
        yield middle + 3.0, area[1], area[2], area[3]


def _tables(checked: Checked) -> list[Table]:
    return [
        _facts(checked),
        finding_table("Findings", dict(enumerate(_listed(checked), start=1)), _own(checked)),
        *_schedules(checked.drawing),
        _spacings(checked.figures),
        _aside(checked),
        notes("Not checked", [*checked.not_checked, _BESIDE]),
        notes("Checked by", checked.used),
    ]


def _facts(checked: Checked) -> Table:
    drawing, part = checked.drawing, checked.part
    rows = [("overall size", _size(drawing))]
    if drawing.shapes:
        rows = [
            (
                "pieces",
                f"{len(drawing.shapes)}, each with a schedule of its own; sizes and pictures on sheets of their own",
            )
        ]
    if drawing.units_reason:
        rows.append(("unit", f"{drawing.units} ({drawing.units_reason})"))
    if part is not None:
        spec = part.spec
        grade = spec.grade or "grade not stated"
        marked = f"; looks {spec.marked}" if spec.marked else ""
        hand = f"; drawn hand {spec.drawn}, this sheet {part.hand}" if part.hand else ""
        rows += [
            ("piece", f"{part.mark}, {spec.quantity} off{hand}"),
            ("plate", f"{part.thickness_words}, {grade}, {part.mass:.1f} kg"),
            ("marked face", f"the face drawn, up as cut{marked}"),
        ]
        if spec.provenance is not None:
            rows.append(("provenance", spec.provenance.words))
        if spec.measured is not None:
            rows.append(("measured", spec.measured.words))
    return Table("", ("", ""), (0.75, 4.45), (*rows, *_key(drawing)))


def _size(drawing: Drawing) -> str:
    """Overall length and width of the outline, mm, in words."""
    if drawing.outline is None:
        return "no closed outline"
    low, high = np.split(bounds(drawing.outline), 2)
    return f"{high[0] - low[0]:.1f} x {high[1] - low[1]:.1f}"


def _key(drawing: Drawing) -> list[tuple[str, str]]:
    key = line_key(drawing)
    return [("lines", key)] if key else []


def _own(checked: Checked) -> frozenset[str]:
    """The names that the sheet's piece goes by."""
    return frozenset([checked.part.mark if checked.part else "", PurePath(checked.drawing.name).stem])


def finding_table(title: str, findings: Mapping[int, Finding], own: Collection[str]) -> Table:
    """Numbered findings with figures, source and remedy; one row says so where there is none.

    Args:
        title: of the table.
        findings: by the numbers of their rings.
        own: names of the sheet's piece, which the places need not repeat.
    """
    if not findings:
        return notes(title, ["No fault found by these checks with these data."])
    rows = []
    for number, finding in findings.items():
        where = finding.where
        place = [where.part if where.part not in own else "", where.seam and f"seam {where.seam}"]
        if where.xy:
            place.append(f"x {where.xy[0]:.1f} y {where.xy[1]:.1f}")
        if where.xy and where.holes and where.holes[0] not in finding.what:
            place.append("hole " + ", ".join(where.holes[:3]) + (" ..." if len(where.holes) > 3 else ""))
        if where.handles:
            place.append("handle " + ", ".join(where.handles[:3]) + (" ..." if len(where.handles) > 3 else ""))
        words = f"{finding.check}: {finding.what}. {finding.accepted or finding.mend} [{finding.source}]"
        rows.append((str(number), finding.rank, words, "; ".join(filter(None, place))))
    return Table(title, ("no", "level", "what and remedy [source]", "place"), (0.5, 1.15, 6.0, 2.0), tuple(rows))


def _schedules(drawing: Drawing) -> list[Table]:
    """The holes of a drawing, of several pieces each by itself, and last what lies in none of them."""
    if not drawing.shapes:
        return [_hole_schedule(drawing, "Hole schedule")]
    letters = dict(zip(drawing.holes.number, diameter_letters(drawing.holes.diameter), strict=True))
    own = list(zip(piece_names(drawing), one_by_one(drawing), strict=True))
    tables = [_hole_schedule(one, f"Holes of {name}", letters) for name, one in own if len(one.holes)]
    held = {number for _, one in own for number in one.holes.number}
    left = [number for number in drawing.holes.number if number not in held]
    tables += [notes(f"{len(left)} holes in no piece", [", ".join(left[:MOST_PIECES])])] if left else []
    return tables or [_hole_schedule(drawing, "Hole schedule")]


def _hole_schedule(drawing: Drawing, title: str, letters: Mapping[str, str] | None = None) -> Table:
    """One line for the holes of one row, diameter and purpose.

    Args:
        drawing: of one piece.
        title: of the table; the count of holes follows.
        letters: of the diameters, by the number of a hole; by default those of the drawing by itself.
    """
    holes = drawing.holes
    reach = metal_reach(drawing) or extent(drawing)
    corner = reach[0] if reach else np.zeros(2)
    rows = []
    for group in hole_schedule(holes):
        start = " ".join(f"{value:.1f}".removesuffix(".0") for value in holes.xy[group.holes[0]] - corner + 0.0)
        letter = letters[holes.number[group.holes[0]]] if letters else group.letter
        count = str(len(group.holes))
        rows.append((letter, f"{group.diameter:g}", group.purpose, group.row, count, start, group.runs))
    heads = ("", "dia", "for", "row", "no", "hole 1 from left, foot", "spacing")
    total = f"{title}: {len(holes)} holes"
    return Table(total, heads, (0.35, 0.7, 0.75, 1.2, 0.7, 2.75, 3.6), tuple(rows), right=(1, 4))


def _spacings(figures: tuple[SpacingFigure, ...]) -> Table:
    rows = [
        (
            figure.what,
            f"{_figure(figure.least)} to {_figure(figure.greatest)}",
            _figure(figure.code_least),
            _figure(figure.code_greatest),
            _figure(figure.practice),
            "; ".join(filter(None, [figure.source, figure.why])),
        )
        for figure in figures
    ]
    heads = ("spacing", "found", "least", "greatest", "drivable", "source")
    return Table(
        "Spacing against the rules (drivable: 3 d)",
        heads,
        (1.6, 1.5, 0.7, 1.05, 1.05, 3.0),
        tuple(rows),
        right=(1, 2, 3, 4),
    )


def _figure(value: float) -> str:
    return f"{value:.1f}" if np.isfinite(value) else "-"


def _quoted(words: str, count: int) -> str:
    """The first text of some that were set aside."""
    if not words:
        return ""
    return f': "{words[:LONGEST]}{"..." if len(words) > LONGEST else ""}"' + (" and others" if count > 1 else "")


def _aside(checked: Checked) -> Table:
    account = checked.drawing.account
    said = {label.handle: label.text for label in checked.drawing.labels}
    words = {(e.fate, e.kind, e.layer, e.reason): said[e.handle] for e in reversed(account) if said.get(e.handle)}
    groups = Counter((entry.fate, entry.kind, entry.layer, entry.reason) for entry in account)
    rows = [
        (fate, str(count), kind, layer, reason + _quoted(words.get((fate, kind, layer, reason), ""), count))
        for (fate, kind, layer, reason), count in sorted(groups.items())
        if fate != "used"
    ]
    fates = Counter(entry.fate for entry in account)
    counted = checked.drawing.scanned if checked.drawing.scanned >= 0 else "not counted: binary"
    title = f"Entities {counted} = {fates['used']} used + {fates['set aside']} set aside + {fates['reported']} reported"
    heads = ("fate", "no", "entity", "layer", "why")
    return Table(title, heads, (1.1, 0.6, 1.6, 2.0, 3.2), tuple(rows) or (("", "", "", "", "nothing set aside"),), (1,))
