"""Plain ruled tables that flow from box to box, with wrapped cells and a repeated head."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from fabplan.model.page import Arc, Stroke, Text
from fabplan.sheets.pen import LEADING, LEAST, Box, wrap

Item = Stroke | Arc | Text
PAD = 0.8  # mm between rule and text


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
    """

    title: str
    heads: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    ruled: bool = True


def notes(title: str, lines: Iterable[str]) -> Table:
    """A list of sentences as a table of one column."""
    return Table(title, ("",), (1.0,), tuple((line,) for line in lines), ruled=False)


def flow(tables: Sequence[Table], boxes: Iterator[Box]) -> list[list[Item]]:
    """The tables set into boxes one after the other; the items of each box that was used."""
    area = next(boxes)
    pages: list[list[Item]] = [[]]
    y = area[3]
    for table in tables:
        if not table.rows:
            continue
        rows = [_cells(table, row, area[2] - area[0]) for row in table.rows]
        started = False
        for cells in rows:
            need = _height(cells) + (0.0 if started else _head_height(table, area))
            if y - need < area[1] and (y < area[3] - 1e-6):
                area = next(boxes)
                pages.append([])
                y, started = area[3], False
            if not started:
                y = _head(table, area, y, pages[-1])
                started = True
            y = _row(table, cells, area, y, pages[-1])
        y -= 2.5
    return pages


def _widths(table: Table, room: float) -> list[float]:
    total = sum(table.shares)
    return [room * share / total for share in table.shares]


def _cells(table: Table, row: Sequence[str], room: float) -> list[list[str]]:
    return [
        wrap(cell, space - 2.0 * PAD) if cell else [""] for cell, space in zip(row, _widths(table, room), strict=True)
    ]


def _height(cells: Sequence[Sequence[str]]) -> float:
    return max(len(lines) for lines in cells) * LEAST * LEADING + PAD


def _head_height(table: Table, area: Box) -> float:
    title = 3.0 * LEADING + 0.5 if table.title else 0.0
    head = _height(_cells(table, table.heads, area[2] - area[0])) if any(table.heads) else 0.0
    return title + head


def _head(table: Table, area: Box, y: float, items: list[Item]) -> float:
    if table.title:
        y -= 3.0 * 1.45
        items.append(Text((area[0], y), table.title, 3.0, bold=True))
        y -= 1.6
    if any(table.heads):
        items.append(Stroke(((area[0], y), (area[2], y)), 0.35))
        y = _row(table, _cells(table, table.heads, area[2] - area[0]), area, y, items, bold=True)
    elif table.ruled:
        items.append(Stroke(((area[0], y), (area[2], y)), 0.35))
    return y


def _row(
    table: Table, cells: Sequence[Sequence[str]], area: Box, y: float, items: list[Item], bold: bool = False
) -> float:
    x = area[0]
    for column, (lines, space) in enumerate(zip(cells, _widths(table, area[2] - area[0]), strict=True)):
        right = column in table.right
        for number, line in enumerate(lines):
            if line:
                at = (x + space - PAD if right else x + PAD, y - LEAST * (1.25 + LEADING * number))
                items.append(Text(at, line, LEAST, "end" if right else "start", bold=bold))
        x += space
    y -= _height(cells)
    if table.ruled:
        items.append(Stroke(((area[0], y), (area[2], y)), 0.35 if bold else 0.1))
    return y
