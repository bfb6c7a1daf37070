"""Ways in which a flat piece could be put wrongly into its own place: turned, or turned over. numpy only."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.near import median, nearest_pairs
from fabplan.geom.profile import area, centroid, merged, spans
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

SAME_SIZE = 1.0  # mm: a hole that is smaller by no more is reamed to suit, and meets (common practice)


@dataclass(frozen=True, slots=True, eq=False)
class Way:
    """A turn, or a turning over, about the middle of a piece.

    Attributes:
        words: what is done to the piece.
        over: True where the piece is turned over.
        turn: (2, 2), what it does to a place that is taken from `middle`.
        middle: (2,) mm.
    """

    words: str
    over: bool
    turn: FloatArray
    middle: FloatArray

    def moved(self, points: FloatArray) -> FloatArray:
        """Where points (n, 2) come to lie."""
        placed: FloatArray = (points - self.middle) @ self.turn.T + self.middle
        return placed


def ways(outline: Profile) -> tuple[Way, ...]:
    """Half a turn, a quarter turn, and turning over about four axes that its longest straight side gives.

    A piece without a straight side is only turned; one without an area has no way.
    """
    if area(outline) == 0.0:
        return ()
    middle = centroid(outline)
    found = [("turned half round", False, _rotation(np.pi)), ("turned a quarter round", False, _rotation(np.pi / 2.0))]
    start, end, angle = spans(merged(outline))
    chord = end - start
    size = np.where(np.abs(angle) <= 1e-9, np.hypot(*chord.T), 0.0)
    if size.max(initial=0.0) > 0.0:
        long = int(np.argmax(np.round(size, 3)))
        lie = float(np.arctan2(chord[long, 1], chord[long, 0]))
        words = ("turned over, end for end", "turned over about its length", "turned over about a diagonal")
        for way, name in ((np.pi / 2.0, 0), (0.0, 1), (np.pi / 4.0, 2), (-np.pi / 4.0, 2)):
            found.append((words[name], True, _reflection(lie + way)))
    return tuple(Way(words, over, turn, middle) for words, over, turn in found)


def _rotation(angle: float) -> FloatArray:
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def _reflection(axis: float) -> FloatArray:
    return np.array([[np.cos(2 * axis), np.sin(2 * axis)], [np.sin(2 * axis), -np.cos(2 * axis)]])


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """Holes of a piece that is put another way, on the same holes: how far each misses, inf where it meets none."""

    way: Way
    miss: FloatArray

    @property
    def alone(self) -> BoolArray:
        """(n,) True for holes that meet no other."""
        lonely: BoolArray = ~np.isfinite(self.miss)
        return lonely


def fit(xy: FloatArray, diameter: FloatArray, way: Way, reach: float) -> Fit:
    """Put holes (n, 2) another way, draw them onto the holes as they were, and measure.

    They are first put about the middle of the piece, then shifted by the middle of what is left, as bolts draw it.

    Args:
        xy: centres, mm.
        diameter: (n,) mm; holes of unlike size do not meet.
        way: how the piece is put.
        reach: mm within which two holes are taken for one another.
    """
    moved = way.moved(xy)
    mates, apart = _mates(xy, moved, diameter, reach)
    for _ in range(2):
        met = np.isfinite(apart)
        if not met.any():
            break
        off = xy[mates[met]] - moved[met]
        moved = moved + np.array([median(off[:, 0]), median(off[:, 1])])
        mates, apart = _mates(xy, moved, diameter, reach)
    return Fit(way, apart)


def _mates(xy: FloatArray, moved: FloatArray, diameter: FloatArray, reach: float) -> tuple[IntArray, FloatArray]:
    """For each moved hole its nearest hole of the same size within reach, and how far it is; inf for none."""
    n = len(xy)
    pairs, apart = nearest_pairs(np.vstack([xy, moved]), reach)
    mixed = (pairs[:, 0] < n) & (pairs[:, 1] >= n)
    pairs = np.column_stack([pairs[mixed, 0], pairs[mixed, 1] - n])
    apart = apart[mixed]
    alike = np.abs(diameter[pairs[:, 0]] - diameter[pairs[:, 1]]) <= SAME_SIZE
    pairs, apart = pairs[alike], apart[alike]
    mate, miss = np.zeros(n, dtype=np.int64), np.full(n, np.inf)
    order = np.argsort(-apart, kind="stable")  # the nearest is written last
    mate[pairs[order, 1]], miss[pairs[order, 1]] = pairs[order, 0], apart[order]
    return mate, miss
