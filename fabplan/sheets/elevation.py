"""A row drawn true to scale on paper: edges, rivets, every fifth number, turns, arrows."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.page import Arc, Stroke, Text
from fabplan.sheets.pen import Box, width, wrap
from fabplan.sheets.picture import Picture
from fabplan.sheets.row import Row

Item = Stroke | Arc | Text
TITLE, FIGURE = 3.5, 3.0  # mm on paper: capitals of a row's title, and of its words and figures
HEADED, SAID, CLEAR = 5.0, 4.2, 2.0  # mm on paper: lines of the title over a row, of its words, and the room below
NARROW = 178.0  # mm on paper: words wider than this and than their row are broken into lines
MISSING = 99  # numbers without room, for which words are kept room
LANE = 4.6  # mm on paper: a line of figures
BEYOND = 3.5  # mm on paper from the edge of what is shown of a round row to the middle of its figures
ASIDE = 9.0  # mm on paper: room for figures round a row that is not straight
ARROW = 9.0  # mm on paper
INSIDE = 3.0  # mm on paper from the figures of turns in a ring to its arrows
CROSS = 0.7  # mm on paper by which the cross of a service bolt stands beyond its hole
POINTER = 9.0  # mm on paper beyond the figures of a ring: the arrow to a piece, and its mark
SLANT = 0.3  # part of an arrow's way along a side from which it wants room there
APART = 1.6  # mm on paper between figures: 3 beside 1 must not read 31


@dataclass(frozen=True, slots=True)
class Block:
    """A drawn row, its lower left corner at the origin of the paper. Sizes mm."""

    wide: float
    high: float
    items: tuple[Item, ...]


def extent(row: Row, scale: float) -> tuple[float, float]:
    """Width and height on paper of a drawn row with its words, mm."""
    size = (row.window[2:] - row.window[:2]) / scale
    aside, foot, head = _margins(row)
    title, words = _over(row, scale, MISSING)
    wide = max(*(width(line, TITLE, bold=True) for line in title), *(width(line, FIGURE) for line in words))
    return max(float(size[0]) + 2.0 * aside, wide) + 1.0, foot + float(size[1]) + head + _deep(title, words)


def drawn(row: Row, scale: float) -> Block:
    """A row drawn to scale with its heading, numbers and turns."""
    wide, high = extent(row, scale)
    aside, foot, head = _margins(row)
    shift = np.array([aside, foot]) - row.window[:2] / scale
    picture = Picture()
    top = high - _deep(*_over(row, scale, MISSING))
    picture.items += [Stroke(_points(line / scale + shift), 0.3) for line in row.near]
    picture.items += [Stroke(_points(line / scale + shift), 0.18, (1.5, 0.8)) for line in row.far]
    centre = row.xy / scale + shift
    missing = _label(picture, row, centre, (0.0, 0.0, wide, top), (foot, top - head))
    for item in _written_over(high, *_over(row, scale, len(missing))):
        picture.write(item)
    radius = max(row.radius / scale, 0.4)
    for (x, y), turn, other in zip(centre.tolist(), row.turn.tolist(), row.other.tolist(), strict=True):
        picture.items.append(Arc((x, y), radius, width=0.2, fill=0.0 if turn == 1 else 1.0))
        if other:
            picture.items.append(Arc((x, y), radius + 0.8, width=0.35))
    picture.items += _crosses(centre[row.bolted], radius + CROSS)
    if row.level:
        _arrows(picture, centre, row.turn)
    else:
        _round_arrows(picture, row, centre, (foot, top - head))
    if not row.level and row.towards:
        _pointer(picture, row, centre, (0.0, 0.0, wide, top), (foot, top - head))
    return Block(wide, high, tuple(picture.items))


def _crosses(centre: FloatArray, arm: float) -> list[Item]:
    """A cross over each hole that a service bolt holds."""
    size = arm / np.sqrt(2.0)
    ends = [np.array([[-size, -size], [size, size]]), np.array([[-size, size], [size, -size]])]
    return [Stroke(_points(at + way), 0.18) for at in centre for way in ends]


def moved(items: Sequence[Item], dx: float, dy: float) -> list[Item]:
    """Items shifted on the paper, mm."""
    found: list[Item] = []
    for item in items:
        if isinstance(item, Stroke):
            found.append(replace(item, points=tuple((x + dx, y + dy) for x, y in item.points)))
        elif isinstance(item, Arc):
            found.append(replace(item, centre=(item.centre[0] + dx, item.centre[1] + dy)))
        else:
            found.append(replace(item, at=(item.at[0] + dx, item.at[1] + dy)))
    return found


def _margins(row: Row) -> tuple[float, float, float]:
    """Room at the sides, below and above the picture of a row, mm on paper."""
    if row.level:
        return 0.0, 2.0 * LANE, LANE
    x, y = row.way if row.towards else (0.0, 0.0)
    aside, foot, head = (ASIDE + POINTER * pointed for pointed in (abs(x) > SLANT, y < -SLANT, y > SLANT))
    return aside, foot, head


def _over(row: Row, scale: float, missing: int) -> tuple[list[str], list[str]]:
    """The lines of the title over a row, and those of its words."""
    words = f"{row.words}; scale 1:{scale:g}"
    words += f"; {missing} more number{' has' if missing == 1 else 's have'} no room" if missing else ""
    room = max(float(row.window[2] - row.window[0]) / scale, NARROW)
    return wrap(row.heading, room, TITLE, bold=True), wrap(words, room, FIGURE)


def _deep(title: Sequence[str], words: Sequence[str]) -> float:
    return HEADED * len(title) + SAID * len(words) + CLEAR


def _written_over(high: float, title: Sequence[str], words: Sequence[str]) -> list[Text]:
    """Title and words, the first line at the top of the block."""
    found = [Text((0.0, high - 4.6 - k * HEADED), line, TITLE, bold=True) for k, line in enumerate(title)]
    foot = high - 4.6 - HEADED * len(title)
    return found + [Text((0.0, foot - k * SAID), line, FIGURE) for k, line in enumerate(words)]


def _label(picture: Picture, row: Row, centre: FloatArray, within: Box, band: tuple[float, float]) -> tuple[int, ...]:
    """Every fifth rivet's number, and on the other side its turn; returns the numbers that found no room."""
    ends = (row.number == row.number.max()) | (row.number == row.number.min())
    chosen = np.nonzero((row.number % 5 == 0) | ends | (row.turn == 1))[0].tolist()
    first = row.number.min()
    ranked = sorted(chosen, key=lambda k: (row.number[k] != first, bool(row.number[k] % 5), not ends[k], row.number[k]))
    spots = _spots(row, centre, band)
    missing = []
    for k in sorted(ranked, key=lambda k: bool(row.turn[k] != 1)):
        _written(picture, str(row.turn[k]), (centre[k], spots[1, k]), within, bold=False)
    for k in ranked:
        ways = [(centre[k], spots[0, k])]
        if not row.level:  # the last beside the first of a ring stands one line of figures further out
            away = spots[0, k] - centre[k]
            ways.append((centre[k], spots[0, k] + LANE * away / max(float(np.linalg.norm(away)), 1e-9)))
        found = any(_written(picture, str(row.number[k]), way, within, bold=True) for way in ways)
        if not found and row.number[k] % 5 == 0:
            missing.append(int(row.number[k]))
    return tuple(missing)


def _spots(row: Row, centre: FloatArray, band: tuple[float, float]) -> FloatArray:
    """Where number and turn of each rivet stand, their middles, (2, k, 2): beyond the edges of the plates shown."""
    if row.level:
        x = centre[:, 0]
        high, low = np.full(len(x), band[1] + 1.0 + FIGURE / 2.0), np.full(len(x), band[0] - 1.0 - FIGURE / 2.0)
        return np.array([np.column_stack([x, high]), np.column_stack([x, low])])
    out = centre - centre.mean(axis=0)
    out = out / np.maximum(np.linalg.norm(out, axis=1, keepdims=True), 1e-9)
    reach = float(row.xy[:, 1].min() - row.window[1]) * (band[1] - band[0]) / float(row.window[3] - row.window[1])
    return np.array([centre + (reach + BEYOND) * out, centre - (reach + BEYOND) * out])


def _written(picture: Picture, words: str, line: tuple[FloatArray, FloatArray], within: Box, *, bold: bool) -> bool:
    """A figure where a leader from its rivet ends; False where it has no room."""
    start, end = line
    for anchor, nudge in (("middle", 0.0), ("start", -0.8), ("end", 0.8)):
        at = (float(end[0]) + nudge, float(end[1]) - FIGURE / 2.0)
        text = Text(at, words, FIGURE, anchor, bold=bold)
        if picture.free(text, within, APART):
            way = end - start
            tip = end - way / max(float(np.linalg.norm(way)), 1e-9) * (FIGURE / 2.0 + 0.6)
            picture.items.append(Stroke(_points(np.array([start, tip])), 0.08, grey=0.4))
            picture.write(text)
            return True
    return False


def _pointer(picture: Picture, row: Row, centre: FloatArray, within: Box, band: tuple[float, float]) -> None:
    """An arrow beyond the first number of a ring towards the piece that tells where it is, with its mark."""
    first = int(np.argmin(row.number))
    way = np.array(row.way)
    start = _spots(row, centre, band)[0, first] + (FIGURE / 2.0 + 1.0) * way
    text = Text(_at(start + 6.5 * way - [0.0, FIGURE / 2.0]), row.towards, FIGURE, "middle", bold=True)
    if np.linalg.norm(way) > 0.5 and picture.free(text, within):
        tip, across = start + 3.8 * way, 0.7 * np.array([-way[1], way[0]])
        picture.items.append(Stroke(_points(np.array([start, tip])), 0.3))
        head = np.array([tip, tip - 1.6 * way + across, tip - 1.6 * way - across])
        picture.items.append(Stroke(_points(head), 0.1, closed=True, fill=0.0))
        picture.write(text)


def _at(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _arrows(picture: Picture, centre: FloatArray, turn: IntArray) -> None:
    """Arrows from the rivet driven first to each side on which the turns only rise."""
    if turn[0] != 1:
        return
    x, y = centre[:, 0], 1.6
    for side in (-1.0, 1.0):
        run = side * (x[1:] - x[0])
        run = run[run > 1e-6]
        if len(run) and np.all(np.diff(run) > -1e-6):
            start = float(x[0]) + side * 1.0
            tip = float(x[0]) + side * min(ARROW, float(run[-1]) + 1.0)
            picture.items.append(Stroke(((start, y), (tip, y)), 0.3))
            head = ((tip, y), (tip - side * 1.6, y + 0.7), (tip - side * 1.6, y - 0.7))
            picture.items.append(Stroke(head, 0.1, closed=True, fill=0.0))


def _round_arrows(picture: Picture, row: Row, centre: FloatArray, band: tuple[float, float]) -> None:
    """On a ring, inside its figures, arrows from the rivet driven first to each side on which the turns only rise."""
    if row.turn[0] != 1 or len(centre) < 4:
        return
    spots = _spots(row, centre, band)
    inward = spots[1] - spots[0]
    line = spots[1] + INSIDE * inward / np.maximum(np.linalg.norm(inward, axis=1, keepdims=True), 1e-9)
    for side in (-1, 1):
        own = np.nonzero((row.number - row.number[0]) * side > 0)[0]
        own = own[np.argsort(side * row.number[own], kind="stable")]
        way = line[np.concatenate([[0], own])]
        long = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(way, axis=0), axis=1))])
        if len(own) and np.all(np.diff(row.turn[own]) > 0):
            many = max(int(np.searchsorted(long, ARROW)), 1)
            picture.items += _arrow(way[: many + 1])


def _arrow(way: FloatArray) -> list[Item]:
    """A line (n, 2) with a head at its end, mm on paper."""
    step = way[-1] - way[-2]
    unit = step / max(float(np.linalg.norm(step)), 1e-9)
    across = 0.7 * np.array([-unit[1], unit[0]])
    head = np.array([way[-1], way[-1] - 1.6 * unit + across, way[-1] - 1.6 * unit - across])
    return [Stroke(_points(way), 0.3), Stroke(_points(head), 0.1, closed=True, fill=0.0)]


def _points(points: FloatArray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
