"""How two rows that should meet differ as a whole: set out elsewhere, one of them longer, or their lines askew."""

from dataclasses import dataclass

import numpy as np

from fabplan.body.fit import touching
from fabplan.body.joint import Joint, direction
from fabplan.geom.tolerance import FIGURE, ROUNDED, TOUCH
from fabplan.model.arrays import FloatArray, IntArray

ALIKE = 0.9
"""Share of the holes of a row that must agree before the row as a whole is spoken of."""

LEAST = 5
"""Holes of a row whose pitch can be said to be off: in a shorter one a single hole astray looks the same."""

BETWEEN = 12.0
"""Holes of a row further apart across it than this, mm, stand in different lines: about a rivet's diameter."""


@dataclass(frozen=True, slots=True)
class Shift:
    """How far row b lies from row a, all holes alike, mm: along the row, across it, and between the faces."""

    along: float
    across: float
    gap: float

    @property
    def size(self) -> float:
        """How far in the faces."""
        return float(np.hypot(self.along, self.across))


@dataclass(frozen=True, slots=True)
class Stretch:
    """Two rows of as many holes, one of them longer, all spaces alike; mm.

    Attributes:
        lengths: from first to last hole, of a and of b.
        step: by how much a space of one is longer than of the other.
        worst: how far the holes of one pair are apart, as the pieces are placed.
    """

    lengths: tuple[float, float]
    step: float
    worst: float


def row_shift(joint: Joint, alike: float) -> Shift | None:
    """How far the rows lie apart when nearly all holes do so within `alike` mm; None where they differ."""
    laid = _side_by_side(joint)
    if laid is None:
        return None
    flat = laid[1] - laid[0]
    middle = np.median(flat, axis=0)
    if not np.mean(np.linalg.norm(flat - middle, axis=1) <= alike) > ALIKE:
        return None
    return Shift(abs(float(middle[0])), abs(float(middle[1])), abs(joint.found.gap))


def row_stretch(joint: Joint) -> Stretch | None:
    """How one row outgrows the other when its holes are out evenly more and more; None where they are not."""
    laid = _side_by_side(joint)
    if laid is None or len(laid[0]) < LEAST or joint.link.row_a.round or joint.link.row_b.round:
        return None
    run, off = laid[0][:, 0], laid[1] - laid[0]
    line = np.column_stack([np.ones(len(run)), run])
    even = line @ np.linalg.lstsq(line, off, rcond=None)[0]
    if not np.abs(off - even).max() <= ROUNDED:
        return None
    one, other = float(np.ptp(laid[0][:, 0])), float(np.ptp(laid[1][:, 0]))
    step = abs(other - one) / (len(run) - 1)
    return Stretch((one, other), step, float(np.linalg.norm(off, axis=1).max()))


@dataclass(frozen=True, slots=True)
class Skew:
    """Two rows of several lines each, of which one line lies elsewhere against the others; mm.

    Attributes:
        line: number of the line that differs most from the first, 1 for the first.
        along, across: by how much it lies elsewhere in b, against the first line.
        apart: distance of that line from the first, in a and in b.
        worst: how far the holes of one pair are apart, as the pieces are placed.
    """

    line: int
    along: float
    across: float
    apart: tuple[float, float]
    worst: float


def row_skew(joint: Joint) -> Skew | None:
    """How the lines of a row of several lie otherwise in one piece than in the other; None where they do not."""
    laid = _side_by_side(joint)
    if laid is None or joint.link.row_a.round or joint.link.row_b.round:
        return None
    lines = [_lines(flat) for flat in laid]
    if len(lines[0]) < 2 or [len(line) for line in lines[0]] != [len(line) for line in lines[1]]:
        return None
    own = [[_seen_from(side[0], line) for line in side] for side in lines]  # placed, the pieces may be turned a little
    off = [flat_b - flat_a for flat_a, flat_b in zip(*own, strict=True)]
    middles = np.array([np.median(one, axis=0) for one in off])
    if any(np.abs(one - middle).max() > ROUNDED for one, middle in zip(off, middles, strict=True)):
        return None
    line = int(np.linalg.norm(middles, axis=1).argmax())
    along, across = np.abs(middles[line]).tolist()
    apart = [abs(float(np.mean(side[line][:, 1]))) for side in own]
    placed = np.vstack(lines[1]) - np.vstack(lines[0])
    return Skew(line + 1, along, across, (apart[0], apart[1]), float(np.linalg.norm(placed, axis=1).max()))


def _seen_from(line: FloatArray, flat: FloatArray) -> FloatArray:
    """Points (n, 2) in the frame of a straight line of holes (k, 2): from its middle, along it and across."""
    way = line[-1] - line[0]
    way = way / max(float(np.hypot(*way)), FIGURE)
    seen: FloatArray = (flat - line.mean(axis=0)) @ np.column_stack([way, [-way[1], way[0]]])
    return seen


def _lines(flat: FloatArray) -> list[FloatArray]:
    """The lines (k, 2) of holes (n, 2) given along and across, each in order along; a wide step across parts them."""
    order = np.argsort(flat[:, 1], kind="stable")
    parts = np.split(order, np.nonzero(np.diff(flat[order, 1]) > BETWEEN)[0] + 1)
    return [flat[part[np.argsort(flat[part, 0], kind="stable")]] for part in parts]


def _side_by_side(joint: Joint) -> tuple[FloatArray, FloatArray] | None:
    """Both rows (n, 2), along and across, mm, in one order; None where counts differ or the faces do not touch."""
    points_a, points_b = touching(joint.link, joint.found, *joint.poses)
    if len(points_a) != len(points_b) or len(points_a) < 2 or not abs(joint.found.gap) <= TOUCH + FIGURE:
        return None
    way = direction(points_a)
    axes = np.column_stack([way, np.cross(joint.found.towards, way)])
    flat_a, flat_b = points_a @ axes, points_b @ axes
    return flat_a[_along(flat_a)], flat_b[_along(flat_b)]


def _along(flat: FloatArray) -> IntArray:
    """The order (n,) of holes along a row, of those abreast by their side, alike for two rows that were shifted."""
    along = flat[:, 0]
    order: IntArray = np.lexsort((flat[:, 1], np.round(along - along.min(), 1)))
    return order
