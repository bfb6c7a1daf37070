"""A plate drawn to scale for the screen: exact arcs, one path for all holes of a diameter, rings at the findings.

The picture's frame has its origin at the upper left corner of what is drawn, x right, y down, mm: small numbers there,
however far from its origin the drawing lies. What keeps its size on the screen (rings, letters, figures) stands in a
group of its own with the scale 1 mm to `unit` signs of the screen; the script of the report renews that scale.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.profile import arc_centres, bounds, spans
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding
from fabplan.model.profile import Profile
from fabplan.sheets.markup import Markup, element, joined, number, words
from fabplan.sheets.pieces import framed_lines, metal_reach, profiles_of
from fabplan.sheets.schedule import HoleGroup

FAR = 1e6  # mm from the plate: a kilometre; what lies beyond is not shown, only counted
NOMINAL = (900.0, 480.0)  # signs of the screen (CSS px), the picture's size until the script has measured it
WIDEST_ARC = 2.0  # radians: longer arcs are split, for near a half turn the radius alone fixes an arc badly
TILE = 200  # holes to a path, about
MOST_LETTERS = 300  # holes without a row that bear a letter
NEAR = 40.0  # signs of the screen: numbers of rings that are nearer would cover one another
CORNERS = (("10", "-9", "start"), ("10", "17", "start"), ("-10", "-9", "end"), ("-10", "17", "end"))
LESSER = 0.05  # share of the plate's longer side left free round it; twice that where the sizes stand


@dataclass(frozen=True, slots=True)
class Frame:
    """The part of the drawing that is shown: lower left and upper right corner, mm."""

    low: tuple[float, float]
    high: tuple[float, float]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height, mm, never 0."""
        return max(self.high[0] - self.low[0], 1e-3), max(self.high[1] - self.low[1], 1e-3)

    @property
    def view(self) -> tuple[float, float, float, float]:
        """What the whole picture shows, in its own frame: left, top, width, height, mm."""
        wide, tall = self.size
        edge = LESSER * max(wide, tall)
        return -2.0 * edge, -edge, wide + 3.0 * edge, tall + 3.0 * edge

    @property
    def unit(self) -> float:
        """Millimetres to a sign of the screen where the whole picture is shown."""
        return max(self.view[2] / NOMINAL[0], self.view[3] / NOMINAL[1])

    def place(self, xy: FloatArray) -> FloatArray:
        """Points (n, 2) of the drawing in the picture's frame."""
        placed: FloatArray = (xy - [self.low[0], self.high[1]]) * [1.0, -1.0]
        return placed

    def shows(self, xy: FloatArray) -> BoolArray:
        """(n,) True for points that are finite and not too far off to be shown."""
        near = (xy >= np.array(self.low) - FAR) & (xy <= np.array(self.high) + FAR)
        return np.asarray(near.all(axis=1), dtype=np.bool_)


def frame_of(drawing: Drawing, findings: Sequence[Finding]) -> Frame | None:
    """The frame round outlines, holes and open lines, else round the places of findings; None for nothing at all."""
    outlines = [bounds(one).reshape(2, 2) for one in profiles_of(drawing)[0]]
    lines = [line.points for line in framed_lines(drawing)]
    points = np.vstack([*outlines, drawing.holes.xy, *lines, np.zeros((0, 2))])
    if not np.isfinite(points).all(axis=1).any():
        places = [finding.where.xy for finding in findings if finding.where.xy is not None]
        points = np.array(places, dtype=np.float64).reshape(-1, 2)
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return None
    middle = points[0]
    points = points[(np.abs(points - middle) <= FAR).all(axis=1)]
    low, high = points.min(axis=0).tolist(), points.max(axis=0).tolist()
    return Frame((low[0], low[1]), (high[0], high[1])) if math.isfinite(sum(low) + sum(high)) else None


def left_out(drawing: Drawing, frame: Frame) -> int:
    """How many holes, profiles and lines the picture cannot show: too far off, or no numbers."""
    holes = drawing.holes
    shapes = [one.vertices for own in profiles_of(drawing) for one in own]
    shapes += [one.points for one in (*drawing.folds, *drawing.rolls, *drawing.marks, *drawing.open_lines)]
    hidden = sum(not frame.shows(points).all() for points in shapes)
    return hidden + int(np.sum(~(frame.shows(holes.xy) & (holes.diameter < FAR))))


def plate_svg(drawing: Drawing, findings: Sequence[Finding], groups: Sequence[HoleGroup], frame: Frame) -> Markup:
    """The picture of one drawing as one SVG element.

    Args:
        drawing: as read.
        findings: numbered from 1 in this order; those with a place get a ring.
        groups: the hole schedule.
        frame: what is shown.
    """
    lines = [("fold", drawing.folds), ("roll", drawing.rolls), ("mark", drawing.marks), ("open", drawing.open_lines)]
    lines.append(("aside", drawing.aside))
    outlines, cutouts = profiles_of(drawing)
    sized = _metal(drawing, frame)
    drawn = [
        _path("metal", _profiles(outlines, frame)),
        _path("cut", _profiles(cutouts, frame)),
        *_holes(drawing, groups, frame),
        *(_path(kind, _lines(own, frame)) for kind, own in lines),
        _sizes(sized, frame),
    ]
    content = [
        element("g", joined(drawn), class_="drawn"),
        element("g", joined([*_figures(sized, frame), *_letters(drawing, groups, frame)]), class_="letters"),
        element("g", joined(_rings(findings, frame)), class_="rings"),
    ]
    view = " ".join(number(value) for value in frame.view)
    wide, tall = (number(value, 1) for value in sized.size)
    told = f"{drawing.name} to scale, {wide} x {tall} mm, {len(drawing.holes)} holes"
    return element("svg", joined(content), viewBox=view, role="img", aria_label=told, data_low=_pair(frame))


def _metal(drawing: Drawing, frame: Frame) -> Frame:
    """What the overall sizes are those of: the outlines, where they are shown, else all that is shown."""
    reach = metal_reach(drawing)
    if reach is None or not frame.shows(np.array(reach)).all():
        return frame
    low, high = (corner.tolist() for corner in reach)
    return Frame((low[0], low[1]), (high[0], high[1]))


def _pair(frame: Frame) -> str:
    return f"{frame.low[0]!r} {frame.high[1]!r}"


def _path(kind: str, data: str) -> Markup:
    return element("path", "", class_=kind, d=Markup(data)) if data else Markup("")


def _profiles(profiles: Iterable[Profile], frame: Frame) -> str:
    return "".join(profile_path(one, frame) for one in profiles if frame.shows(one.vertices).all())


def profile_path(profile: Profile, frame: Frame) -> str:
    """A closed profile as path data, its arcs as arcs."""
    start, end, angle = spans(profile)
    round_ones = np.abs(angle) > 1e-6
    centre, radius = np.zeros_like(start), np.zeros(len(start))
    centre[round_ones], radius[round_ones] = arc_centres(start[round_ones], end[round_ones], angle[round_ones])
    # the way of turning looks the same with y down, and there a turn to the left is sweep 0
    told = [f"M{_at(frame.place(start[:1])[0])}"]
    placed = frame.place(end).tolist()
    for i, turn in enumerate(angle.tolist()):
        if radius[i] == 0.0:
            told.append(f"L{_at(placed[i])}")
            continue
        steps = math.ceil(abs(turn) / WIDEST_ARC)
        for step in range(1, steps + 1):
            tip = placed[i] if step == steps else frame.place(_turned(start[i], centre[i], turn * step / steps))[0]
            told.append(f"A{number(radius[i], 6)} {number(radius[i], 6)} 0 0 {int(turn < 0.0)} {_at(tip)}")
    return "".join(told) + "Z"


def _turned(point: FloatArray, centre: FloatArray, angle: float) -> FloatArray:
    """A point (1, 2) turned about a centre."""
    c, s = math.cos(angle), math.sin(angle)
    turned: FloatArray = centre + (point - centre)[None, :] @ np.array([[c, s], [-s, c]])
    return turned


def _at(point: Sequence[float] | FloatArray) -> str:
    return f"{number(float(point[0]))} {number(float(point[1]))}"


def _holes(drawing: Drawing, groups: Sequence[HoleGroup], frame: Frame) -> list[Markup]:
    """One path for all holes of a diameter and purpose, thousands in tiles: what is out of sight is not drawn."""
    alike: dict[tuple[str, str], list[int]] = {}
    for group in groups:
        alike.setdefault((group.letter, group.purpose), []).extend(group.holes)
    found = []
    for (letter, purpose), own in alike.items():
        shown = frame.shows(drawing.holes.xy[own]) & (drawing.holes.diameter[own] < FAR)
        places, radii = frame.place(drawing.holes.xy[own][shown]), drawing.holes.diameter[own][shown] / 2.0
        for tile in _tiles(places, frame):
            data = "".join(map(_circle, *places[tile].T.tolist(), radii[tile].tolist()))
            found.append(element("path", "", class_="hole", data_letter=letter, data_for=purpose, d=Markup(data)))
    return found


def _tiles(places: FloatArray, frame: Frame) -> list[IntArray]:
    """Indices of points by square tiles of the picture, about `TILE` points to each."""
    across = math.ceil(math.sqrt(len(places) / TILE))
    column, line = np.clip(places / max(frame.size) * across, 0, max(across - 1, 0)).astype(np.int64).T
    tile = line * across + column
    order = np.argsort(tile, kind="stable")
    return [one for one in np.split(order, np.flatnonzero(np.diff(tile[order])) + 1) if len(one)]


def _circle(x: float, y: float, r: float) -> str:
    radius, across = number(r, 4), number(2.0 * r, 4)
    half = f"a{radius} {radius} 0 1 0"
    return f"M{number(x - r, 4)} {number(y, 4)}{half} {across} 0{half} -{across} 0z"


def _lines(lines: Iterable[Line], frame: Frame) -> str:
    shown = [frame.place(line.points).tolist() for line in lines if len(line.points) and frame.shows(line.points).all()]
    return "".join("M" + "L".join(_at(point) for point in points) for points in shown if len(points) > 1)


def _sizes(sized: Frame, frame: Frame) -> Markup:
    """Lines of the overall sizes, below and at the left."""
    edge = LESSER * max(frame.size)
    (left, top), (right, foot) = frame.place(np.array([[sized.low[0], sized.high[1]], [sized.high[0], sized.low[1]]]))
    tick, y, x = 0.15 * edge, frame.size[1] + edge, -edge
    ends = [(left, y), (right, y), (x, top), (x, foot)]
    slashes = "".join(
        f"M{_at((px - tick, py + tick))}L{_at((px + tick, py - tick))}" for px, py in ends
    )  # short strokes across both ends
    return _path("size", f"M{_at(ends[0])}L{_at(ends[1])}M{_at(ends[2])}L{_at(ends[3])}{slashes}")


def _floating(xy: Sequence[float], unit: float, content: object, **attributes: object) -> Markup:
    """A group that keeps its size on the screen."""
    x, y = number(xy[0]), number(xy[1])
    moved = f"translate({x} {y}) scale({number(unit, 6)})"
    return element("g", content, transform=moved, data_x=x, data_y=y, **attributes)


def _figures(sized: Frame, frame: Frame) -> list[Markup]:
    """The overall sizes in figures."""
    wide, tall = sized.size
    edge = LESSER * max(frame.size)
    middle = (np.array(sized.low) + sized.high) / 2.0
    x, y = frame.place(middle[None])[0].tolist()
    across = element("text", number(wide, 1), y="-4", text_anchor="middle")
    up = element("text", number(tall, 1), y="-4", text_anchor="middle", transform="rotate(-90)")
    return [
        _floating((x, frame.size[1] + edge), frame.unit, across, class_="fixed"),
        _floating((-edge, y), frame.unit, up, class_="fixed"),
    ]


def _letters(drawing: Drawing, groups: Sequence[HoleGroup], frame: Frame) -> list[Markup]:
    """The name of each row at its first hole; the letter of its diameter at each hole that stands in no row."""
    middle = frame.place(_middles(drawing, frame))
    named = [_letter(drawing, frame, group.holes, (f"{group.row}: 1", middle)) for group in groups if group.row]
    alone = [(hole, group.letter) for group in groups if not group.row for hole in group.holes]
    named += [_letter(drawing, frame, (hole,), (letter, middle)) for hole, letter in alone[:MOST_LETTERS]]
    return [letter for letter in named[:MOST_LETTERS] if letter]


def _middles(drawing: Drawing, frame: Frame) -> FloatArray:
    """(n, 2) for each hole the middle of its piece, else of all that is shown, mm."""
    found = np.tile((np.array(frame.low) + frame.high) / 2.0, (len(drawing.holes), 1))
    place = {number: k for k, number in enumerate(drawing.holes.number)}
    for shape in drawing.shapes:
        found[[place[number] for number in shape.holes.number]] = bounds(shape.outline).reshape(2, 2).mean(axis=0)
    return found


def _letter(drawing: Drawing, frame: Frame, holes: Sequence[int], told: tuple[str, FloatArray]) -> Markup:
    """Words beside the first of some holes: off the line of their row, towards the middle of their piece.

    Args:
        drawing: as read.
        frame: what is shown.
        holes: numbers of the row's holes.
        told: the words, and (n, 2) the middle of each hole's piece in the frame.
    """
    xy = drawing.holes.xy[list(holes[:2])]
    if not frame.shows(xy).all():
        return Markup("")
    places = frame.place(xy)
    x, y = places[0].tolist()
    off = 0.5 * float(drawing.holes.diameter[holes[0]])
    name, middle = told[0], told[1][holes[0]]
    right, down = bool(x < middle[0]), bool(y < middle[1])
    along = np.abs(places[-1] - places[0])
    level = bool(along[0] >= along[1])
    if level:
        spot, text = (x, y + off if down else y - off), {"x": "0", "y": "15" if down else "-6"}
    else:
        spot, text = (x + off if right else x - off, y), {"x": "6" if right else "-6", "y": "4"}
    anchor = "start" if right else "end"
    return _floating(spot, frame.unit, element("text", words(name, 24), text_anchor=anchor, **text), class_="letter")


def _rings(findings: Sequence[Finding], frame: Frame) -> list[Markup]:
    """A ring at every place; findings at one place share it."""
    at: dict[tuple[float, float], list[int]] = {}
    for count, finding in enumerate(findings, start=1):
        if finding.where.xy is not None:
            xy = np.array([finding.where.xy], dtype=np.float64)
            if frame.shows(xy)[0]:
                x, y = frame.place(xy)[0].tolist()
                at.setdefault((round(x, 2), round(y, 2)), []).append(count)
    rings, corners = [], _corners(list(at), frame)
    for (place, counts), (dx, dy, anchor) in zip(at.items(), corners, strict=True):
        level = str(min(findings[count - 1].level for count in counts))
        name = element("text", ", ".join(map(str, counts)), x=dx, y=dy, text_anchor=anchor)
        circles = element("circle", "", r="11", class_="halo") + element("circle", "", r="11")
        numbers = " ".join(map(str, counts))
        rings.append(_floating(place, frame.unit, circles + name, class_=f"ring {level}", data_n=numbers))
    return rings


def _corners(places: Sequence[tuple[float, float]], frame: Frame) -> list[tuple[str, str, str]]:
    """Where the number of each ring stands beside it: in another corner than those of the rings that are near."""
    found: list[int] = []
    for k, place in enumerate(places):
        near = np.hypot(*(np.array(places[:k]).reshape(-1, 2) - place).T) < NEAR * frame.unit
        taken = {found[i] for i in np.nonzero(near)[0].tolist()}
        found.append(next((corner for corner in range(len(CORNERS)) if corner not in taken), 0))
    return [CORNERS[corner] for corner in found]


def ringed(finding: Finding, frame: Frame | None) -> bool:
    """True where a finding has a ring in the picture."""
    if frame is None or finding.where.xy is None:
        return False
    return bool(frame.shows(np.array([finding.where.xy], dtype=np.float64))[0])
