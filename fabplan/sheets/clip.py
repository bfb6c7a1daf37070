"""Lines cut off at the edges of a picture."""

from collections.abc import Sequence
from itertools import pairwise

from fabplan.sheets.pen import Box

Point = tuple[float, float]


def clipped(points: Sequence[Point], area: Box) -> list[tuple[Point, ...]]:
    """The runs of an open line that lie within an area of the paper, each as its corners, mm.

    >>> clipped([(-1.0, 1.0), (3.0, 1.0), (3.0, 5.0)], (0.0, 0.0, 4.0, 4.0))
    [((0.0, 1.0), (3.0, 1.0), (3.0, 4.0))]
    """
    runs: list[list[Point]] = []
    for start, end in pairwise(points):
        part = _within(start, end, area)
        if part is None:
            continue
        if runs and runs[-1][-1] == part[0] == start:
            runs[-1].append(part[1])
        else:
            runs.append(list(part))
    return [tuple(run) for run in runs]


def _within(start: Point, end: Point, area: Box) -> tuple[Point, Point] | None:
    """The stretch of a straight line within an area, None where it has none: after Liang and Barsky (1984)."""
    low, high = 0.0, 1.0
    way = end[0] - start[0], end[1] - start[1]
    for axis in (0, 1):
        for sign, edge in ((-1.0, area[axis]), (1.0, area[axis + 2])):
            rise, room = sign * way[axis], sign * (edge - start[axis])
            if rise == 0.0 and room < 0.0:
                return None
            if rise < 0.0:
                low = max(low, room / rise)
            elif rise > 0.0:
                high = min(high, room / rise)
    if not low < high:
        return None
    ends = [(start[0] + share * way[0], start[1] + share * way[1]) for share in (low, high)]
    return (start if low == 0.0 else ends[0]), (end if high == 1.0 else ends[1])
