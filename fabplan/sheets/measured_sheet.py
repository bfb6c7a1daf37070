"""The sheet of an old piece: where it comes from, its measured holes over its drawing, and the sizes behind them."""

from math import isfinite

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.measured import Measured, MeasuredRecord
from fabplan.model.page import Page, Text
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.sheets.formed import Formed, as_formed, formed_sheets, named
from fabplan.sheets.frame import A3, Paper, Sheet, framed
from fabplan.sheets.overlay_sheet import ARROW, TIMES, arrow
from fabplan.sheets.pen import LEAST, Box
from fabplan.sheets.picture import Item, extent, fitting_view, plate_picture
from fabplan.sheets.table import Table, notes

SHARE = 0.5  # of the page's width that the picture takes
UNDER = 0.5  # of its height, for tables that do not fit beside it
KEYS = 10.0  # mm on paper, the words under the picture
LAID = "The measured pattern is laid over the drawing by a turn and a shift alone; it is never mirrored or smoothed."
ALONG = "x is measured along the bar from its marked end, y from its heel; nothing is fitted or smoothed."
MASTER = (
    "Its holes are master: mates are drawn, marked or drilled from the piece itself. A worn or oval hole goes to the "
    "next size of rivet by a concession with its reason."
)


def measured_sheets(plan: Plan) -> tuple[Page, ...]:
    """A sheet or more for each piece whose holes were measured."""
    if plan.body is None:
        return ()
    parts = {part.mark: part for part in plan.body.parts}
    paper = Paper("Measured piece", A3, plan.job, sum(finding.blocks for finding in plan.findings))
    sheets = [sheet for record in plan.measured for sheet in _sheets(paper, record, parts[record.mark])]
    return framed(paper, sheets)


def _sheets(paper: Paper, record: MeasuredRecord, part: Part) -> list[Sheet]:
    words = "arrow: from where a hole is drawn to where it was measured, {:g} times"

    def draw(area: Box) -> list[Item]:
        if part.blank is None:
            return as_formed(part, area, "the bar, as measured")
        return arrows(record, part, area, words)

    measured = part.spec.measured
    assert measured is not None
    tables = [_facts(record, part, measured), _holes(record, part, measured), *_growth(record), *_tape(record)]
    lines = (LAID, MASTER) if part.blank is not None else (ALONG, MASTER)
    told = Formed(named(part, record.mark), "measured", SHARE, [*tables, notes("", lines)], UNDER)
    return formed_sheets(paper, told, draw)


def arrows(record: MeasuredRecord, part: Part, area: Box, words: str) -> list[Item]:
    """The plate, and an arrow at each hole from where it is drawn to where it lies; `words` say how many times."""
    assert part.blank is not None
    x0, y0, x1, y1 = area
    drawn = (x0, y0 + KEYS, x1, y1)
    items = plate_picture(part.blank, {}, (), drawn).items
    reach = extent(part.blank)
    assert reach is not None
    view = fitting_view(*reach, drawn)
    worst = float(np.linalg.norm(record.off, axis=1).max()) / view.scale
    times = max((one for one in TIMES if worst * one <= ARROW), default=TIMES[0])
    for start, off in zip(record.drawn, record.off, strict=True):
        items += arrow(np.array(view.at(start)), off / view.scale * times)
    return [*items, Text(((x0 + x1) / 2.0, y0 + 2.0), words.format(times), LEAST, "middle")]


def _facts(record: MeasuredRecord, part: Part, measured: Measured) -> Table:
    origin = part.spec.provenance
    taken = "taken: the body is built of them" if record.taken else "not taken: see the findings; the drawing stands"
    rows = (
        ("piece", f"{part.mark}, {part.spec.section or f'plate {part.thickness_words}'}"),
        ("provenance", origin.words if origin is not None else "not stated"),
        ("measured by", measured.source or "not stated"),
        (
            "accuracy",
            (f"{measured.accuracy:g} mm of each size" if record.tape else f"{measured.accuracy_words} of each hole"),
        ),
        ("doubt", measured.doubt or "none stated"),
        ("holes", f"{len(record.number)}, {taken}"),
    )
    return Table("", ("", ""), (1.0, 5.0), rows)


def _holes(record: MeasuredRecord, part: Part, measured: Measured) -> Table:
    size = np.linalg.norm(record.off, axis=1)
    within = dict(zip((hole.number for hole in measured.holes), measured.within, strict=True))
    rows = tuple(
        (
            number,
            *(f"{value:.1f}" for value in (*record.drawn[k], *record.laid[k])),
            *(f"{value:+.2f}" for value in np.round(record.off[k], 2) + 0.0),
            f"{'' if size[k] <= within[number] + FIGURE else 'over '}{within[number]:g}",
            " by ".join(dict.fromkeys(f"{value:g}" for value in record.across[k] if isfinite(value))) or "-",
        )
        for k, number in enumerate(record.number)
    )
    heads = ("hole", "drawn x", "drawn y", "found x", "found y", "off x", "off y", "within", "across")
    out = f", without {', '.join(record.left_out)}: see the findings" if record.left_out else ""
    fit = f", best fit to the drawing{out}" if part.blank is not None else ", along its length and from its heel"
    title = f"{len(rows)} measured holes{fit}"
    return Table(title, heads, (1.3, 1.2, 1.2, 1.2, 1.2, 1.0, 1.0, 1.2, 1.6), rows, (1, 2, 3, 4, 5, 6))


def _growth(record: MeasuredRecord) -> list[Table]:
    rows = tuple((row, f"{length:.0f}", f"{round(grown, 2) + 0.0:+.2f}") for row, length, grown in record.grown)
    heads = ("row", "length as drawn", "longer by")
    title = "What grows along a row, by the median from hole to hole: a pitch, not a bad hole"
    return [Table(title, heads, (2.0, 1.5, 1.5), rows, (1, 2))] if rows else []


def _tape(record: MeasuredRecord) -> list[Table]:
    rows = tuple(
        (
            one.start,
            one.end,
            one.along or "straight",
            f"{one.length:.1f}",
            f"{fits[0]:.1f}",
            f"{round(one.length - fits[0], 2) + 0.0:+.2f}",
            f"{one.off:+.1f}" if one.along else "-",
            "yes" if proved else "no",
        )
        for one, fits, proved in zip(record.tape, record.by_tape, record.proved.tolist(), strict=True)
    )
    heads = ("from", "to", "tape on to", "taped", "pattern", "off", "beside", "proved")
    title = "Sizes by tape; proved: the others would show it wrong"
    shares = (1.2, 1.2, 1.4, 1.1, 1.1, 1.0, 1.0, 1.0)
    return [Table(title, heads, shares, rows, (3, 4, 5, 6))] if rows else []
