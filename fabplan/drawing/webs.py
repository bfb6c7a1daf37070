"""Too little metal between two cuts: a hole and an edge, two holes, two profiles, or two stretches of one."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.drawing.limits import Limit
from fabplan.drawing.metal import NearItself, at_holes, by_row, crossed, depth, plates
from fabplan.drawing.say import finding
from fabplan.geom.inside import edge_distance
from fabplan.geom.near import box_pairs, nearest_pairs
from fabplan.geom.profile import flattened
from fabplan.geom.rings import joined, span_boxes
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Where
from fabplan.model.profile import Profile

MOST = 5000  # pairs of profiles that are measured
MANY = 100  # stretches to a pair
HALVINGS = 20

Told = tuple[float, Where, str]  # metal left, mm; place; remedy


def thin_webs(drawing: Drawing, limit: Limit, near: NearItself) -> Iterator[Finding]:
    """Findings for webs under the least, one for each row of holes and each pair of profiles."""
    yield from _at_edges(drawing, limit)
    yield from _between_holes(drawing, limit)
    yield from _necks(drawing, limit, near)
    for outline, cutouts in plates(drawing):
        if cutouts:
            yield from _between_profiles(drawing, (outline, *cutouts), limit)


def _found(what: str, told: Told, limit: Limit) -> Finding:
    web, where, mend = told
    found, least = unlike(web, limit.least)
    words = f"{found} mm of metal {what}: least {least} mm"
    return replace(finding("thin-web", words, mend, where, (web, limit.least, "mm")), source=limit.source)


def _is_thin(web: FloatArray, limit: Limit) -> IntArray:
    """Numbers of webs that are there but too thin; what is not there is told by other checks."""
    thin: IntArray = np.nonzero((web > FIGURE) & ~(web >= limit.least - FIGURE))[0]
    return thin


def _at_edges(drawing: Drawing, limit: Limit) -> Iterator[Finding]:
    holes = drawing.holes
    web = depth(drawing) - holes.diameter / 2.0
    for own in by_row(drawing, _is_thin(web, limit)):
        worst = int(own[web[own].argmin()])
        more = f" and {len(own) - 1} more" if len(own) > 1 else ""
        where = at_holes(drawing, worst, *(int(i) for i in own if i != worst))
        told = (float(web[worst]), where, "Move the hole or widen the piece.")
        yield _found(f"between hole {holes.number[worst]}{more} and the edge", told, limit)


def _between_holes(drawing: Drawing, limit: Limit) -> Iterator[Finding]:
    holes = drawing.holes
    pairs, apart = nearest_pairs(holes.xy, float(np.nan_to_num(holes.diameter).max(initial=0.0)) + limit.least)
    web = apart - holes.diameter[pairs].sum(axis=1) / 2.0
    thin = _is_thin(web, limit)
    if len(thin):
        worst = int(thin[web[thin].argmin()])
        i, j = pairs[worst].tolist()
        more = f" and in {len(thin) - 1} more places" if len(thin) > 1 else ""
        others = [k for k in np.unique(pairs[thin]).tolist() if k not in (i, j)]
        told = (float(web[worst]), at_holes(drawing, i, j, *others), "Move them apart.")
        yield _found(f"between holes {holes.number[i]} and {holes.number[j]}{more}", told, limit)


def _between_profiles(drawing: Drawing, profiles: Sequence[Profile], limit: Limit) -> Iterator[Finding]:
    for one, other in ((profiles[i], profiles[j]) for i, j in _near(profiles, limit.least).tolist()):
        if crossed(drawing, one, other):
            continue
        web, at = between(one, other)
        if len(_is_thin(np.array([web]), limit)):
            where = Where(drawing=drawing.name, handles=(*one.handles[:1], *other.handles[:1]), xy=at)
            yield _found("between two cuts", (web, where, "Move the cut-out or widen the piece."), limit)


def _near(profiles: Sequence[Profile], limit: float) -> IntArray:
    """Pairs (m, 2) of profiles of which some stretches come within about `limit`, mm, of one another; in order.

    Of profiles with more than `MOST` such pairs, those that come nearer.
    """
    rings = joined(profiles)
    box, owner = span_boxes(rings), rings.owner
    found = np.zeros((0, 2), dtype=np.int64)
    for reach in limit / 2.0 ** np.arange(1.0, HALVINGS):
        low, high = box[:, :2] - reach, box[:, 2:] + reach
        pairs = box_pairs(low, high, MANY * MOST, lambda some: owner[some[:, 0]] != owner[some[:, 1]])
        found = np.unique(np.sort(owner[pairs], axis=1), axis=0)
        if len(found) <= MOST and len(pairs) <= MANY * MOST:
            break
    return found


def between(one: Profile, other: Profile) -> tuple[float, tuple[float, float]]:
    """Least distance between two profiles (vertices and points along arcs of each against the other), and its place."""
    best, at = np.inf, (0.0, 0.0)
    for own, target in ((one, other), (other, one)):
        points = flattened(own, SAGITTA)
        distance, _ = edge_distance(target, points)
        nearest = int(distance.argmin())
        if distance[nearest] < best:
            best, at = float(distance[nearest]), (float(points[nearest, 0]), float(points[nearest, 1]))
    return best, at


def _necks(drawing: Drawing, limit: Limit, near: NearItself) -> Iterator[Finding]:
    """Narrow tongues and necks, one finding a profile."""
    profiles, found = near.profiles, near.narrows
    thin = _is_thin(np.where(found.void, np.inf, found.width + found.slack), limit)
    for worst in found.worst_of_each(thin).tolist():
        x, y = found.place[worst].tolist()
        where = Where(drawing=drawing.name, handles=profiles[int(found.owner[worst])].handles[:1], xy=(x, y))
        yield _found("across a tongue or neck", (float(found.width[worst]), where, "Make it wider."), limit)
