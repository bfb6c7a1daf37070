"""A plate drawn to scale: outline, cut-outs, holes, folds, marks, overall sizes, rows, rings round faults."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fabplan.geom.holders import one_by_one
from fabplan.geom.profile import bounds, flattened
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding
from fabplan.model.page import Arc, Ring, Stroke, Text
from fabplan.model.profile import Profile
from fabplan.sheets.clip import clipped
from fabplan.sheets.pen import LEAST, Box, box, overlap, short, width
from fabplan.sheets.pieces import framed_lines, metal_reach, piece_names, profiles_of

SCALES = (1.0, 2.0, 2.5, 5.0, 7.5, 10.0, 12.5, 15.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
FINE = 0.05  # mm on paper: chords of arcs
SIDE = 0.3  # mm on paper either side of a line that words keep off
BESIDE = 1.0  # mm on paper between a name or a number and other words
LEADER = 30.0  # mm on paper: the longest leader to a name beside the plate
RIM = 3.0  # mm on paper: of a larger hole a name may cover the middle
ROOMY = 5.0  # mm on paper: a hole of more radius takes its letter inside
CLEAR_OF_ENDS = 1.5  # mm on paper: a figure wider than its dimension line stands clear of the strokes at both ends
FEW = 6  # holes of one finding that are ringed one by one; of more, the first
NAME = 3.5  # mm on paper: capitals of the names of several pieces
EDGE = 12.0  # mm on paper left round the plate for dimensions and ring numbers
LINES = (
    ("dashed: fold", 0.25, (4.0, 1.5)),
    ("long dashes: roll", 0.25, (8.0, 2.0)),
    ("short dashes: marked, not cut", 0.25, (1.0, 1.0)),
    ("dotted: set aside, not cut", 0.13, (0.6, 0.9)),
)
"""Lines of the picture that are not cut: what the key says, width of the pen, dashes on and off, mm."""

Item = Stroke | Arc | Text


@dataclass(frozen=True, slots=True)
class View:
    """From drawing to paper: paper = (point - low) / scale + origin, mm."""

    scale: float
    low: tuple[float, float]
    origin: tuple[float, float]

    def at(self, point: Sequence[float] | FloatArray) -> tuple[float, float]:
        """A point of the drawing on the paper."""
        return (
            (float(point[0]) - self.low[0]) / self.scale + self.origin[0],
            (float(point[1]) - self.low[1]) / self.scale + self.origin[1],
        )

    def points(self, xy: FloatArray) -> tuple[tuple[float, float], ...]:
        """Points (n, 2) of the drawing on the paper."""
        return tuple(self.at(point) for point in xy)


@dataclass(slots=True)
class Picture:
    """A picture being made: items, rings, and the rectangles that text already covers."""

    items: list[Item] = field(default_factory=list)
    rings: list[Ring] = field(default_factory=list)
    covered: list[Box] = field(default_factory=list)

    def write(self, text: Text) -> None:
        """Put a text down and remember where."""
        self.items.append(text)
        self.covered.append(box(text))

    def free(self, text: Text, within: Box, gap: float = 0.0) -> bool:
        """True where a text would cover no other, keep `gap` mm to its left and right, and stay inside."""
        place = box(text)
        inside = place[0] >= within[0] and place[1] >= within[1] and place[2] <= within[2] and place[3] <= within[3]
        wide = (place[0] - gap, place[1], place[2] + gap, place[3])
        return inside and not any(overlap(wide, other) for other in self.covered)


def fitting_view(low: FloatArray, high: FloatArray, area: Box) -> View:
    """The largest usual scale at which a rectangle of the drawing fits an area of the paper, centred."""
    wide, tall = area[2] - area[0] - 2.0 * EDGE, area[3] - area[1] - 2.0 * EDGE
    size = np.maximum(high - low, 1e-6)
    least = max(size[0] / wide, size[1] / tall)
    scale = next((one for one in SCALES if one >= least), float(least))
    origin = (
        (area[0] + area[2] - float(size[0]) / scale) / 2.0,
        (area[1] + area[3] - float(size[1]) / scale) / 2.0,
    )
    return View(scale, (float(low[0]), float(low[1])), origin)


def extent(drawing: Drawing) -> tuple[FloatArray, FloatArray] | None:
    """Lower left and upper right of all that is drawn, mm; None for an empty drawing."""
    points = [drawing.holes.xy, *(line.points for line in framed_lines(drawing))]
    points += [bounds(outline).reshape(2, 2) for outline in profiles_of(drawing)[0]]
    every = np.vstack(points)
    return (every.min(axis=0), every.max(axis=0)) if len(every) else None


def plate_picture(drawing: Drawing, findings: Mapping[int, Finding], letters: Sequence[str], area: Box) -> Picture:
    """The plate with everything that its sheet speaks of.

    Args:
        drawing: as read.
        findings: by the numbers of their list; those with a place get a ring.
        letters: letter of each hole's diameter; () draws none.
        area: where on the paper, mm.
    """
    picture = Picture()
    reach = extent(drawing)
    if reach is None:
        picture.write(Text(((area[0] + area[2]) / 2.0, (area[1] + area[3]) / 2.0), "nothing to show", 3.5, "middle"))
        return picture
    view = fitting_view(*reach, area)
    _metal(picture, drawing, view)
    _edges(picture, *reach, view)
    _holes(picture, drawing, view, area)
    _lines(picture, drawing, view, area)
    _sizes(picture, metal_reach(drawing) or reach, view, area)
    _rings(picture, drawing, findings, view, area)
    _names(picture, drawing, view, area)
    for piece in one_by_one(drawing):
        _row_names(picture, piece, view, area)
    _letters(picture, drawing, letters, view, area)
    return picture


def profile_stroke(profile: Profile, view: View, width: float = 0.5, fill: float | None = None) -> Stroke:
    """A profile as a closed stroke, arcs as fine chords."""
    return Stroke(view.points(flattened(profile, FINE * view.scale)), width, closed=True, fill=fill)


def _metal(picture: Picture, drawing: Drawing, view: View) -> None:
    outlines, cutouts = profiles_of(drawing)
    picture.items += [profile_stroke(outline, view, fill=0.95) for outline in outlines]
    picture.items += [profile_stroke(cutout, view, fill=1.0) for cutout in cutouts]
    held = [outline for outline in outlines[1:] if _within(outline, cutouts)]
    picture.items += [profile_stroke(outline, view, fill=0.95) for outline in held]


def _within(outline: Profile, cutouts: Sequence[Profile]) -> bool:
    """True for a piece that lies in the opening of another, as far as boxes tell."""
    own = bounds(outline)
    return any(bool(np.all(box[:2] <= own[:2]) and np.all(own[2:] <= box[2:])) for box in map(bounds, cutouts))


def _names(picture: Picture, drawing: Drawing, view: View, area: Box) -> None:
    """The name of each of several pieces on its middle, or where there is room on it or beside it."""
    holes = _on_paper(drawing, view)
    for name, shape in zip(piece_names(drawing), drawing.shapes, strict=True):
        (x0, y0), (x1, y1) = (view.at(corner) for corner in bounds(shape.outline).reshape(2, 2))
        words, middle = short(name, max(x1 - x0 - 2.0, 40.0), NAME, bold=True), (x0 + x1) / 2.0
        spots = [(middle, (y0 + y1 - NAME) / 2.0), (middle, y1 - 2.0 * NAME), (middle, y0 + NAME)]
        spots += [(middle, y1 + 1.5), (middle, y0 - 2.0 * NAME)]
        texts = [Text(spot, words, NAME, "middle", bold=True, halo=True) for spot in spots]
        free = [text for text in texts if picture.free(text, area)]
        best = [text for text in free if not holes.covered(text)] or free
        if best:
            picture.write(best[0])


def _edges(picture: Picture, low: FloatArray, high: FloatArray, view: View) -> None:
    """Keep words off the four sides of the plate's box."""
    (x0, y0), (x1, y1) = view.at(low), view.at(high)
    for x in (x0, x1):
        picture.covered.append((x - SIDE, y0, x + SIDE, y1))
    for y in (y0, y1):
        picture.covered.append((x0, y - SIDE, x1, y + SIDE))


def _holes(picture: Picture, drawing: Drawing, view: View, area: Box) -> None:
    """Holes to scale with their centres; of one too large for the paper only the centre."""
    for xy, diameter in zip(drawing.holes.xy, drawing.holes.diameter, strict=True):
        x, y = view.at(xy)
        r = float(diameter) / 2.0 / view.scale
        if not (area[0] <= x - r and x + r <= area[2] and area[1] <= y - r and y + r <= area[3]):
            r = min(r, 2.0)
        else:
            picture.items.append(Arc((x, y), max(r, 0.15), width=0.2, fill=1.0))
        if r > 0.8:
            picture.items.append(Stroke(((x - 0.5 * r, y), (x + 0.5 * r, y)), 0.1))
            picture.items.append(Stroke(((x, y - 0.5 * r), (x, y + 0.5 * r)), 0.1))


def _lines(picture: Picture, drawing: Drawing, view: View, area: Box) -> None:
    """Lines that are not cut, each kind in its dashes (`LINES`), and the cut lines that do not close."""
    for (_, pen, dash), lines in zip(LINES, _uncut(drawing), strict=True):
        for line in lines:
            picture.items += [Stroke(part, pen, dash) for part in clipped(view.points(line.points), area)]
    picture.items += [Stroke(view.points(line.points), 0.6) for line in drawing.open_lines if len(line.points) > 1]


def _uncut(drawing: Drawing) -> tuple[tuple[Line, ...], ...]:
    """The lines of each kind of `LINES`."""
    return drawing.folds, drawing.rolls, drawing.marks, drawing.aside


def line_key(drawing: Drawing) -> str:
    """What the lines of a picture mean that are not plain cuts, "" where there are none."""
    words = [name for (name, _, _), lines in zip(LINES, _uncut(drawing), strict=True) if lines]
    return "; ".join(words + ["heavy: a cut that does not close"] * bool(drawing.open_lines))


def _sizes(picture: Picture, reach: tuple[FloatArray, FloatArray], view: View, area: Box) -> None:
    """Overall width below the plate and height at its left."""
    (x0, y0), (x1, y1) = view.at(reach[0]), view.at(reach[1])
    size = reach[1] - reach[0]
    y = max(y0 - 6.0, area[1] + 1.0)
    dimension(picture, (x0, y), (x1, y), f"{size[0]:.1f}".removesuffix(".0"))
    x = max(x0 - 6.0, area[0] + 3.0)
    dimension(picture, (x, y0), (x, y1), f"{size[1]:.1f}".removesuffix(".0"))
    note = f"scale 1:{view.scale:g}"
    text = Text((x1 - 2.0, y - 4.6), note, LEAST, "end")
    picture.write(text if box(text)[0] >= area[0] else replace(text, at=(area[0], text.at[1]), anchor="start"))


def dimension(picture: Picture, start: tuple[float, float], end: tuple[float, float], words: str) -> None:
    """A dimension line with short strokes at its ends; the figure stands on it."""
    picture.items.append(Stroke((start, end), 0.15))
    picture.covered.append((start[0] - SIDE, start[1] - SIDE, end[0] + SIDE, end[1] + SIDE))
    for x, y in (start, end):
        picture.items.append(Stroke(((x - 1.0, y - 1.0), (x + 1.0, y + 1.0)), 0.3))
    if abs(end[1] - start[1]) < abs(end[0] - start[0]):
        long = end[0] - start[0]
        up = 0.9 if width(words, LEAST) + 2.0 <= abs(long) else CLEAR_OF_ENDS
        texts = [Text((start[0] + share * long, start[1] + up), words, LEAST, "middle") for share in (0.5, 0.3, 0.7)]
        clear = [text for text in texts if not any(overlap(box(text), other) for other in picture.covered)]
        picture.write((clear or texts)[0])
    else:
        half = width(words, LEAST) / 2.0
        out = 0.9 if 2.0 * half + 2.0 <= abs(end[1] - start[1]) else CLEAR_OF_ENDS
        x, y = start[0] - out, (start[1] + end[1]) / 2.0
        picture.items.append(Text((x, y), words, LEAST, "middle", turn=90.0))
        picture.covered.append((x - 1.05 * LEAST, y - half, x + 0.25 * LEAST, y + half))


def places_of(finding: Finding, drawing: Drawing) -> list[tuple[float, float]]:
    """Where a finding gets its rings, mm on the drawing: its place, and where that is a hole, a few more like it."""
    where, numbers = finding.where, drawing.holes.number
    if where.xy is None:
        return []
    own = [numbers.index(one) for one in where.holes[: FEW + 1] if one in numbers]
    places = [(float(x), float(y)) for x, y in drawing.holes.xy[own]]
    is_hole = places[:1] == [where.xy] and len(where.holes) <= FEW
    return places if is_hole else [where.xy]


def _rings(picture: Picture, drawing: Drawing, findings: Mapping[int, Finding], view: View, area: Box) -> None:
    """A ring round every place of a finding; findings at one place share it, each number beside it."""
    at: dict[tuple[int, int], list[tuple[int, tuple[float, float]]]] = {}
    for number, finding in findings.items():
        for x, y in (view.at(place) for place in places_of(finding, drawing)):
            if area[0] <= x <= area[2] and area[1] <= y <= area[3]:
                at.setdefault((round(x / 3.0), round(y / 3.0)), []).append((number, (x, y)))
    for group in at.values():
        centre = group[0][1]
        picture.rings += [Ring(centre, 3.0, number) for number, _ in group]
        picture.covered.append((centre[0] - 3.0, centre[1] - 3.0, centre[0] + 3.0, centre[1] + 3.0))
    for group in at.values():
        words = ", ".join(str(number) for number, _ in group)
        _beside(picture, group[0][1], short(words, 30.0, 3.0, bold=True), area)


def _beside(picture: Picture, centre: tuple[float, float], words: str, area: Box) -> None:
    """The number of a ring as near to it as is free, with a leader."""
    for distance in (4.5, 7.0, 10.0, 14.0, 19.0, 25.0):
        for step in range(16):
            angle = math.radians(45.0 + 22.5 * step)
            x, y = centre[0] + distance * math.cos(angle), centre[1] + distance * math.sin(angle)
            anchor = "start" if math.cos(angle) > 0.3 else "end" if math.cos(angle) < -0.3 else "middle"
            text = Text((x, y - 1.5), words, 3.0, anchor, bold=True, halo=True)
            if picture.free(text, area):
                tip = (centre[0] + 3.0 * math.cos(angle), centre[1] + 3.0 * math.sin(angle))
                picture.items.append(Stroke((tip, (x, y)), 0.2))
                picture.write(text)
                x0, y0, x1, y1 = box(text)
                picture.covered.append((x0 - BESIDE, y0, x1 + BESIDE, y1))
                return


def _row_names(picture: Picture, drawing: Drawing, view: View, area: Box) -> None:
    """The name of each row beside its first hole, inside the plate for choice; left out where there is no room."""
    holes = drawing.holes
    seen: dict[str, list[int]] = {}
    for i, row in enumerate(holes.row):
        if row:
            seen.setdefault(row, []).append(i)
    reach = extent(drawing)
    right = view.at(reach[1])[0] if reach else area[2]
    middle = (holes.xy.min(axis=0) + holes.xy.max(axis=0)) / 2.0 if len(holes.xy) else np.zeros(2)
    spots = _on_paper(drawing, view)
    for row, own in seen.items():
        words = short(f"{row}: 1", 40.0)
        start, second = holes.xy[own[0]], holes.xy[own[min(1, len(own) - 1)]]
        level = abs(second[0] - start[0]) >= abs(second[1] - start[1])
        r = float(holes.diameter[own[0]]) / 2.0 / view.scale
        texts = _beside_hole(words, view.at(start), r, level, start <= middle)
        free = (text for text in texts if picture.free(text, area, BESIDE) and not spots.covered(text))
        text = next(free, None)
        if text is None:
            text = _led(picture, words, view.at(start), (right, spots), area)
        if text is not None:
            picture.write(text)


@dataclass(frozen=True, slots=True, eq=False)
class _Spots:
    """Holes on paper from left to right: middles (n, 2) and radii (n,), of large ones `RIM`, mm."""

    xy: FloatArray
    radius: FloatArray

    def covered(self, text: Text) -> bool:
        """True where a text with its white would hide a hole."""
        x0, y0, x1, y1 = box(text)
        near = slice(*np.searchsorted(self.xy[:, 0], (x0 - RIM - 0.4, x1 + RIM + 0.4)).tolist())
        (x, y), r = self.xy[near].T, self.radius[near]
        return bool(np.any((x > x0 - r - 0.4) & (x < x1 + r + 0.4) & (y > y0 - r) & (y < y1 + r)))

    def beside(self, start: tuple[float, float], end: tuple[float, float]) -> bool:
        """True where a hole other than the one at `start` lies within `BESIDE` of a line that leads right from it."""
        near = slice(*np.searchsorted(self.xy[:, 0], (start[0] - BESIDE, end[0] + BESIDE)).tolist())
        low, high = min(start[1], end[1]) - BESIDE, max(start[1], end[1]) + BESIDE
        level = (self.xy[near, 1] >= low) & (self.xy[near, 1] <= high)
        way, apart = np.array(end) - start, self.xy[near][level] - start
        others = apart[np.hypot(*apart.T) > BESIDE]
        along = np.clip(others @ way / (way @ way), 0.0, 1.0)
        return bool(np.any(np.hypot(*(others - along[:, None] * way).T) <= BESIDE))


def _on_paper(drawing: Drawing, view: View) -> _Spots:
    """The holes of a drawing on paper."""
    xy = (drawing.holes.xy - view.low) / view.scale + view.origin
    order = np.argsort(xy[:, 0], kind="stable")
    return _Spots(xy[order], np.minimum(drawing.holes.diameter[order] / 2.0 / view.scale, RIM))


def _led(picture: Picture, words: str, at: tuple[float, float], right: tuple[float, _Spots], area: Box) -> Text | None:
    """The name of a row right of a narrow plate with a leader from its first hole, None without room.

    Args:
        picture: what stands there.
        words: the name.
        at: middle of the hole on paper, mm.
        right: where the plate ends, and all holes, which the leader keeps off.
        area: of the picture.
    """
    edge, spots = right
    for rise in (0.0, 5.0, -5.0, 10.0, -10.0, 15.0):
        end = (edge + 5.0, at[1] + rise)
        text = Text((end[0] + 0.6, end[1] - LEAST / 2.0), words, LEAST)
        if end[0] - at[0] < LEADER and picture.free(text, area) and not spots.beside(at, end):
            picture.items.append(Stroke((at, end), 0.1))
            return text
    return None


def _beside_hole(words: str, at: tuple[float, float], r: float, level: bool, inward: BoolArray) -> list[Text]:
    """Places for the name of a row, best first.

    Args:
        words: the name.
        at: middle of its first hole on paper, mm.
        r: radius of the hole on paper, mm.
        level: True where the row runs from left to right.
        inward: True where the plate lies to the right of the hole, and above it.
    """
    up, down, out = max(3.0, r + 1.2), -max(5.5, r + 3.6), max(2.5, r + 1.0)
    above, below = [(2.0, up), (0.0, up + 2.0)], [(2.0, down), (0.0, down - 2.0)]
    across = above + below if inward[1] else below + above
    tries = across if level else [(out, dy) for dy in (-1.2, 2.5, -5.0, 5.0, 7.5, 10.0)]
    anchors = ("start", "end") if inward[0] else ("end", "start")
    return [
        Text((at[0] + (dx if anchor == "start" else -dx), at[1] + dy), words, LEAST, anchor, halo=True)
        for anchor in anchors
        for dx, dy in tries
    ]


def _letters(picture: Picture, drawing: Drawing, letters: Sequence[str], view: View, area: Box) -> None:
    """The letter of its diameter beside each hole that stands in no row, where there is room."""
    holes, spots = drawing.holes, _on_paper(drawing, view)
    for k, words in enumerate(letters):
        if holes.row[k]:
            continue
        x, y = view.at(holes.xy[k])
        r = float(holes.diameter[k]) / 2.0 / view.scale
        ends = [(x + 0.7 * r + 0.6, y + 0.7 * r + 0.6), (x - 0.7 * r - 3.0, y + 0.7 * r + 0.6)]
        texts = [Text(end, words, LEAST, bold=True, halo=True) for end in ends]
        texts = [text for text in texts if not spots.covered(text)]
        if r > ROOMY:
            texts = [Text((x + 1.0, y + 1.0), words, LEAST, bold=True)]
        text = next((text for text in texts if picture.free(text, area)), None)
        if text is not None:
            picture.write(text)
