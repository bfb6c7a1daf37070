"""Rows set on pages: which row on which page, at which scale, on which shelf."""

from collections.abc import Sequence

from fabplan.model.page import Arc, Stroke, Text
from fabplan.sheets.elevation import drawn, extent, moved
from fabplan.sheets.pen import Box
from fabplan.sheets.picture import SCALES
from fabplan.sheets.row import Row, legible_scale

Item = Stroke | Arc | Text
GAP = 5.0  # mm between rows on paper


def set_out(rows: Sequence[Row], first: Box, after: Box) -> list[list[Item]]:
    """The rows drawn as large as their pages let them, the first page's list empty where none stands there.

    Where one more page takes the rest, as many go there as make the smallest scale largest: none stands alone on a
    page while others are crowded.

    Args:
        rows: in driving order.
        first: area left on the first page, mm.
        after: area of each page that follows.
    """
    most = len(_taken(rows, first))
    ways = [[list(rows[:most]), *_onwards(rows[most:], after)]]
    if len(ways[0]) == 2:
        ways += [
            [list(rows[:k]), list(rows[k:])]
            for k in range(most - 1, -1, -1)
            if _taken(rows[k:], after) == list(rows[k:])
        ]
    best = min(ways, key=lambda pages: max(_scale(own, after if n else first) for n, own in enumerate(pages) if own))
    return [_page(own, after if n else first) if own else [] for n, own in enumerate(best)]


def _onwards(rows: Sequence[Row], area: Box) -> list[list[Row]]:
    """The rows of each further page, one at least on each."""
    pages: list[list[Row]] = []
    waiting = list(rows)
    while waiting:
        pages.append(_taken(waiting, area) or waiting[:1])
        waiting = waiting[len(pages[-1]) :]
    return pages


def _taken(rows: Sequence[Row], area: Box) -> list[Row]:
    """The most rows, from the first, that fit the area at a scale that can be read."""
    count = len(rows)
    while count and not _fits(rows[:count], min(legible_scale(row) for row in rows[:count]), area):
        count -= 1
    return list(rows[:count])


def _fits(rows: Sequence[Row], scale: float, area: Box) -> bool:
    sizes = [extent(row, scale) for row in rows]
    shelves = _shelves(sizes, area[2] - area[0])
    high = sum(max(sizes[k][1] for k in shelf) for shelf in shelves) + GAP * (len(shelves) - 1)
    return high <= area[3] - area[1] and max(wide for wide, _ in sizes) <= area[2] - area[0]


def _scale(rows: Sequence[Row], area: Box) -> float:
    """The largest usual scale at which rows fit one page."""
    return next((one for one in SCALES if _fits(rows, one, area)), SCALES[-1])


def _page(rows: Sequence[Row], area: Box) -> list[Item]:
    """Rows on one page at the largest usual scale at which they fit."""
    scale = _scale(rows, area)
    blocks = [drawn(row, scale) for row in rows]
    items: list[Item] = []
    y, alone = area[3], len(blocks) == 1
    for shelf in _shelves([(block.wide, block.high) for block in blocks], area[2] - area[0]):
        x = (area[0] + area[2] - blocks[0].wide) / 2.0 if alone and not rows[0].level else area[0]
        high = max(blocks[k].high for k in shelf)
        for k in shelf:
            items += moved(blocks[k].items, x, y - blocks[k].high)
            x += blocks[k].wide + GAP
        y -= high + GAP
    return items


def _shelves(sizes: Sequence[tuple[float, float]], wide: float) -> list[list[int]]:
    """Indices of blocks side by side, each on the first shelf with room for it."""
    shelves: list[list[int]] = []
    used: list[float] = []
    for k, (own, _) in enumerate(sizes):
        place = next((n for n, filled in enumerate(used) if filled + GAP + own <= wide), len(shelves))
        if place == len(shelves):
            shelves.append([])
            used.append(-GAP)
        shelves[place].append(k)
        used[place] += GAP + own
    return shelves
