"""A sheet as plain primitives in mm, origin lower left, x right, y up: drawn once, written as PDF or SVG."""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Stroke:
    """A polyline; `width` of the pen in mm, `dash` as mm on, mm off; `fill` a grey from 0 black to 1 white, or None."""

    points: tuple[tuple[float, float], ...]
    width: float = 0.25
    dash: tuple[float, float] | None = None
    closed: bool = False
    fill: float | None = None
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Arc:
    """A circle or part of one, counter-clockwise from `start` to `end` in degrees."""

    centre: tuple[float, float]
    radius: float
    start: float = 0.0
    end: float = 360.0
    width: float = 0.25
    dash: tuple[float, float] | None = None
    fill: float | None = None
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text.

    Attributes:
        at: where the baseline starts, is centred, or ends, by `anchor` ("start", "middle", "end").
        size: height of a capital letter, mm, at least 2.5 on any sheet.
        turn: degrees counter-clockwise.
        halo: True where white is laid behind it.
    """

    at: tuple[float, float]
    text: str
    size: float = 2.5
    anchor: str = "start"
    bold: bool = False
    turn: float = 0.0
    halo: bool = False
    grey: float = 0.0


@dataclass(frozen=True, slots=True)
class Ring:
    """A numbered ring round a fault on the picture; `number` must stand in the list of the same sheet."""

    centre: tuple[float, float]
    radius: float
    number: int


@dataclass(frozen=True, slots=True)
class Page:
    """One page of one sheet.

    Attributes:
        name: the paper it belongs to ("check sheet F1").
        width, height: mm (A4 or A3).
        margin: mm, nothing stands beyond it.
        items: strokes, arcs and texts in the order of drawing.
        rings: rings, drawn above the items.
        listed: numbers of rings that have their entry in the list of the same paper.
        tables: rectangles (x0, y0, x1, y1) inside which text must stay; for the linter.
    """

    name: str
    width: float
    height: float
    items: tuple[Stroke | Arc | Text, ...]
    rings: tuple[Ring, ...] = ()
    listed: tuple[int, ...] = ()
    margin: float = 10.0
    tables: tuple[tuple[float, float, float, float], ...] = field(default=())
