"""Sound plates of an invented quarry works, drawn in millimetres; a fault is drawn into a copy of one of them.

All are 6 mm thick and take 10 mm rivets in 11 mm holes. They keep every limit of EN 1993-1-8:2005, Table 3.3, for
exposed steel (least pitch 2.2 d0 = 24.2, least end and edge distance 1.2 d0 = 13.2, greatest pitch 14 t = 84, greatest
end and edge distance 4 t + 40 = 64 mm) and the 3 d = 30 mm that a snap wants.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import ezdxf.filemanagement
import numpy as np
from ezdxf.math import bulge_to_arc

HOLE = 11.0
Ring = Sequence[tuple[float, ...]]


@dataclass
class Draft:
    """One drawing on the board.

    Attributes:
        doc: the ezdxf document.
        cut: layer of the profiles.
    """

    doc: Any = field(default_factory=lambda: ezdxf.filemanagement.new("R2000", units=4))
    cut: str = "CUT"

    @property
    def space(self) -> Any:
        return self.doc.modelspace()

    def light(self, ring: Ring, layer: str = "") -> None:
        """One closed polyline; a third figure of a corner is the bulge of the span that leaves it."""
        rows = [(*corner, 0.0)[:3] for corner in ring]
        self.space.add_lwpolyline(rows, format="xyb", close=True, dxfattribs={"layer": layer or self.cut})

    def loose(self, ring: Ring, skip: Sequence[int] = ()) -> None:
        """Lines and arcs, one entity a span; spans of `skip` are left out."""
        rows = [(*corner, 0.0)[:3] for corner in ring]
        for number, ((x0, y0, bulge), (x1, y1, _)) in enumerate(zip(rows, rows[1:] + rows[:1], strict=True)):
            if number in skip:
                continue
            if bulge == 0.0:
                self.line((x0, y0), (x1, y1))
            else:
                centre, start, end, radius = bulge_to_arc((x0, y0), (x1, y1), bulge)
                self.arc(centre, radius, float(np.degrees(start)), float(np.degrees(end)))

    def line(self, start: tuple[float, float], end: tuple[float, float], layer: str = "") -> None:
        self.space.add_line(start, end, dxfattribs={"layer": layer or self.cut})

    def arc(self, centre: Any, radius: float, start: float, end: float) -> None:
        self.space.add_arc(centre, radius, start, end, dxfattribs={"layer": self.cut})

    def hole(self, x: float, y: float, diameter: float = HOLE, layer: str = "") -> None:
        self.space.add_circle((x, y), diameter / 2.0, dxfattribs={"layer": layer or self.cut})

    def row(self, name: str, places: Sequence[tuple[float, float]]) -> None:
        for x, y in places:
            self.hole(x, y, layer=f"RIVET {name}")

    def note(self, words: str, x: float, y: float, layer: str = "NOTE") -> None:
        self.space.add_text(words, height=8.0, dxfattribs={"layer": layer, "insert": (x, y)})


def along(first: tuple[float, float], last: tuple[float, float], count: int) -> list[tuple[float, float]]:
    """Places of a row from its first to its last hole."""
    return [(float(x), float(y)) for x, y in np.linspace(first, last, count)]


def opening(x0: float, y0: float, x1: float, y1: float, round_by: float = 5.0) -> Ring:
    """An oblong opening with round corners."""
    r = round_by
    return (
        (x0 + r, y0), (x1 - r, y0, QUARTER), (x1, y0 + r), (x1, y1 - r, QUARTER), (x1 - r, y1), (x0 + r, y1, QUARTER),
        (x0, y1 - r), (x0, y0 + r, QUARTER),
    )  # fmt: skip


def marked(draft: Draft, layer: str = "MARK") -> Draft:
    """A plate with a short line at its lower left corner, that tells how it lies."""
    draft.line((12.0, 10.0), (18.0, 14.0), layer)
    return draft


QUARTER = float(np.tan(np.pi / 8.0))

STRIP = ((0.0, 0.0), (600.0, 0.0), (600.0, 60.0), (0.0, 60.0))
STRIP_ROW = along((30.0, 30.0), (570.0, 30.0), 13)


def strip(
    draft: Draft, places: Sequence[tuple[float, float]] = STRIP_ROW, wide: float = 60.0, long: float = 600.0
) -> Draft:
    """A butt strap with one row."""
    draft.light([(0.0, 0.0), (long, 0.0), (long, wide), (0.0, wide)])
    draft.row("lap", places)
    draft.note("butt strap of the chute", 40.0, -20.0)
    return draft


GUSSET = ((0.0, 0.0), (240.0, 0.0), (240.0, 60.0), (60.0, 240.0), (0.0, 240.0))


def gusset(draft: Draft, skip: Sequence[int] = ()) -> Draft:
    """A gusset of the crusher's stand: two legs, a slant edge, drawn in loose lines."""
    draft.loose(GUSSET, skip)
    draft.row("foot", along((30.0, 30.0), (210.0, 30.0), 5))
    draft.row("post", along((30.0, 75.0), (30.0, 210.0), 4))
    draft.note("gusset, marked face up", 70.0, 90.0)
    return draft


BRACKET = (
    (0.0, 0.0), (220.0, 0.0), (220.0, 45.0, QUARTER), (205.0, 60.0), (80.0, 60.0, -QUARTER), (60.0, 80.0),
    (60.0, 205.0, QUARTER), (45.0, 220.0), (0.0, 220.0),
)  # fmt: skip


def bracket(draft: Draft) -> Draft:
    """A bracket of the screen's side, its corners round, one of them hollow."""
    draft.loose(BRACKET)
    draft.row("foot", along((30.0, 30.0), (190.0, 30.0), 5))
    draft.row("post", along((30.0, 70.0), (30.0, 190.0), 4))
    return draft


COVER = (
    (20.0, 0.0), (380.0, 0.0, QUARTER), (400.0, 20.0), (400.0, 280.0, QUARTER), (380.0, 300.0), (20.0, 300.0, QUARTER),
    (0.0, 280.0), (0.0, 20.0, QUARTER),
)  # fmt: skip


def cover(draft: Draft, with_opening: bool = True) -> Draft:
    """A patch plate riveted all round, with a long opening in the middle."""
    draft.light(COVER)
    draft.row("bottom", along((30.0, 25.0), (370.0, 25.0), 9))
    draft.row("top", along((30.0, 275.0), (370.0, 275.0), 9))
    draft.row("left", along((25.0, 66.0), (25.0, 234.0), 5))
    draft.row("right", along((375.0, 66.0), (375.0, 234.0), 5))
    if with_opening:
        draft.light([(150.0, 120.0), (250.0, 120.0, 1.0), (250.0, 180.0), (150.0, 180.0, 1.0)])
    return draft


def disc(draft: Draft) -> Draft:
    """A blank flange: round, with its rivets in a ring."""
    draft.hole(0.0, 0.0, 260.0)
    turn = np.radians(np.arange(16) * 22.5)
    draft.row("ring", [(float(x), float(y)) for x, y in zip(100.0 * np.cos(turn), 100.0 * np.sin(turn), strict=True)])
    return draft
