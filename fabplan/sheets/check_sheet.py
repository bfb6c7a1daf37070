"""The check sheet: what the draughtsman needs before a DXF goes out."""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from fabplan.model.finding import Finding, Level
from fabplan.model.job import Job
from fabplan.model.layout import SpacingFigure
from fabplan.model.page import Page
from fabplan.model.plan import Checked
from fabplan.sheets.frame import A3, Item, Paper, Sheet, framed, room
from fabplan.sheets.pen import Box
from fabplan.sheets.picture import Picture, hole_letters, plate_picture, runs
from fabplan.sheets.table import Table, flow, notes

SHARE = 0.56  # of the page's width, for the picture


def check_sheet(checked: Checked, job: Job | None) -> tuple[Page, ...]:
    """The check sheet of one drawing: one page, more where the lists are long."""
    stops = sum(finding.level is Level.STOP for finding in checked.findings)
    paper = Paper("Check sheet", A3, job, stops)
    area = room(paper)
    split = area[0] + SHARE * (area[2] - area[0])
    letters = hole_letters(checked.drawing.holes.diameter)
    picture = plate_picture(checked.drawing, checked.findings, letters, (area[0], area[1], split, area[3]))
    columns = flow(_tables(checked, letters), _boxes(area, split))
    listed = tuple(range(1, len(checked.findings) + 1))
    return framed(paper, _sheets(picture, columns, listed, _subject(checked)))


def _subject(checked: Checked) -> str:
    mark = f"{checked.part.mark}  " if checked.part else ""
    return f"{mark}{checked.drawing.name}  {checked.drawing.fingerprint[:8]}"


def _boxes(area: Box, split: float) -> Iterator[Box]:
    """Right of the picture on the first page; two columns on each page after."""
    yield split + 4.0, area[1], area[2], area[3]
    middle = (area[0] + area[2]) / 2.0
    while True:
        yield area[0], area[1], middle - 3.0, area[3]
        yield middle + 3.0, area[1], area[2], area[3]


def _sheets(picture: Picture, columns: list[list[Item]], listed: tuple[int, ...], subject: str) -> list[Sheet]:
    first = Sheet((*picture.items, *columns[0]), tuple(picture.rings), listed, subject)
    rest = [
        Sheet((*columns[k], *(columns[k + 1] if k + 1 < len(columns) else ())), subject=subject)
        for k in range(1, len(columns), 2)
    ]
    return [first, *rest]


def _tables(checked: Checked, letters: dict[float, str]) -> list[Table]:
    return [
        _facts(checked),
        finding_table("Findings", checked.findings),
        _hole_schedule(checked, letters),
        _spacings(checked.figures),
        _aside(checked),
        notes("Not checked", [*checked.not_checked, "how the piece meets its mates: see the findings of the plan"]),
        notes("Checked by", checked.used),
    ]


def _facts(checked: Checked) -> Table:
    drawing, part = checked.drawing, checked.part
    size = "no closed outline"
    if drawing.outline is not None:
        from fabplan.geom.profile import bounds

        low, high = np.split(bounds(drawing.outline), 2)
        size = f"{high[0] - low[0]:.1f} x {high[1] - low[1]:.1f}"
    rows = [("overall size", size), ("unit", f"{drawing.units} ({drawing.units_reason})")]
    if part is not None:
        spec = part.spec
        grade = spec.grade or "grade not stated"
        marked = f"; looks {spec.marked}" if spec.marked else ""
        hand = f"; drawn hand {spec.drawn}, this sheet {part.hand}" if part.hand else ""
        rows += [
            ("piece", f"{part.mark}, {spec.quantity} off{hand}"),
            ("plate", f"{part.thickness:g} mm, {grade}, {part.mass:.1f} kg"),
            ("marked face", f"the face drawn, up as cut{marked}"),
        ]
    return Table("", ("", ""), (1.0, 4.2), tuple(rows))


def finding_table(title: str, findings: tuple[Finding, ...]) -> Table:
    """Numbered findings with figures, source and remedy; one row says so where there is none."""
    if not findings:
        return notes(title, ["No fault found by these checks with these data."])
    rows = []
    for number, finding in enumerate(findings, start=1):
        where = finding.where
        place = [where.part, where.seam and f"seam {where.seam}"]
        if where.xy:
            place.append(f"x {where.xy[0]:.1f} y {where.xy[1]:.1f}")
        if where.handles:
            place.append("handle " + ", ".join(where.handles[:3]) + (" ..." if len(where.handles) > 3 else ""))
        words = f"{finding.check}: {finding.what}. {finding.mend} [{finding.source}]"
        rows.append((str(number), str(finding.level), words, "; ".join(filter(None, place))))
    return Table(title, ("no", "level", "what and remedy [source]", "place"), (0.5, 0.9, 6.0, 2.0), tuple(rows))


def _hole_schedule(checked: Checked, letters: dict[float, str]) -> Table:
    holes = checked.drawing.holes
    groups: dict[tuple[str, float, str], list[int]] = {}
    for i, (row, diameter, purpose) in enumerate(zip(holes.row, holes.diameter, holes.purpose, strict=True)):
        groups.setdefault((row, round(float(diameter), 2), purpose), []).append(i)
    rows = []
    for (row, diameter, purpose), own in groups.items():
        spacing = runs(holes.xy[own]) if row else ""
        rows.append((letters[diameter], f"{diameter:g}", purpose, row, str(len(own)), spacing))
    heads = ("", "dia", "for", "row", "no", "spacing from hole 1")
    total = f"Hole schedule: {len(holes)} holes"
    return Table(total, heads, (0.5, 0.9, 0.9, 1.8, 0.7, 4.4), tuple(rows), right=(1, 4))


def _spacings(figures: tuple[SpacingFigure, ...]) -> Table:
    rows = [
        (
            figure.what,
            f"{_figure(figure.least)} to {_figure(figure.greatest)}",
            _figure(figure.code_least),
            _figure(figure.code_greatest),
            _figure(figure.practice),
            figure.source,
        )
        for figure in figures
    ]
    heads = ("spacing", "found", "code least", "code greatest", "drivable (3 d)", "code")
    return Table("Spacing against the rules", heads, (1.5, 1.8, 1.1, 1.2, 1.2, 2.6), tuple(rows), right=(1, 2, 3, 4))


def _figure(value: float) -> str:
    return f"{value:.1f}" if np.isfinite(value) else "-"


def _aside(checked: Checked) -> Table:
    account = checked.drawing.account
    groups = Counter((entry.fate, entry.kind, entry.layer, entry.reason) for entry in account)
    rows = [
        (fate, str(count), kind, layer, reason)
        for (fate, kind, layer, reason), count in sorted(groups.items())
        if fate != "used"
    ]
    fates = Counter(entry.fate for entry in account)
    counted = checked.drawing.scanned if checked.drawing.scanned >= 0 else "not counted: binary"
    title = f"Entities {counted} = {fates['used']} used + {fates['set aside']} set aside + {fates['reported']} reported"
    heads = ("fate", "no", "entity", "layer", "why")
    return Table(title, heads, (1.1, 0.6, 1.6, 2.0, 3.2), tuple(rows) or (("", "", "", "", "nothing set aside"),), (1,))
