"""What is marked on a plate beside a row that was laid: the seam's letter, and a witness line off either end."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.lines import CLOSING
from fabplan.geom.segments import line_distance
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.profile import Profile

OFF = 2.0  # mm from the edge of a hole, of the plate or of a cut to a mark (common practice)
LONG, SHORT = 10.0, 3.0  # mm: a witness line, and the least that is seen
HEIGHTS = (8.0, 5.0)  # mm: letters that can be read and have room
WIDE = 0.9  # times its height a letter is wide at most


@dataclass(frozen=True, slots=True, eq=False)
class Plate:
    """What there is on a drawing, mm.

    Attributes:
        outline, cutouts: its edges.
        xy, diameter: centres (n, 2) and diameters (n,) of all holes, new ones too.
        lines: (k, 2) each, that are marked or formed along.
        texts: left, lower, right and upper end of what is written.
    """

    outline: Profile
    cutouts: tuple[Profile, ...]
    xy: FloatArray
    diameter: FloatArray
    lines: tuple[FloatArray, ...] = ()
    texts: tuple[tuple[float, float, float, float], ...] = ()

    def clear(self, points: FloatArray) -> BoolArray:
        """(n,) True for places in the metal, `OFF` mm clear of edges and holes."""
        found = inside(self.outline, points)
        for edge in (self.outline, *self.cutouts):
            found &= edge_distance(edge, points)[0] >= OFF
        for cutout in self.cutouts:
            found &= ~inside(cutout, points)
        if len(self.xy):
            apart = np.linalg.norm(points[:, None] - self.xy[None], axis=2) - self.diameter / 2.0
            found &= apart.min(axis=1) >= OFF - 1e-6
        return found

    def unwritten(self, low: FloatArray, high: FloatArray) -> bool:
        """True where nothing is marked or written between two corners, or so near that it would be misread."""
        x, y = np.meshgrid(np.linspace(low[0], high[0], 9), np.linspace(low[1], high[1], 5))
        points = np.column_stack([x.ravel(), y.ravel()])
        over = any(np.all(low < (one[2], one[3])) and np.all(high > (one[0], one[1])) for one in self.texts)
        return not over and all(float(line_distance(points, line).min()) >= OFF for line in self.lines)


Letter = tuple[str, tuple[float, float], float]


def written(letter: Letter) -> tuple[float, float, float, float]:
    """Left, lower, right and upper end of a letter, mm."""
    words, (x, y), height = letter
    return x, y, x + WIDE * height * len(words), y + height


def witness_lines(plate: Plate, row: FloatArray, hole: float) -> tuple[FloatArray, ...]:
    """A line (2, 2) off each end of a row (n, 2) of holes, along it, where there is metal; a round has no end."""
    if len(row) < 2 or (len(row) > 2 and np.linalg.norm(row[-1] - row[0]) <= CLOSING * np.linalg.norm(row[1] - row[0])):
        return ()
    found = []
    for end, before in ((row[0], row[1]), (row[-1], row[-2])):
        way = (end - before) / np.linalg.norm(end - before)
        steps = np.arange(0.0, LONG + 0.25, 0.5)
        points = end + (hole / 2.0 + OFF + steps)[:, None] * way
        clear = plate.clear(points)
        count = int(np.argmin(clear)) if not clear.all() else len(clear)
        if count > 1 and steps[count - 1] >= SHORT:
            found.append(points[[0, count - 1]])
    return tuple(found)


def letter(plate: Plate, row: FloatArray, words: str, hole: float) -> Letter | None:
    """The seam's letter beside the first hole of a row that has room for it; None where none has."""
    for height in HEIGHTS:
        size = np.array([WIDE * height * len(words), height])
        for place in _beside(row, size, hole):
            x, y = np.meshgrid(np.linspace(0.0, size[0], 9), np.linspace(0.0, size[1], 5))
            metal = plate.clear(place + np.column_stack([x.ravel(), y.ravel()])).all()
            if metal and plate.unwritten(place, place + size):
                return words, (float(place[0]), float(place[1])), height
    return None


def _beside(row: FloatArray, size: FloatArray, hole: float) -> Sequence[FloatArray]:
    """Lower left corners of a text beside each hole and each space of a row, nearest to its beginning first."""
    middles = (row[1:] + row[:-1]) / 2.0
    found = []
    for k in range(len(row)):
        for at in (row[k], *middles[k : k + 1]):
            ways = row[min(k + 1, len(row) - 1)] - row[max(min(k, len(row) - 2), 0)]
            way = ways / max(float(np.linalg.norm(ways)), 1e-9)
            for side in (1.0, -1.0):
                across = side * np.array([-way[1], way[0]])
                reach = hole / 2.0 + OFF + 1.0 + float(np.abs(across) @ size) / 2.0
                found.append(at + reach * across - size / 2.0)
    return found
