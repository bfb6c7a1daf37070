"""The frame of every sheet: border, title block, caution, and the strike where stops stand open."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fabplan.model.job import Job
from fabplan.model.page import Arc, Page, Ring, Stroke, Text
from fabplan.sheets.caution import PLANNING_AID, stopped
from fabplan.sheets.pen import LEADING, LEAST, Box, short, width, wrap

A4, A4_TALL, A3 = (297.0, 210.0), (210.0, 297.0), (420.0, 297.0)
MARGIN = 10.0
BLOCK = 16.0  # height of the title block
BANNER = 8.0  # mm, the words over the title block where stops stand open
SIGN = 16.0  # mm, boxes to sign

Item = Stroke | Arc | Text


@dataclass(frozen=True, slots=True)
class Sheet:
    """One page before it is framed: its items, rings, listed numbers, and the words of its title block."""

    items: tuple[Item, ...]
    rings: tuple[Ring, ...] = ()
    listed: tuple[int, ...] = ()
    subject: str = ""


@dataclass(frozen=True, slots=True)
class Paper:
    """What all pages of one paper share.

    Attributes:
        name: "Check sheet", "Cut list", ...
        size: width and height, mm.
        job: title, number, revision and date come from it; None without a job.
        stops: open stops; more than 0 strikes every page.
        cautions: sentences for the strip above the title block, after the planning aid's own.
    """

    name: str
    size: tuple[float, float]
    job: Job | None
    stops: int
    cautions: tuple[str, ...] = ()


def _strip(paper: Paper) -> list[str]:
    room = paper.size[0] - 2.0 * MARGIN - 4.0
    return wrap(" ".join([PLANNING_AID, *paper.cautions]), room)


def room(paper: Paper) -> Box:
    """The rectangle inside the frame that a page may fill."""
    floor = MARGIN + BLOCK + len(_strip(paper)) * LEAST * LEADING + 3.0 + (BANNER if paper.stops else 0.0)
    return MARGIN + 3.0, floor, paper.size[0] - MARGIN - 3.0, paper.size[1] - MARGIN - 3.0


def rooms(paper: Paper) -> Iterator[Box]:
    """The same rectangle for page after page."""
    while True:
        yield room(paper)


def framed(paper: Paper, sheets: Sequence[Sheet], *, first: int = 1, total: int = 0) -> tuple[Page, ...]:
    """Pages with their frames, numbered from `first` of `total` (of themselves where 0)."""
    total = total or len(sheets)
    return tuple(_page(paper, sheet, f"sheet {number} of {total}") for number, sheet in enumerate(sheets, start=first))


def _page(paper: Paper, sheet: Sheet, count: str) -> Page:
    wide, high = paper.size
    items: list[Item] = []
    if paper.stops:
        items += _strike(wide, high, paper.stops)
    items += sheet.items
    items += _border(wide, high)
    items += _caution(paper)
    items += _block(paper, sheet.subject, count)
    return Page(paper.name, wide, high, tuple(items), sheet.rings, sheet.listed, MARGIN)


def _strike(wide: float, high: float, stops: int) -> list[Item]:
    words = stopped(stops)
    size = min(16.0, 0.7 * wide / width(words, 1.0, bold=True))
    return [Text((wide / 2.0, high / 2.0), words, size, "middle", bold=True, turn=25.0, grey=0.82)]


def _border(wide: float, high: float) -> list[Item]:
    x0, y0, x1, y1 = MARGIN, MARGIN, wide - MARGIN, high - MARGIN
    return [
        Stroke(((x0, y0), (x1, y0), (x1, y1), (x0, y1)), 0.5, closed=True),
        Stroke(((x0, y0 + BLOCK), (x1, y0 + BLOCK)), 0.5),
    ]


def _caution(paper: Paper) -> list[Item]:
    lines = _strip(paper)
    base = MARGIN + BLOCK + 1.5
    items: list[Item] = [
        Text((MARGIN + 2.0, base + (len(lines) - 1 - k) * LEAST * LEADING), line, LEAST) for k, line in enumerate(lines)
    ]
    if paper.stops:
        middle, low = paper.size[0] / 2.0, base + len(lines) * LEAST * LEADING
        words = stopped(paper.stops)
        half = width(words, 4.0, bold=True) / 2.0 + 4.0
        box = ((middle - half, low), (middle + half, low), (middle + half, low + 7.0), (middle - half, low + 7.0))
        items += [Stroke(box, 0.8, closed=True, fill=1.0), Text((middle, low + 1.5), words, 4.0, "middle", bold=True)]
    return items


def _block(paper: Paper, subject: str, count: str) -> list[Item]:
    job = paper.job
    named = f"{job.number}  {job.title}".strip() if job else "checked without a job file"
    cells = [
        (0.31, "job", named),
        (0.26, "paper", f"{paper.name}{': ' + subject if subject else ''}"),
        (0.11, "revision", job.revision if job else ""),
        (0.145, "date", job.date if job else ""),
        (0.175, count, "sizes in mm"),
    ]
    x, wide = MARGIN, paper.size[0] - 2.0 * MARGIN
    items: list[Item] = []
    for share, head, words in cells:
        space = share * wide
        if x > MARGIN:
            items.append(Stroke(((x, MARGIN), (x, MARGIN + BLOCK)), 0.25))
        items.append(Text((x + 1.5, MARGIN + BLOCK - 4.0), short(head, space - 3.0), LEAST))
        lines, sizes = wrap(words, space - 3.0, 3.0, bold=True), (3.0, LEAST)
        if len(lines) > 1 and width(words, LEAST, bold=True) <= space - 3.0:
            lines, sizes = [words], (LEAST, LEAST)
        elif len(lines) > 1:
            lines = [lines[0], short(" ".join(lines[1:]), space - 3.0, LEAST, bold=True)]
        for k, line in enumerate(lines):
            items.append(Text((x + 1.5, MARGIN + 6.5 - 5.0 * k), line, sizes[k], bold=True))
        x += space
    return items


def signed(area: Box, heads: Sequence[tuple[str, float]]) -> list[Item]:
    """Boxes to sign at the foot of an area: what goes in each, and its share of the width."""
    x, low, top = area[0], area[1] + 1.0, area[1] + SIGN
    total = sum(share for _, share in heads)
    items: list[Item] = []
    for head, share in heads:
        far = x + share / total * (area[2] - area[0])
        items.append(Stroke(((x, low), (far, low), (far, top), (x, top)), 0.35, closed=True))
        items.append(Text((x + 1.5, top - 4.0), short(head, far - x - 3.0), LEAST))
        x = far
    return items


def with_name(paper: Paper, name: str) -> Paper:
    """The same paper under another name."""
    return replace(paper, name=name)
