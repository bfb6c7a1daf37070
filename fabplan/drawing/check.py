"""Faults of a read drawing that its geometry shows: holes against edges and one another, webs, cuts that cross."""

from collections.abc import Iterator

import numpy as np

from fabplan.drawing.say import finding
from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.near import close_pairs
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Supplier
from fabplan.model.profile import Profile

ASSUMED = (0.0, 1.0)  # smallest hole and web: 1.0 t, a common limit of laser cutters (common practice)


def check_drawing(drawing: Drawing, supplier: Supplier | None, thickness: float | None) -> tuple[Finding, ...]:
    """Findings about the geometry of one drawing; the reader's own are in `drawing.findings`.

    Args:
        drawing: as read.
        supplier: whose limits hold; None takes assumed ones, and the finding says so.
        thickness: mm, or None where it is not known: then nothing that depends on it is checked.
    """
    found = [*_outside(drawing), *_overlap(drawing)]
    if thickness is not None:
        found += [*_small(drawing, supplier, thickness), *_thin(drawing, supplier, thickness)]
    return tuple(found)


def _edge(drawing: Drawing) -> FloatArray:
    """(n,) distance from each hole's centre to the nearest edge, negative outside the metal, mm."""
    holes = drawing.holes
    if drawing.outline is None:
        return np.full(len(holes), np.inf)
    distance, _ = edge_distance(drawing.outline, holes.xy)
    distance = np.where(inside(drawing.outline, holes.xy), distance, -distance)
    for cutout in drawing.cutouts:
        away, _ = edge_distance(cutout, holes.xy)
        distance = np.minimum(distance, np.where(inside(cutout, holes.xy), -away, away))
    return distance


def _outside(drawing: Drawing) -> Iterator[Finding]:
    holes, edge = drawing.holes, _edge(drawing)
    for i in np.nonzero(~(edge - holes.diameter / 2.0 > FIGURE))[0].tolist():
        what = f"hole {holes.number[i]} ({holes.diameter[i]:g} mm) lies outside the plate or runs over its edge"
        figures = (float(edge[i]), float(holes.diameter[i] / 2.0), "mm")
        yield finding("hole-outside", what, "Move the hole into the plate.", _hole(drawing, i), figures)


def _hole(drawing: Drawing, *index: int) -> Where:
    holes = drawing.holes
    x, y = holes.xy[index[0]].tolist()
    return Where(
        drawing=drawing.name,
        handles=tuple(holes.handle[i] for i in index),
        holes=tuple(holes.number[i] for i in index),
        xy=(x, y),
    )


def _overlap(drawing: Drawing) -> Iterator[Finding]:
    holes = drawing.holes
    pairs, apart = close_pairs(holes.xy, float(holes.diameter.max(initial=0.0)))
    needed = holes.diameter[pairs].sum(axis=1) / 2.0
    for k in np.nonzero(~(apart > needed))[0].tolist():
        i, j = pairs[k].tolist()
        what = f"holes {holes.number[i]} and {holes.number[j]} run into one another"
        figures = (float(apart[k]), float(needed[k]), "mm")
        yield finding("holes-overlap", what, "Move them apart.", _hole(drawing, i, j), figures)


def _limit(supplier: Supplier | None, stated: tuple[float, float] | None, thickness: float) -> tuple[float, str]:
    if supplier is not None and stated is not None:
        return stated[0] + stated[1] * thickness, f"limit of {supplier.name}, {supplier.limits_dated or 'undated'}"
    return ASSUMED[0] + ASSUMED[1] * thickness, "assumed 1.0 t (common practice); ask the supplier"


def _small(drawing: Drawing, supplier: Supplier | None, thickness: float) -> Iterator[Finding]:
    limit, source = _limit(supplier, supplier.smallest_hole if supplier else None, thickness)
    holes = drawing.holes
    small = np.nonzero(~(holes.diameter >= limit - FIGURE))[0].tolist()
    if small:
        what = f"{len(small)} hole(s) of {holes.diameter[small[0]]:g} mm in {thickness:g} mm plate: "
        what += f"least {limit:g} mm, {source}"
        figures = (float(holes.diameter[small].min()), limit, "mm")
        yield finding("small-hole", what, "Have the centre marked only and drill it.", _hole(drawing, *small), figures)


def _thin(drawing: Drawing, supplier: Supplier | None, thickness: float) -> Iterator[Finding]:
    """Too little metal between a hole and an edge, two holes, or two profiles."""
    limit, source = _limit(supplier, supplier.smallest_web if supplier else None, thickness)
    holes = drawing.holes
    web = _edge(drawing) - holes.diameter / 2.0
    for i in np.nonzero((web > FIGURE) & ~(web >= limit - FIGURE))[0].tolist():
        what = f"{web[i]:.2f} mm of metal between hole {holes.number[i]} and the edge: least {limit:g} mm, {source}"
        yield finding(
            "thin-web", what, "Move the hole or widen the piece.", _hole(drawing, i), (float(web[i]), limit, "mm")
        )
    pairs, apart = close_pairs(holes.xy, float(holes.diameter.max(initial=0.0)) + limit)
    web = apart - holes.diameter[pairs].sum(axis=1) / 2.0
    for k in np.nonzero((web > 0.0) & ~(web >= limit - FIGURE))[0].tolist():
        i, j = pairs[k].tolist()
        what = f"{web[k]:.2f} mm of metal between holes {holes.number[i]} and {holes.number[j]}: "
        what += f"least {limit:g} mm, {source}"
        yield finding("thin-web", what, "Move them apart.", _hole(drawing, i, j), (float(web[k]), limit, "mm"))
    yield from _thin_profiles(drawing, limit, source)


def _thin_profiles(drawing: Drawing, limit: float, source: str) -> Iterator[Finding]:
    profiles = [profile for profile in (drawing.outline, *drawing.cutouts) if profile is not None]
    for number, one in enumerate(profiles):
        for other in profiles[number + 1 :]:
            web, at = _between(one, other)
            if web > FIGURE and not web >= limit - FIGURE:
                what = f"{web:.2f} mm of metal between two cuts: least {limit:g} mm, {source}"
                where = Where(drawing=drawing.name, handles=(*one.handles[:1], *other.handles[:1]), xy=at)
                yield finding("thin-web", what, "Move the cut-out or widen the piece.", where, (web, limit, "mm"))


def _between(one: Profile, other: Profile) -> tuple[float, tuple[float, float]]:
    """Least distance between two profiles (vertices and points along arcs of each against the other), and its place."""
    best, at = np.inf, (0.0, 0.0)
    for own, target in ((one, other), (other, one)):
        points = flattened(own, SAGITTA)
        distance, _ = edge_distance(target, points)
        nearest = int(distance.argmin())
        if distance[nearest] < best:
            best, at = float(distance[nearest]), (float(points[nearest, 0]), float(points[nearest, 1]))
    return best, at
