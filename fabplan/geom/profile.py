"""Lengths, areas, places on closed profiles of lines and arcs: exact for arcs, numpy only."""

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

FLAT = 1e-3
"""Included angle, radians, under which a segment's area is taken from its series: the closed form cancels there."""

SMOOTH = 1e-6
"""Turn between two spans, radians, and share by which their curvatures differ, under which they are one."""


def spans(profile: Profile) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Start points (n, 2), end points (n, 2) and included angles (n,) in radians, signed, of all spans."""
    start = profile.vertices
    return start, np.concatenate([start[1:], start[:1]]), 4.0 * np.arctan(profile.bulges)


def length(profile: Profile) -> float:
    """Length of the whole line, mm.

    >>> length(circle((0.0, 0.0), 1.0))
    6.283185307179586
    """
    start, end, angle = spans(profile)
    chord = np.hypot(*(end - start).T)
    half = np.abs(angle) / 2.0
    stretch = np.divide(half, np.sin(half), out=np.ones_like(half), where=half > 1e-9)
    return float(np.sum(chord * stretch))


def area(profile: Profile) -> float:
    """Area enclosed, mm2, positive for a counter-clockwise line.

    >>> area(circle((5.0, 5.0), 1.0))
    3.141592653589793
    """
    if len(profile.vertices) == 0:
        return 0.0
    start, end, angle = spans(profile)
    start, end = start - profile.vertices[0], end - profile.vertices[0]
    shoelace = 0.5 * float(np.sum(start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]))
    return shoelace + float(np.sum(segment_areas(start, end, angle)))


def segment_areas(start: FloatArray, end: FloatArray, angle: FloatArray) -> FloatArray:
    """Signed areas (n,) between each arc and its chord, mm2."""
    # an arc that turns counter-clockwise lies to the right of its chord and adds area
    chord2 = np.sum((end - start) ** 2, axis=1)
    sine = np.sin(angle / 2.0)
    segment: FloatArray = chord2 * angle / 12.0  # first term of the series, for arcs too flat for the closed form
    np.divide(chord2 * (angle - np.sin(angle)), 8.0 * sine * sine, out=segment, where=np.abs(angle) > FLAT)
    return segment


def centroid(profile: Profile) -> FloatArray:
    """Centre of area (2,), mm. Arcs count through their own segments' centres."""
    base = profile.vertices[0]
    start, end, angle = spans(profile)
    start, end = start - base, end - base
    cross = start[:, 0] * end[:, 1] - end[:, 0] * start[:, 1]
    moment = ((start + end) * cross[:, None]).sum(axis=0) / 6.0
    piece = segment_areas(start, end, angle)
    moment = moment + (piece[:, None] * _segment_centres(start, end, angle)).sum(axis=0)
    middle: FloatArray = base + moment / area(profile)
    return middle


def arc_centres(start: FloatArray, end: FloatArray, angle: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Centres (n, 2) and radii (n,) of arcs given by end points and signed included angles (not 0)."""
    chord = end - start
    across = np.column_stack([-chord[:, 1], chord[:, 0]])
    centre = (start + end) / 2.0 + across / (2.0 * np.tan(angle / 2.0))[:, None]
    return centre, np.hypot(*(start - centre).T)


def _segment_centres(start: FloatArray, end: FloatArray, angle: FloatArray) -> FloatArray:
    """Centres of area (n, 2) of the segments between spans and chords; of a flat one two fifths of its rise up."""
    chord = end - start
    size = np.hypot(*chord.T)
    outward = np.column_stack([chord[:, 1], -chord[:, 0]]) / np.maximum(size, 1e-300)[:, None]
    middle: FloatArray = (start + end) / 2.0 + outward * (0.05 * size * angle)[:, None]
    arcs = np.abs(angle) > FLAT
    if arcs.any():
        centre, radius = arc_centres(start[arcs], end[arcs], angle[arcs])
        full = np.abs(angle[arcs])
        reach = 4.0 * radius * np.sin(full / 2.0) ** 3 / (3.0 * (full - np.sin(full))) * np.sign(angle[arcs])
        middle[arcs] = centre + outward[arcs] * reach[:, None]
    return middle


def bounds(profile: Profile) -> FloatArray:
    """Least and greatest x and y: (xmin, ymin, xmax, ymax), mm, arcs included."""
    line = spans(profile)
    every = np.vstack([line[0], tips(*line)[0]])
    return np.concatenate([every.min(axis=0), every.max(axis=0)])


def tips(start: FloatArray, end: FloatArray, angle: FloatArray) -> tuple[FloatArray, IntArray]:
    """Places (k, 2) where arcs reach furthest along an axis, and the spans (k,), by number, that they are of."""
    arcs = np.nonzero(np.abs(angle) > 1e-9)[0]
    if not len(arcs):
        return np.zeros((0, 2)), arcs
    centre, radius = arc_centres(start[arcs], end[arcs], angle[arcs])
    first = np.arctan2(*(start[arcs] - centre).T[::-1])
    points, owners = [], []
    for quarter in range(4):
        towards = quarter * np.pi / 2.0
        swept = np.mod((towards - first) * np.sign(angle[arcs]), 2.0 * np.pi)
        inside = swept <= np.abs(angle[arcs])
        tip = np.array([np.cos(towards), np.sin(towards)])
        points.append(centre[inside] + radius[inside, None] * tip)
        owners.append(arcs[inside])
    return np.vstack(points), np.concatenate(owners)


def flattened(profile: Profile, sagitta: float) -> FloatArray:
    """Points (m, 2) of a polygon whose chords lie at most `sagitta` mm from the arcs; every vertex is kept."""
    return chorded(*spans(profile), sagitta)[0]


def chorded(start: FloatArray, end: FloatArray, angle: FloatArray, sagitta: float) -> tuple[FloatArray, IntArray]:
    """The spans as chords at most `sagitta` mm from the arcs: where each chord begins (m, 2), how many a span (n,)."""
    arcs = np.abs(angle) > 1e-9
    pieces = np.ones(len(start), dtype=np.int64)
    if not arcs.any():
        return start, pieces
    centre, radius = arc_centres(start[arcs], end[arcs], angle[arcs])
    least = 2.0 * np.arccos(np.clip(1.0 - sagitta / np.maximum(radius, sagitta), -1.0, 1.0))
    pieces[arcs] = np.maximum(np.ceil(np.abs(angle[arcs]) / np.maximum(least, 1e-6)), 2).astype(np.int64)
    owner = np.repeat(np.arange(len(start)), pieces)
    step = np.arange(len(owner)) - np.repeat(np.cumsum(pieces) - pieces, pieces)
    points = start[owner]
    slot = np.cumsum(arcs) - 1
    on_arc = arcs[owner] & (step > 0)
    which = slot[owner[on_arc]]
    first = np.arctan2(*(start[arcs] - centre).T[::-1])
    turn = first[which] + angle[owner[on_arc]] * step[on_arc] / pieces[owner[on_arc]]
    points[on_arc] = centre[which] + radius[which, None] * np.column_stack([np.cos(turn), np.sin(turn)])
    return points, pieces


def merged(profile: Profile) -> Profile:
    """The same line without corners between two spans of one straight line or of one circle."""
    start, end, angle = spans(profile)
    into = (np.roll(start, 1, axis=0), start, np.roll(angle, 1))
    kept = np.nonzero(~smooth(into, (start, end, angle)))[0]
    if len(kept) < 2:
        return profile
    turned = np.add.reduceat(np.roll(angle, -kept[0]), kept - kept[0])
    return Profile(start[kept], np.tan(turned / 4.0), profile.chord_error, profile.handles)


Spans = tuple[FloatArray, FloatArray, FloatArray]
"""Start points (n, 2), end points (n, 2), included angles (n,)."""


def smooth(into: Spans, out: Spans) -> BoolArray:
    """(n,) True where one span goes on as the one before it: along one straight line, or round one circle."""
    tangent_in, tangent_out = _heading(*into, 1.0), _heading(*out, -1.0)
    straight: BoolArray = np.abs(tangent_in[:, 0] * tangent_out[:, 1] - tangent_in[:, 1] * tangent_out[:, 0]) < SMOOTH
    straight &= np.sum(tangent_in * tangent_out, axis=1) > 0.0
    before, bend = _bend(*into), _bend(*out)
    return straight & (np.abs(bend - before) <= SMOOTH * np.maximum(np.abs(bend), SMOOTH))


def _bend(start: FloatArray, end: FloatArray, angle: FloatArray) -> FloatArray:
    """Curvature (n,) of spans, 1/mm, signed."""
    return np.asarray(2.0 * np.sin(angle / 2.0) / np.maximum(np.hypot(*(end - start).T), 1e-300))


def _heading(start: FloatArray, end: FloatArray, angle: FloatArray, side: float) -> FloatArray:
    """Unit tangents (n, 2) of spans at their ends (`side` 1) or starts (-1)."""
    chord = np.arctan2(*(end - start).T[::-1]) + side * angle / 2.0
    return np.column_stack([np.cos(chord), np.sin(chord)])


def reversed_profile(profile: Profile) -> Profile:
    """The same line run the other way."""
    vertices = profile.vertices[::-1]
    bulges = -np.roll(profile.bulges[::-1], -1)
    return Profile(vertices, bulges, profile.chord_error, profile.handles)


def mirrored_x(profile: Profile) -> Profile:
    """The profile of the opposite hand, x -> -x, run so that its direction of turning is kept."""
    flipped = Profile(profile.vertices * [-1.0, 1.0], -profile.bulges, profile.chord_error, profile.handles)
    return reversed_profile(flipped)


def circle(centre: tuple[float, float], radius: float) -> Profile:
    """A full circle as two half arcs, counter-clockwise."""
    x, y = centre
    return Profile(np.array([[x + radius, y], [x - radius, y]]), np.array([1.0, 1.0]))


def rectangle(x0: float, y0: float, x1: float, y1: float) -> Profile:
    """A rectangle, counter-clockwise."""
    return Profile(np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]]), np.zeros(4))
