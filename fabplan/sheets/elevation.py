"""A row drawn true to scale on paper: edges, rivets, every fifth number, turns, arrows."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.page import Arc, Stroke, Text
from fabplan.sheets.pen import Box, width
from fabplan.sheets.picture import Picture
from fabplan.sheets.row import Row

Item = Stroke | Arc | Text
TITLE, FIGURE = 3.5, 3.0  # mm on paper: capitals of a row's title, and of its words and figures
HEADING = 11.2  # mm on paper: the two lines above a row
LANE = 4.6  # mm on paper: a line of figures
ASIDE = 9.0  # mm on paper: room for figures round a row that is not straight
ARROW = 9.0  # mm on paper


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
    words = max(width(row.heading, TITLE, bold=True), width(_words(row, scale, 0), FIGURE))
    return max(float(size[0]) + 2.0 * aside, words) + 1.0, foot + float(size[1]) + head + HEADING


def drawn(row: Row, scale: float) -> Block:
    """A row drawn to scale with its heading, numbers and turns."""
    wide, high = extent(row, scale)
    aside, foot, head = _margins(row)
    shift = np.array([aside, foot]) - row.window[:2] / scale
    picture = Picture()
    picture.write(Text((0.0, high - 4.6), row.heading, TITLE, bold=True))
    picture.items += [Stroke(_points(line / scale + shift), 0.3) for line in row.near]
    picture.items += [Stroke(_points(line / scale + shift), 0.18, (1.5, 0.8)) for line in row.far]
    centre = row.xy / scale + shift
    missing = _label(picture, row, centre, (0.0, 0.0, wide, high - HEADING), (foot, high - HEADING - head))
    words = _words(row, scale, len(missing))
    picture.write(Text((0.0, high - 9.6), words, FIGURE))
    radius = max(row.radius / scale, 0.4)
    for (x, y), turn, other in zip(centre.tolist(), row.turn.tolist(), row.other.tolist(), strict=True):
        picture.items.append(Arc((x, y), radius, width=0.2, fill=0.0 if turn == 1 else 1.0))
        if other:
            picture.items.append(Arc((x, y), radius + 0.8, width=0.35))
    if row.level:
        _arrows(picture, centre, row.turn)
    return Block(max(wide, width(words, FIGURE)), high, tuple(picture.items))


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
    return (0.0, 2.0 * LANE, LANE) if row.level else (ASIDE, ASIDE, ASIDE)


def _words(row: Row, scale: float, missing: int) -> str:
    words = f"{row.words}; scale 1:{scale:g}"
    return f"{words}; {missing} more numbers have no room" if missing else words


def _label(picture: Picture, row: Row, centre: FloatArray, within: Box, band: tuple[float, float]) -> tuple[int, ...]:
    """Every fifth rivet's number, and on the other side its turn; returns the numbers that found no room."""
    last, first = int(row.number.max()), int(row.number.min())
    chosen = (row.number % 5 == 0) | (row.number == last) | (row.number == first) | (row.turn == 1)
    ends = (row.number == last) | (row.number == first)
    ranked = sorted(np.nonzero(chosen)[0].tolist(), key=lambda k: (bool(row.number[k] % 5), not ends[k], row.number[k]))
    middle = centre.mean(axis=0)
    missing = []
    for k in ranked:
        if not _number(picture, row, k, centre[k], (middle, band), within) and row.number[k] % 5 == 0:
            missing.append(int(row.number[k]))
    return tuple(missing)


def _number(
    picture: Picture, row: Row, k: int, at: FloatArray, place: tuple[FloatArray, tuple[float, float]], within: Box
) -> bool:
    """The number and the turn of one rivet; True where the number found room."""
    middle, (low, high) = place
    number, turn = str(row.number[k]), str(row.turn[k])
    if row.level:
        spots = [((float(at[0]), high + 1.0), (float(at[0]), low - 1.0 - FIGURE))]
        ends = np.array([[at[0], high + 0.3], [at[0], low - 0.3]])
    else:
        out = (at - middle) / max(float(np.linalg.norm(at - middle)), 1e-9)
        far = [(at + reach * out, at - reach * out) for reach in (4.0, 6.0)]
        spots = [tuple((float(p[0]), float(p[1]) - FIGURE / 2.0) for p in pair) for pair in far]  # type: ignore[misc]
        ends = np.array([at, at])
    found = [False, False]
    for spot in spots:
        for side, (words, base) in enumerate(zip((number, turn), spot, strict=True)):
            for anchor in ("middle", "start", "end"):
                nudge = {"middle": 0.0, "start": -0.8, "end": 0.8}[anchor]
                text = Text((base[0] + nudge, base[1]), words, FIGURE, anchor, bold=side == 0, halo=not row.level)
                if not found[side] and picture.free(text, within, 0.8):
                    picture.items.append(Stroke(_points(np.array([at, ends[side]])), 0.08, grey=0.4))
                    picture.write(text)
                    found[side] = True
    return found[0]


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


def _points(points: FloatArray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
