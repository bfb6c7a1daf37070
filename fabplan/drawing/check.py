"""Faults of a read drawing that its geometry shows: holes against edges and one another, webs, cuts that cross."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.drawing.say import finding
from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.near import box_pairs, close_pairs
from fabplan.geom.profile import bounds, flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import FloatArray, IntArray
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
    """(n,) distance from each hole's centre to the nearest edge, negative outside the metal, mm.

    Of several pieces of metal in one drawing that one counts in which the hole lies deepest.
    """
    holes, plates = drawing.holes, _plates(drawing)
    if not plates:
        return np.full(len(holes), np.inf)
    deepest: FloatArray = np.max([_depth(holes.xy, outline, cutouts) for outline, cutouts in plates], axis=0)
    return deepest


def _plates(drawing: Drawing) -> list[tuple[Profile, tuple[Profile, ...]]]:
    """The pieces of metal of a drawing, each with its cut-outs."""
    if drawing.outline is None:
        return []
    return [(shape.outline, shape.cutouts) for shape in drawing.shapes] or [(drawing.outline, drawing.cutouts)]


def _depth(xy: FloatArray, outline: Profile, cutouts: Sequence[Profile]) -> FloatArray:
    """(n,) distance from points (n, 2) to the nearest edge of one piece, negative outside its metal, mm."""
    distance, _ = edge_distance(outline, xy)
    distance = np.where(inside(outline, xy), distance, -distance)
    for cutout in cutouts:
        away, _ = edge_distance(cutout, xy)
        distance = np.minimum(distance, np.where(inside(cutout, xy), -away, away))
    return distance


def _by_row(drawing: Drawing, index: IntArray) -> Iterator[IntArray]:
    """Numbers of holes, those of one row together: one fault of a row is told once."""
    rows = [drawing.holes.row[i] for i in index]
    for row in dict.fromkeys(rows):
        yield index[[name == row for name in rows]]


def _outside(drawing: Drawing) -> Iterator[Finding]:
    holes, edge = drawing.holes, _edge(drawing)
    for own in _by_row(drawing, np.nonzero(~(edge - holes.diameter / 2.0 > FIGURE))[0]):
        i = int(own[0])
        what = f"hole {holes.number[i]} ({holes.diameter[i]:g} mm){_more(own)} outside the plate or across its edge"
        figures = (float(edge[i]), float(holes.diameter[i] / 2.0), "mm")
        yield finding("hole-outside", what, "Move it into the plate.", _hole(drawing, *own.tolist()), figures)


def _more(index: IntArray) -> str:
    return f" and {len(index) - 1} more of its row lie" if len(index) > 1 else " lies"


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
    pairs, apart = close_pairs(holes.xy, float(np.nan_to_num(holes.diameter).max(initial=0.0)))
    needed = holes.diameter[pairs].sum(axis=1) / 2.0
    for k in np.nonzero(~(apart > needed))[0].tolist():
        i, j = pairs[k].tolist()
        what = f"holes {holes.number[i]} and {holes.number[j]} run into one another"
        figures = (float(apart[k]), float(needed[k]), "mm")
        yield finding("holes-overlap", what, "Move them apart.", _hole(drawing, i, j), figures)


@dataclass(frozen=True, slots=True)
class _Limit:
    """A supplier's limit, mm, and whose it is."""

    least: float
    source: str


def _limit(supplier: Supplier | None, stated: tuple[float, float] | None, thickness: float) -> _Limit:
    if supplier is not None and stated is not None:
        source = f"limit of {supplier.name}, {supplier.limits_dated or 'undated'}"
        return _Limit(stated[0] + stated[1] * thickness, source)
    return _Limit(ASSUMED[0] + ASSUMED[1] * thickness, "assumed 1.0 t of a laser cutter (common practice)")


def _small(drawing: Drawing, supplier: Supplier | None, thickness: float) -> Iterator[Finding]:
    limit = _limit(supplier, supplier.smallest_hole if supplier else None, thickness)
    holes = drawing.holes
    small = np.nonzero(~(holes.diameter >= limit.least - FIGURE))[0]
    if len(small):
        size = float(holes.diameter[small].min())
        many = "a hole of" if len(small) == 1 else f"{len(small)} holes, the smallest"
        what = f"{many} {size:g} mm in {thickness:g} mm plate: least {limit.least:g} mm"
        mend = "Ask the supplier, or have the centre marked only and drill it."
        where, figures = _hole(drawing, *small.tolist()), (size, limit.least, "mm")
        yield replace(finding("small-hole", what, mend, where, figures), source=limit.source)


def _thin(drawing: Drawing, supplier: Supplier | None, thickness: float) -> Iterator[Finding]:
    """Too little metal between a hole and an edge, two holes, or two profiles."""
    limit = _limit(supplier, supplier.smallest_web if supplier else None, thickness)
    yield from _thin_edges(drawing, limit)
    yield from _thin_holes(drawing, limit)
    yield from _thin_profiles(drawing, limit)


def _is_thin(web: FloatArray, limit: _Limit) -> IntArray:
    """Numbers of webs that are there but too thin; what is not there is told by other checks."""
    thin: IntArray = np.nonzero((web > FIGURE) & ~(web >= limit.least - FIGURE))[0]
    return thin


def _thin_edges(drawing: Drawing, limit: _Limit) -> Iterator[Finding]:
    holes = drawing.holes
    web = _edge(drawing) - holes.diameter / 2.0
    for own in _by_row(drawing, _is_thin(web, limit)):
        worst = int(own[web[own].argmin()])
        more = f" and {len(own) - 1} more" if len(own) > 1 else ""
        what = f"{web[worst]:.2f} mm of metal between hole {holes.number[worst]}{more} and the edge: "
        what += f"least {limit.least:g} mm"
        where = _hole(drawing, worst, *(int(i) for i in own if i != worst))
        figures = (float(web[worst]), limit.least, "mm")
        yield replace(
            finding("thin-web", what, "Move the hole or widen the piece.", where, figures), source=limit.source
        )


def _thin_holes(drawing: Drawing, limit: _Limit) -> Iterator[Finding]:
    holes = drawing.holes
    pairs, apart = close_pairs(holes.xy, float(np.nan_to_num(holes.diameter).max(initial=0.0)) + limit.least)
    web = apart - holes.diameter[pairs].sum(axis=1) / 2.0
    thin = _is_thin(web, limit)
    if len(thin):
        worst = int(thin[web[thin].argmin()])
        i, j = pairs[worst].tolist()
        more = f" and in {len(thin) - 1} more places" if len(thin) > 1 else ""
        what = f"{web[worst]:.2f} mm of metal between holes {holes.number[i]} and {holes.number[j]}{more}: "
        what += f"least {limit.least:g} mm"
        others = [k for k in np.unique(pairs[thin]).tolist() if k not in (i, j)]
        figures = (float(web[worst]), limit.least, "mm")
        yield replace(
            finding("thin-web", what, "Move them apart.", _hole(drawing, i, j, *others), figures), source=limit.source
        )


def _thin_profiles(drawing: Drawing, limit: _Limit) -> Iterator[Finding]:
    for outline, cutouts in _plates(drawing):
        if cutouts:
            yield from _thin_between(drawing, (outline, *cutouts), limit)


def _thin_between(drawing: Drawing, profiles: Sequence[Profile], limit: _Limit) -> Iterator[Finding]:
    box = np.array([bounds(profile) for profile in profiles])
    # the outer profile stands round all; of cut-outs only those whose bounds come near one another are measured
    pairs = box_pairs(box[:, :2] - limit.least / 2.0, box[:, 2:] + limit.least / 2.0)
    for one, other in ((profiles[i], profiles[j]) for i, j in pairs.tolist()):
        if _cross(drawing, one, other):
            continue
        web, at = _between(one, other)
        if len(_is_thin(np.array([web]), limit)):
            what = f"{web:.2f} mm of metal between two cuts: least {limit.least:g} mm"
            where = Where(drawing=drawing.name, handles=(*one.handles[:1], *other.handles[:1]), xy=at)
            figures = (web, limit.least, "mm")
            yield replace(
                finding("thin-web", what, "Move the cut-out or widen the piece.", where, figures), source=limit.source
            )


def _cross(drawing: Drawing, one: Profile, other: Profile) -> bool:
    """True where two profiles are already found to cross."""
    both = {*one.handles, *other.handles}
    crossed = (set(found.where.handles) for found in drawing.findings if found.check == "crossing-lines")
    return any(handles and handles <= both for handles in crossed)


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
