"""The sheet of an old piece: where it comes from, its measured holes over its drawing, and the sizes behind them."""

from math import isfinite

import numpy as np

from fabplan.geom.profile import flattened, rectangle
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.holes import Holes
from fabplan.model.measured import Measured, MeasuredRecord
from fabplan.model.page import Page, Text
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.sheets.formed import Formed, formed_sheets, named
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
        return arrows(record, part, area, words) if part.blank is not None else _legs(record, part, area)

    measured = part.spec.measured
    assert measured is not None
    tables = [_facts(record, part, measured), _holes(record, part, measured), *_growth(record), *_tape(record)]
    lines = (LAID, MASTER) if part.blank is not None else (ALONG, MASTER)
    told = Formed(named(part, record.mark), "measured", SHARE, [*tables, notes("", lines)], UNDER)
    return formed_sheets(paper, told, draw)


def arrows(record: MeasuredRecord, part: Part, area: Box, words: str) -> list[Item]:
    """The plate, and an arrow at each hole from where it is drawn to where it lies; `words` say how many times."""
    assert part.blank is not None
    return _pointed(part.blank, record.drawn, record.off, area, words)


def _pointed(drawing: Drawing, drawn: FloatArray, off: FloatArray, area: Box, words: str) -> list[Item]:
    """A drawing, and an arrow from each of some places (n, 2) on it by what they are off (n, 2)."""
    x0, y0, x1, y1 = area
    room = (x0, y0 + KEYS, x1, y1)
    items = plate_picture(drawing, {}, (), room).items
    reach = extent(drawing)
    assert reach is not None
    view = fitting_view(*reach, room)
    worst = float(np.linalg.norm(off, axis=1).max()) / view.scale
    times = max((one for one in TIMES if worst * one <= ARROW), default=TIMES[0])
    for start, away in zip(drawn, off, strict=True):
        items += arrow(np.array(view.at(start)), away / view.scale * times)
    return [*items, Text(((x0 + x1) / 2.0, y0 + 2.0), words.format(times), LEAST, "middle")]


def _legs(record: MeasuredRecord, part: Part, area: Box) -> list[Item]:
    """Each leg of a bar with measured holes in the flat, its marked end at the left and its heel at the foot."""
    numbers = part.holes.holes.number
    on = np.array([part.holes.panel[numbers.index(number)] for number in record.number])
    legs = np.unique(on).tolist()
    x0, y0, x1, y1 = area
    each, items = (y1 - y0) / len(legs), list[Item]()
    for k, leg in enumerate(legs):
        own, panel = np.flatnonzero(on == leg), part.panels[leg]
        wide = float(np.abs(flattened(panel.outline, SAGITTA)[:, 1]).max())
        at = [numbers.index(record.number[one]) for one in own.tolist()]
        every = part.holes.holes
        holes = Holes(
            record.drawn[own],
            every.diameter[at],
            tuple(every.row[one] for one in at),
            tuple(every.number[one] for one in at),
            tuple(every.purpose[one] for one in at),
            tuple("" for _ in at),
        )
        flat = Drawing(part.mark, outline=rectangle(0.0, 0.0, part.spec.length or 0.0, wide), holes=holes)
        name = f"leg {panel.name}: " if panel.name else ""
        top = y1 - k * each
        told = f"{name}marked end left, heel below; arrow: from drawn to measured, {{:g}} times"
        items += _pointed(flat, record.drawn[own], record.off[own], (x0, top - each, x1, top), told)
    return items


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
