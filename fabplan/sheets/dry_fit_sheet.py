"""The sheet of the dry fit: sizes of the body as it stands, and the size that each closing piece must have."""

from collections.abc import Sequence

import numpy as np

from fabplan.model.dry_fit import Closing, DryFitSize
from fabplan.model.measured import MeasuredRecord
from fabplan.model.page import Page
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.sheets.formed import Formed, as_formed, formed_sheets, named
from fabplan.sheets.frame import A3, Paper, Sheet, framed, room
from fabplan.sheets.measured_sheet import UNDER, arrows
from fabplan.sheets.pen import Box
from fabplan.sheets.picture import Item
from fabplan.sheets.table import Table, notes, spread

SHARE = 0.5  # of the page's width that the picture takes
TOLD = (
    "Edges keep their distance from the holes beside them. Holes between those that are listed go with them: mark or "
    "drill them from the mates, with the piece clamped where it will lie.",
    "Measure the opening again when the body is squared; cut only then.",
)


def dry_fit_sheets(plan: Plan) -> tuple[Page, ...]:
    """A page or more of sizes, and one or more for each piece that closes the body; none where nothing was measured."""
    if plan.body is None or not plan.dry_fit:
        return ()
    paper = Paper("Dry fit", A3, plan.job, sum(finding.blocks for finding in plan.findings))
    by = "; ".join(
        f"{one.source or 'how is not stated'}, within {one.accuracy:g} mm"
        + (f", doubt: {one.doubt}" if one.doubt else "")
        for one in plan.job.dry_fits
    )
    untold = [one.what for one in plan.findings if one.check == "dry-fit" and one.where.part]
    told = notes("", (f"By {by}.", *(f"{one}." for one in untold)))
    tables = [_sizes("Sizes of the body as it stands, hole to hole", "found", plan.dry_fit), told]
    sheets = [Sheet(tuple(items)) for items in spread(tables, room(paper))]
    marks = [instance.mark for instance in plan.body.instances]
    for closing in plan.closings:
        sheets += _closing_sheets(paper, closing, plan.body.part_of(marks.index(closing.instance)))
    return framed(paper, sheets)


def _sizes(title: str, head: str, sizes: Sequence[DryFitSize]) -> Table:
    rows = tuple(
        (one.start, one.end, f"{one.drawn:.1f}", f"{one.found:.1f}", _more(one.drawn, one.found)) for one in sizes
    )
    return Table(title, ("from", "to", "as drawn", head, "more by"), (2.0, 2.0, 1.2, 1.2, 1.2), rows, (2, 3, 4))


def _more(drawn: float, found: float) -> str:
    return f"{round(found - drawn, 1) + 0.0:+.1f}"


def _closing_sheets(paper: Paper, closing: Closing, part: Part) -> list[Sheet]:
    record = closing.record
    words = "arrow: from where a hole is drawn to where it must lie, {:g} times"

    def draw(area: Box) -> list[Item]:
        if record is None:
            return as_formed(part, area, "as formed, marked face up")
        return arrows(record, part, area, words)

    by = "the numbers of its check sheet" if record is not None else "the numbers of its rivets"
    tables = [
        _overall(closing),
        _sizes(f"Hole to hole, by {by}", "must be", closing.sides),
        *([_holes(record)] if record is not None else []),
        notes("", (closing.note, *TOLD) if closing.note else TOLD),
    ]
    subject = f"{named(part, closing.instance)}: to close the body as it stands"
    return formed_sheets(paper, Formed(subject, "fitted", SHARE, tables, UNDER), draw)


def _overall(closing: Closing) -> Table:
    what = "its drawing" if closing.record is not None else "its still piece, over its outside"
    rows = tuple(
        (f"along {axis} of {what}", f"{old:.1f}", f"{new:.1f}", _more(old, new))
        for axis, old, new in zip("xyz", closing.drawn, closing.must, strict=False)
    )
    return Table("Over all", ("", "as drawn", "must be", "more by"), (3.0, 1.2, 1.2, 1.2), rows, (1, 2, 3))


def _holes(record: MeasuredRecord) -> Table:
    rows = tuple(
        (
            number,
            *(f"{value:.1f}" for value in (*record.drawn[k], *record.laid[k])),
            *(f"{value:+.1f}" for value in np.round(record.off[k], 1) + 0.0),
        )
        for k, number in enumerate(record.number)
    )
    heads = ("hole", "drawn x", "drawn y", "must x", "must y", "off x", "off y")
    return Table("Holes, best fit to the drawing", heads, (1.3, 1.2, 1.2, 1.2, 1.2, 1.0, 1.0), rows, (1, 2, 3, 4, 5, 6))
