"""Holes that lie wrongly or are too small: outside the plate, into one another, too small to be cut."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.drawing.limits import hole_limit
from fabplan.drawing.metal import at_holes, by_row, depth
from fabplan.drawing.say import finding
from fabplan.geom.near import heaps, nearest_pairs
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding
from fabplan.model.job import Supplier


def outside(drawing: Drawing) -> Iterator[Finding]:
    """Holes outside the plate or across its edge."""
    holes, edge = drawing.holes, depth(drawing)
    for own in by_row(drawing, np.nonzero(~(edge - holes.diameter / 2.0 > FIGURE))[0]):
        i = int(own[0])
        what = f"hole {holes.number[i]} ({holes.diameter[i]:g} mm){_more(own)} outside the plate or across its edge"
        figures = (float(edge[i]), float(holes.diameter[i] / 2.0), "mm")
        yield finding("hole-outside", what, "Move it into the plate.", at_holes(drawing, *own.tolist()), figures)


def _more(index: IntArray) -> str:
    return f" and {len(index) - 1} more of its row lie" if len(index) > 1 else " lies"


def overlapping(drawing: Drawing) -> Iterator[Finding]:
    """Holes that run into one another, each heap of them told once, by the pair that lies deepest."""
    holes = drawing.holes
    pairs, apart = nearest_pairs(holes.xy, float(np.nan_to_num(holes.diameter).max(initial=0.0)))
    needed = holes.diameter[pairs].sum(axis=1) / 2.0
    wrong = np.nonzero(~(apart > needed))[0]
    pairs, apart, needed = pairs[wrong], apart[wrong], needed[wrong]
    heap = heaps(pairs, len(holes))
    for label in np.unique(heap[pairs[:, 0]]).tolist():
        own = np.nonzero(heap[pairs[:, 0]] == label)[0]
        worst = int(own[np.argmin(apart[own] - needed[own])])
        i, j = pairs[worst].tolist()
        others = [k for k in np.nonzero(heap == label)[0].tolist() if k not in (i, j)]
        more = f", with {len(others)} more," if others else ""
        what = f"holes {holes.number[i]} and {holes.number[j]}{more} run into one another"
        figures = (float(apart[worst]), float(needed[worst]), "mm")
        yield finding("holes-overlap", what, "Move them apart.", at_holes(drawing, i, j, *others), figures)


def small(drawing: Drawing, supplier: Supplier | None, thickness: float) -> Iterator[Finding]:
    """Holes under the least that the supplier, or his process, cuts in this thickness."""
    limit = hole_limit(supplier, thickness)
    holes = drawing.holes
    under = np.nonzero(~(holes.diameter >= limit.least - FIGURE))[0]
    if len(under):
        size = float(holes.diameter[under].min())
        many = "a hole of" if len(under) == 1 else f"{len(under)} holes, the smallest"
        what = f"{many} {size:g} mm in {thickness:g} mm plate: least {limit.least:g} mm"
        mend = "Have the centre marked only and drill it after, or ask the supplier."
        where, figures = at_holes(drawing, *under.tolist()), (size, limit.least, "mm")
        yield replace(finding("small-hole", what, mend, where, figures), source=limit.source)
