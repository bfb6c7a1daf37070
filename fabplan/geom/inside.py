"""Points inside profiles, distances from points to their edges: exact for arcs, whole arrays, numpy only."""

import numpy as np

from fabplan.geom.profile import arc_centres, flattened, spans
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.profile import Profile

BLOCK = 2_000_000  # entries of one distance table: 16 MB of doubles
BOXED = 64  # spans of one box


def inside(profile: Profile, points: FloatArray) -> BoolArray:
    """(n,) True for points (n, 2) inside the profile (even-odd rule, arcs as chords within `SAGITTA`)."""
    ring = flattened(profile, SAGITTA)
    result = np.zeros(len(points), dtype=np.bool_)
    rows = max(1, BLOCK // max(len(ring), 1))
    for low in range(0, len(points), rows):
        result[low : low + rows] = _even_odd(ring, points[low : low + rows])
    return result


def _even_odd(ring: FloatArray, points: FloatArray) -> BoolArray:
    start, end = ring, np.roll(ring, -1, axis=0)
    x, y = points[:, :1], points[:, 1:]
    crosses = (start[:, 1] > y) != (end[:, 1] > y)
    rise = np.where(end[:, 1] == start[:, 1], 1.0, end[:, 1] - start[:, 1])
    with np.errstate(over="ignore", invalid="ignore"):  # absurd numbers are told as findings
        at = start[:, 0] + (y - start[:, 1]) * (end[:, 0] - start[:, 0]) / rise
    odd: BoolArray = (np.sum(crosses & (x < at), axis=1) % 2).astype(np.bool_)
    return odd


def edge_distance(profile: Profile, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distance (n,) from points (n, 2) to the nearest place (n, 2) on the line of the profile, mm."""
    distance, place = np.full(len(points), np.inf), np.zeros((len(points), 2))
    rows = max(1, BLOCK // max(len(profile.vertices), 1))
    for low in range(0, len(points), rows):
        part = slice(low, low + rows)
        distance[part], place[part] = _nearest(profile, points[part])
    return distance, place


def near_edge(profile: Profile, points: FloatArray, limit: float) -> BoolArray:
    """(n,) True for points (n, 2) at most `limit` mm from the line of the profile.

    Only points in the box round some neighbouring spans are measured from these: a long line costs little.
    """
    near = np.zeros(len(points), dtype=np.bool_)
    start, end, angle = spans(profile)
    for low in range(0, len(start), BOXED):
        part = slice(low, low + BOXED)
        own = start[part], end[part], angle[part]
        within = np.nonzero(_in_box(*own, limit, points) & ~near)[0]
        for first in range(0, len(within), BLOCK // BOXED):
            some = within[first : first + BLOCK // BOXED]
            away = np.linalg.norm(points[some, None, :] - _span_places(*own, points[some]), axis=2)
            near[some] = away.min(axis=1) <= limit
    return near


def _in_box(start: FloatArray, end: FloatArray, angle: FloatArray, limit: float, points: FloatArray) -> BoolArray:
    """(n,) True for points (n, 2) in the box of spans; no place of an arc is further from its chord than its rise."""
    rise = np.hypot(*(end - start).T) * np.abs(np.tan(angle / 4.0)) / 2.0
    out = (rise + limit)[:, None]
    low, high = (np.minimum(start, end) - out).min(axis=0), (np.maximum(start, end) + out).max(axis=0)
    within: BoolArray = np.all((points >= low) & (points <= high), axis=1)
    return within


def _nearest(profile: Profile, points: FloatArray) -> tuple[FloatArray, FloatArray]:
    places = span_places(profile, points)
    away = np.linalg.norm(points[:, None, :] - places, axis=2)
    best = away.argmin(axis=1)
    rows = np.arange(len(points))
    return away[rows, best], places[rows, best]


def span_places(profile: Profile, points: FloatArray) -> FloatArray:
    """The nearest place (n, m, 2) on each of the m spans to each of the points (n, 2)."""
    return _span_places(*spans(profile), points)


def _span_places(start: FloatArray, end: FloatArray, angle: FloatArray, points: FloatArray) -> FloatArray:
    chord = end - start
    length2 = np.maximum(np.sum(chord * chord, axis=1), 1e-300)
    share = np.clip(np.einsum("nmx,mx->nm", points[:, None, :] - start, chord) / length2, 0.0, 1.0)
    places: FloatArray = start + share[:, :, None] * chord
    arcs = np.abs(angle) > 1e-9
    if arcs.any():
        places[:, arcs] = _arc_places(start[arcs], end[arcs], angle[arcs], points)
    return places


def _arc_places(start: FloatArray, end: FloatArray, angle: FloatArray, points: FloatArray) -> FloatArray:
    centre, radius = arc_centres(start, end, angle)
    out = points[:, None, :] - centre
    away = np.linalg.norm(out, axis=2, keepdims=True)
    on_circle = centre + out / np.maximum(away, 1e-300) * radius[:, None]
    first = np.arctan2(*(start - centre).T[::-1])
    turn = np.mod((np.arctan2(out[:, :, 1], out[:, :, 0]) - first) * np.sign(angle), 2.0 * np.pi)
    nearer_start = np.linalg.norm(points[:, None, :] - start, axis=2) <= np.linalg.norm(points[:, None] - end, axis=2)
    at_end = np.where(nearer_start[:, :, None], start, end)
    # from the centre of an arc every place on it is as near: its start stands for all
    swept: FloatArray = np.where(((turn <= np.abs(angle)) & (away[:, :, 0] > 0.0))[:, :, None], on_circle, at_end)
    return swept
