"""What all forming sheets share: where pictures and tables stand, who signs, the piece as it comes from the tools."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain, repeat

from fabplan.model.body import Body
from fabplan.model.page import Text
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose
from fabplan.sheets.frame import Paper, Sheet, room, signed
from fabplan.sheets.isometric import CORNERS, Corner, isometric, scene
from fabplan.sheets.pen import LEAST, Box, short
from fabplan.sheets.picture import Item
from fabplan.sheets.table import Table, flow

TITLE, SIGN, GAP = 5.0, 14.0, 6.0  # mm
DEGREE = "\N{DEGREE SIGN}"


@dataclass(frozen=True, slots=True)
class Formed:
    """What one forming sheet tells.

    Attributes:
        subject: piece, drawing and fingerprint.
        by: what the man who signs has done: "bent".
        share: of the width that the pictures take.
        tables: beside them, and on further sheets where they do not fit.
        under: share of the height under the pictures that tables may take before a further sheet is begun.
    """

    subject: str
    by: str
    share: float
    tables: Sequence[Table]
    under: float = 0.0


def named(part: Part, mark: str) -> str:
    """The subject of a sheet: its mark, its section or drawing and the first eight signs of the fingerprint."""
    if part.blank is None:
        return f"{mark}, {part.spec.section}"
    return f"{mark}, {part.blank.name}, {part.blank.fingerprint[:8]}"


def formed_sheets(paper: Paper, told: Formed, draw: Callable[[Box], Sequence[Item]]) -> list[Sheet]:
    """The sheet, and more where its tables ask for them; `draw` gives the pictures for an area of the first."""
    x0, y0, x1, y1 = room(paper)
    top, foot, split = y1 - TITLE - 4.0, y0 + SIGN + 2.0, x0 + told.share * (x1 - x0)
    title = Text((x0, y1 - TITLE - 1.0), short(told.subject, x1 - x0, TITLE, bold=True), TITLE, bold=True)
    beside, whole = (split + GAP, foot, x1, top), (x0, foot, x1, top)
    pages, low = flow(told.tables, chain([beside], repeat(whole))), foot
    if len(pages) > 1 and told.under:
        low = foot + told.under * (top - foot)
        first, under, *others = flow(told.tables, chain([beside, (x0, foot, split, low - GAP)], repeat(whole)))
        pages = [[*first, *under], *others]
    boxes = ((f"{told.by} by, initials", 1.0), ("date", 1.0), ("what did not agree, and what was done", 3.0))
    foot_items = signed((x0, y0, x1, y1), (*boxes, ("checked", 1.0)))
    shown = [draw((x0, low, split, top)), *([] for _ in pages[1:])]
    return [
        Sheet((title, *picture, *items, *foot_items), subject=told.subject)
        for picture, items in zip(shown, pages, strict=True)
    ]


def as_formed(part: Part, area: Box, caption: str) -> list[Item]:
    """Two small pictures of the formed piece, from above and from below, with what each hides dashed."""
    middle = (area[0] + area[2]) / 2.0
    above, below = (area[0], area[1], middle - 4.0, area[3]), (middle + 4.0, area[1], area[2], area[3])
    return [*_seen(part, above, caption, CORNERS[0]), *_seen(part, below, "the same, seen from below", CORNERS[4])]


def _seen(part: Part, area: Box, caption: str, corner: Corner) -> list[Item]:
    x0, y0, x1, y1 = area
    body = Body((part,), (Instance(part.mark, 0),), (Pose(),), ("",), ("",))
    words = Text(((x0 + x1) / 2.0, y0 + 0.5), caption, LEAST, "middle")
    return [*isometric(scene(body, corner), (x0, y0 + 5.0, x1, y1), (0,), (0,)), words]


def to_measure(work: str, rows: Sequence[tuple[str, str, str]]) -> Table:
    """The sizes to be measured after `work`, with a box for what is found."""
    heads = ("what", "wanted", "found")
    return Table(f"To measure after {work}", heads, (4.0, 1.5, 1.5), tuple(rows), (1,), boxed=(2,))
