"""The tables of the report of a drawing check: findings, holes, spacings, and what became of every entity."""

import math
from collections import Counter
from collections.abc import Collection, Sequence

import numpy as np

from fabplan.model.checked import Checked
from fabplan.model.drawing import Drawing, Entry
from fabplan.model.finding import Finding
from fabplan.model.layout import SpacingFigure
from fabplan.sheets.caution import stopped
from fabplan.sheets.markup import Markup, element, figure, joined, listed, number, row, table, words
from fabplan.sheets.pieces import feet, metal_reach
from fabplan.sheets.plate_svg import Frame, ringed
from fabplan.sheets.schedule import HoleGroup

MOST_ROWS = 400  # of one table; what is left out is counted in its last row
MOST_FINDINGS = 1000  # of one drawing, gravest first; the rest is counted
MOST_TEXTS = 30  # texts of the drawing that are shown
MOST_NAMES = 6  # handles or holes named at a finding
REACH = (30.0, 12.0)  # mm shown at least round a finding, and the multiple of its measured length
PASS = "No fault found by these checks with these data"
FINDINGS = ("no", "level", "what", "place", "measured", "required", "source", "remedy")
HOLES = ("letter", "diameter", "for", "row", "count", "hole 1 from left, foot", "spacing")
SPACINGS = ("spacing", "found", "least", "greatest", "drivable", "source")
ENTITIES = ("fate", "count", "entity", "layer", "why")


def verdict(findings: Sequence[Finding]) -> str:
    """The sentence over a list: how many stops stand open, or that no fault was found; never more than that."""
    stops = sum(finding.blocks for finding in findings)
    if stops:
        return stopped(stops)
    if all(finding.accepted or str(finding.level) == "note" for finding in findings):
        return f"{PASS}{' but those accepted' if any(finding.accepted for finding in findings) else ''}."
    return "No stop; ask before it goes out."


def finding_table(findings: Sequence[Finding], own: Collection[str], frame: Frame | None = None) -> Markup:
    """Numbered findings with their figures; those with a ring can be picked.

    Args:
        findings: in the order of the rings.
        own: names of the sheet's piece, which the places need not repeat.
        frame: of the picture; None where there is none.
    """
    if not findings:
        return element("p", f"{PASS}.")
    rows = []
    for count, one in enumerate(findings[:MOST_FINDINGS], start=1):
        picked = ringed(one, frame)
        label = f"show finding {count}, {one.check}, in the picture"
        name = element("button", count, type="button", class_="number", aria_label=label) if picked else Markup(count)
        kind = element("span", one.rank, class_=f"level {one.level}")
        what = element("span", one.check, class_="check") + ": " + words(one.what)
        cells = (name, kind, what, _place(one, own), *_figures(one), words(one.source), _remedy(one))
        ring = {"data_n": count, "data_reach": number(_reach(one, frame), 1)} if picked else {}
        rows.append(row(FINDINGS, cells, (4, 5), **ring))
    title = "A number leads to its ring in the picture." if frame else ""
    left = len(findings) - len(rows)
    told = element("p", f"{left} more findings, not shown here: see --json.") if left else Markup("")
    return joined([table(title, FINDINGS, rows, "findings"), told])


def _figures(finding: Finding) -> tuple[str, str]:
    return figure(finding.measured, finding.unit), figure(finding.required, finding.unit)


def _remedy(finding: Finding) -> Markup:
    told = [finding.mend, finding.accepted]
    return joined((element("span", one, class_="mend") for one in told if one), "")


def _place(finding: Finding, own: Collection[str]) -> str:
    where = finding.where
    place = [where.part if where.part not in own else "", where.seam and f"seam {where.seam}"]
    if where.xy is not None and math.isfinite(sum(where.xy)):
        place.append(f"x {number(where.xy[0], 1)} y {number(where.xy[1], 1)}")
    place += [_few("hole", where.holes), _few("handle", where.handles)]
    return "; ".join(filter(None, place))


def _few(what: str, names: Sequence[str]) -> str:
    if not names:
        return ""
    more = f" and {len(names) - MOST_NAMES} more" if len(names) > MOST_NAMES else ""
    return f"{what}{'s' if len(names) > 1 else ''} {', '.join(names[:MOST_NAMES])}{more}"


def _reach(finding: Finding, frame: Frame | None) -> float:
    """How much of the plate to show round a finding, mm: some times what was measured, else a third of the plate."""
    third = max(frame.size) / 3.0 if frame else REACH[0]
    if finding.unit != "mm" or finding.measured is None or not math.isfinite(finding.measured):
        return third
    return min(max(abs(finding.measured) * REACH[1], REACH[0]), third)


def hole_table(drawing: Drawing, groups: Sequence[HoleGroup], frame: Frame | None) -> Markup:
    """The hole schedule."""
    if not groups:
        return element("p", "No round holes.")
    foot = feet(drawing) if metal_reach(drawing) or not frame else np.tile(frame.low, (len(drawing.holes), 1))
    rows = []
    for group in groups[:MOST_ROWS]:
        x, y = (drawing.holes.xy[group.holes[0]] - foot[group.holes[0]]).tolist()
        start = f"{number(x, 1)}, {number(y, 1)}" if math.isfinite(x + y) else "no number"
        cells = (group.letter, figure(group.diameter), group.purpose, group.row, len(group.holes), start, group.runs)
        rows.append(row(HOLES, cells, (1, 4, 5)))
    rest = sum(len(group.holes) for group in groups[MOST_ROWS:])
    if rest:
        rows.append(row(HOLES, ("", "", "", "more rows, not shown", rest, "", ""), (4,)))
    return table(f"{len(drawing.holes)} holes; sizes in mm", HOLES, rows)


def spacing_table(figures: Sequence[SpacingFigure]) -> Markup:
    """Spacings found against the limits of the rules."""
    rows = []
    for one in figures:
        found = f"{_spacing(one.least)} to {_spacing(one.greatest)}"
        limits = (_spacing(one.code_least), _spacing(one.code_greatest), _spacing(one.practice))
        rows.append(
            row(
                SPACINGS,
                (one.what, found, *limits, words("; ".join(filter(None, [one.source, one.why])))),
                (1, 2, 3, 4),
            )
        )
    return table("Drivable: 3 d, what a gang can drive with ordinary tools; sizes in mm", SPACINGS, rows)


def _spacing(value: float) -> str:
    return f"{value:.1f}" if math.isfinite(value) else "-"


def account_table(drawing: Drawing) -> Markup:
    """What was set aside and reported, by layer and kind, under the sum over all entities."""
    rows = _entries([entry for entry in drawing.account if entry.fate != "used"])
    counted = f"{drawing.scanned} entities" if drawing.scanned >= 0 else "entities not counted: binary file"
    told = element("p", f"{counted} = {fate_sum(drawing)}.")
    return joined([told, table("", ENTITIES, rows) if rows else element("p", "Nothing set aside, nothing reported.")])


def fate_sum(drawing: Drawing) -> str:
    """The account in words: 11 used + 1 set aside + 5 reported."""
    fates = Counter(entry.fate for entry in drawing.account)
    return " + ".join(f"{fates[fate]} {fate}" for fate in ("used", "set aside", "reported"))


def paper_table(drawing: Drawing) -> Markup:
    """What paper space holds, which is not read."""
    return table(f"{len(drawing.paper)} entities", ENTITIES, _entries(drawing.paper))


def _entries(entries: Sequence[Entry]) -> list[Markup]:
    groups = sorted(Counter((one.fate, one.kind, one.layer, one.reason) for one in entries).items())
    shown = [row(ENTITIES, (fate, count, *rest), (1,)) for (fate, *rest), count in groups[:MOST_ROWS]]
    rest = sum(count for _, count in groups[MOST_ROWS:])
    more = f"{len(groups) - MOST_ROWS} more kinds, not shown"
    return [*shown, row(ENTITIES, ("", rest, more, "", ""), (1,))] if rest else shown


def text_list(drawing: Drawing) -> Markup:
    """The texts of the drawing: shown, never cut."""
    shown: list[object] = [f"{label.text} (layer {label.layer})" for label in drawing.labels[:MOST_TEXTS]]
    left = len(drawing.labels) - len(shown)
    return listed([*shown, f"and {left} more"] if left else shown)


def parts_in(checked: Checked) -> int:
    """How many pieces of metal a drawing holds."""
    return len(checked.drawing.shapes) or int(checked.drawing.outline is not None)
