"""Plain ruled tables that flow from box to box, with wrapped cells and a repeated head."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, repeat

from fabplan.model.page import Arc, Stroke, Text
from fabplan.sheets.pen import LEADING, LEAST, Box, clean, short, width, wrap

Item = Stroke | Arc | Text
PAD = 1.4  # mm left and right of a cell's text
ABOVE, BELOW = 1.3, 1.4  # mm between a rule and the capitals under it; between the last line's foot and the next rule
TITLE = 6.0  # mm, with the room below it
AFTER = 2.5  # mm below a table
MANY = 40  # rows of a long list that stand in two columns; more stand in three
FILLED = 0.3  # share of its height that the last page of a list is filled, where the page before can give so much
SHARES = (0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4)  # of the page before that is given
BOX = 7.0  # mm, least height of a row with a box to write in


@dataclass(frozen=True, slots=True)
class Table:
    """A title, heads of columns with their shares of the width, and rows of words.

    Attributes:
        title: set in bold above; "" for none.
        heads: one a column; all "" leaves the head out.
        shares: relative widths.
        rows: words of each cell.
        right: columns set to the right, for figures.
        ruled: True draws a line under every row.
        boxed: columns with a box to write in, in every row.
        size: height of the capitals, mm.
        whole: True begins a new box where the table does not fit the rest of one, but fits the next.
    """

    title: str
    heads: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    ruled: bool = True
    boxed: tuple[int, ...] = ()
    size: float = LEAST
    whole: bool = False


def natural(heads: Sequence[str], rows: Sequence[Sequence[str]], room: float, size: float = LEAST) -> tuple[float, ...]:
    """Widths of columns, mm: what the longest cell of each needs on one line, the widest cut down to the room."""
    heavy = [width(head, size, bold=True) for head in heads]
    cells = [[width(clean(row[k]), size) for row in rows] for k in range(len(heads))]
    wanted = [max([head, *own]) + 2.0 * PAD + 0.5 for head, own in zip(heavy, cells, strict=True)]
    order = sorted(range(len(wanted)), key=wanted.__getitem__)
    found, left = list(wanted), room
    for place, k in enumerate(order):
        found[k] = min(wanted[k], left / (len(order) - place))
        left -= found[k]
    return tuple(found)


def notes(title: str, lines: Iterable[str]) -> Table:
    """A list of sentences as a table of one column."""
    return Table(title, ("",), (1.0,), tuple((line,) for line in lines), ruled=False)


def abreast(title: str, heads: tuple[str, str], pairs: Sequence[tuple[str, str]], count: int = 6) -> Table:
    """Short pairs of words and a figure, `count` side by side."""
    filled = [*pairs, *[("", "")] * (-len(pairs) % count)]
    rows = tuple(tuple(cell for pair in filled[k : k + count] for cell in pair) for k in range(0, len(filled), count))
    used = min(count, len(pairs))
    named = (*heads * used, *("", "") * (count - used))
    return Table(title, named, (1.2, 0.8) * count, rows, tuple(range(1, 2 * count, 2)))


def columns(title: str, heads: tuple[str, ...], rows: Sequence[tuple[str, ...]]) -> Table:
    """A long list of short rows in two or three columns side by side, read down one column after the other."""
    count = min(2 if len(rows) <= MANY else 3, max(len(rows), 1))
    deep = -(-len(rows) // count)
    blank = ("",) * len(heads)
    filled = [*rows, *[blank] * (deep * count - len(rows))]
    beside = tuple(tuple(cell for k in range(count) for cell in filled[k * deep + row]) for row in range(deep))
    right = tuple(k for k in range(len(heads) * count) if k % len(heads))
    return Table(title, heads * count, (1.6, *(1.4,) * (len(heads) - 1)) * count, beside, right)


def flow(tables: Sequence[Table], boxes: Iterator[Box]) -> list[list[Item]]:
    """The tables set into boxes one after the other; the items of each box that was used."""
    return laid(tables, boxes)[0]


def spread(tables: Sequence[Table], area: Box, first: Box | None = None) -> list[list[Item]]:
    """The tables on pages of one size, the last one no nearly empty leaf: the one before it gives it of its own.

    `first` is the box of the first page where it differs, as under a heading.
    """
    first = first or area
    pages, foot = laid(tables, chain([first], repeat(area)))
    deep = area[3] - area[1]
    for share in SHARES if len(pages) > 1 and area[3] - foot < FILLED * deep else ():
        before = [first, *[area] * (len(pages) - 2)]
        left, low, right, high = before[-1]
        before[-1] = (left, low + share * deep, right, high)
        tried, foot = laid(tables, chain(before, repeat(area)))
        if len(tried) > len(pages):
            break
        pages = tried
        if area[3] - foot >= FILLED * deep:
            break
    return pages


def laid(tables: Sequence[Table], boxes: Iterator[Box]) -> tuple[list[list[Item]], float]:
    """As `flow`, and how far down the last box is filled, mm. A row too high for any box goes on in the next."""
    area = next(boxes)
    pages: list[list[Item]] = [[]]
    y = area[3]
    for table in tables:
        waiting = list(table.rows[::-1])
        started = False
        if table.whole and waiting and y < area[3] - 1e-6 and _whole_height(table, area) > y - area[1]:
            area = next(boxes)
            pages.append([])
            y = area[3]
        while waiting:
            row = waiting.pop()
            cells = _cells(table, row, area[2] - area[0])
            space = y - area[1] - (0.0 if started else _head_height(table, area))
            if _height(table, cells) > space and y < area[3] - 1e-6:
                waiting.append(row)
                area = next(boxes)
                pages.append([])
                y, started = area[3], False
                continue
            if _height(table, cells) > space:
                most = max(1, int((space - ABOVE - BELOW - table.size) / (table.size * LEADING)) + 1)
                if any(len(lines) > most for lines in cells):
                    waiting.append(tuple("\n".join(lines[most:]) for lines in cells))
                cells = [lines[:most] or [""] for lines in cells]
            if not started:
                y = _head(table, area, y, pages[-1])
                started = True
            y = _row(table, cells, area, y, pages[-1])
        y -= AFTER if table.rows else 0.0
    return pages, y


def _widths(table: Table, room: float) -> list[float]:
    total = sum(table.shares)
    return [room * share / total for share in table.shares]


def _cells(table: Table, row: Sequence[str], room: float, bold: bool = False) -> list[list[str]]:
    widths = _widths(table, room)
    return [
        [line for part in cell.split("\n") for line in wrap(part, space - 2.0 * PAD, table.size, bold)]
        for cell, space in zip(row, widths, strict=True)
    ]


def _height(table: Table, cells: Sequence[Sequence[str]]) -> float:
    lines = max(len(lines) for lines in cells)
    least = BOX if table.boxed else 0.0
    return max(ABOVE + table.size * (1.0 + (lines - 1) * LEADING) + BELOW, least)


def _head_height(table: Table, area: Box) -> float:
    title = TITLE if table.title else 0.0
    if not any(table.heads):
        return title
    return title + _height(table, _cells(table, table.heads, area[2] - area[0], bold=True))


def _whole_height(table: Table, area: Box) -> float:
    wide = area[2] - area[0]
    return _head_height(table, area) + sum(_height(table, _cells(table, row, wide)) for row in table.rows)


def _head(table: Table, area: Box, y: float, items: list[Item]) -> float:
    if table.title:
        items.append(Text((area[0], y - 4.2), short(table.title, area[2] - area[0], 3.0, bold=True), 3.0, bold=True))
        y -= TITLE
    if any(table.heads):
        items.append(Stroke(((area[0], y), (area[2], y)), 0.35))
        y = _row(table, _cells(table, table.heads, area[2] - area[0], bold=True), area, y, items, bold=True)
    elif table.ruled:
        items.append(Stroke(((area[0], y), (area[2], y)), 0.35))
    return y


def _row(
    table: Table, cells: Sequence[Sequence[str]], area: Box, y: float, items: list[Item], bold: bool = False
) -> float:
    x, high = area[0], _height(table, cells)
    for column, (lines, space) in enumerate(zip(cells, _widths(table, area[2] - area[0]), strict=True)):
        right = column in table.right
        for number, line in enumerate(lines):
            if line:
                at = (x + space - PAD if right else x + PAD, y - ABOVE - table.size * (1.0 + LEADING * number))
                items.append(Text(at, line, table.size, "end" if right else "start", bold=bold))
        if column in table.boxed and not bold:
            low, top, left, far = y - high + 0.6, y - 0.6, x + 0.6, x + space - 0.6
            items.append(Stroke(((left, low), (far, low), (far, top), (left, top)), 0.3, closed=True))
        x += space
    y -= high
    if table.ruled:
        items.append(Stroke(((area[0], y), (area[2], y)), 0.35 if bold else 0.1))
    return y
