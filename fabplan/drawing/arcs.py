"""Arcs that are drawn as short straight lines, and how well they fit: they are left as drawn, and said."""

import numpy as np

from fabplan.drawing.circles import Circle, allowed, fitted
from fabplan.geom.profile import spans
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.profile import Profile

LEAST = 4  # corners between the ends of a run: fewer lie on a circle by chance
TURNS = (0.002, 0.6)  # turn at a corner of an arc, radians: from 0.1 degrees to a twelfth of a circle with some slack
ALIKE = 2.0  # neighbouring sides of an arc differ by no more than this factor
BEND = 0.25  # least turn of a whole run, radians
SHARE = 0.1  # of the height of the run over its chord: an arc of which corners lie further off is none


def imitated_arcs(profile: Profile) -> list[Circle]:
    """The arcs that runs of straight spans of a profile stand for.

    A profile made of chords of a spline or an ellipse has none of its own: `chord_error` says how far it is off.
    """
    if profile.chord_error > 0.0 or np.count_nonzero(profile.bulges == 0.0) < LEAST + 1:
        return []
    found = []
    for run in _runs(profile):
        points = profile.vertices[run]
        # a straight line that runs on into the arc may be as long as its sides: without the ends it fits
        for ends in (points, points[1:], points[:-1], points[1:-1]):
            circle = _arc(ends)
            if circle is not None:
                found.append(circle)
                break
    return found


def _runs(profile: Profile) -> list[IntArray]:
    """Corners of each run that turns one way in small even steps, its two end points with it."""
    start, end, _ = spans(profile)
    along, straight, count = end - start, profile.bulges == 0.0, len(start)
    before = np.roll(along, 1, axis=0)
    size = np.hypot(*along.T)
    last = np.roll(size, 1)
    turn = np.arctan2(before[:, 0] * along[:, 1] - before[:, 1] * along[:, 0], np.sum(before * along, axis=1))
    even = (size <= ALIKE * last) & (last <= ALIKE * size) & straight & np.roll(straight, 1)
    small = (np.abs(turn) >= TURNS[0]) & (np.abs(turn) <= TURNS[1])
    way = np.where(even & small, np.sign(turn), 0.0).astype(np.int64)
    breaks = np.nonzero(way != np.roll(way, 1))[0]
    found = []
    for first, beyond in zip(breaks, np.roll(breaks, -1), strict=True):
        many = int((beyond - first) % count)
        if way[first] and many >= LEAST:
            found.append(np.arange(first - 1, first + many + 1) % count)
    return found


def _arc(points: FloatArray) -> Circle | None:
    if len(points) < LEAST + 1:
        return None
    circle = fitted(points)
    if circle is None:
        return None
    chord = points[-1] - points[0]
    out = points - points[0]
    size = float(np.hypot(*chord))
    rise = np.abs(chord[0] * out[:, 1] - chord[1] * out[:, 0]) / size if size > 0.0 else np.hypot(*out.T)
    sides = float(np.linalg.norm(np.diff(points, axis=0), axis=1).sum())
    bent = sides >= BEND * circle.diameter / 2.0
    fits = circle.error <= min(allowed(circle.diameter / 2.0), SHARE * float(rise.max()))
    return circle if bent and fits else None
