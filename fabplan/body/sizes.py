"""The sizes by which the rows of a piece are set out: a draughtsman uses few, a mistake brings new ones."""

from collections.abc import Iterable, Iterator

import numpy as np

from fabplan.geom.profile import bounds
from fabplan.model.arrays import FloatArray
from fabplan.model.part import Part

GRID = 10.0
"""Sizes to a tenth of a millimetre are one and the same."""


def sizes(part: Part) -> frozenset[float]:
    """Pitches of all rows, and how far their ends lie from the nearest edges of their panel, mm."""
    found: set[float] = set()
    for steps, ends in _set_out(part):
        found |= steps | ends
    return frozenset(found)


def unlike(part: Part) -> int:
    """How many unlike pitches its rows have, each row counted by itself: a row set out whole has one or two."""
    return sum(len(steps) for steps, _ in _set_out(part))


def _set_out(part: Part) -> Iterator[tuple[frozenset[float], frozenset[float]]]:
    """The pitches of each row, and how far its ends lie from the edges."""
    names = np.array(part.holes.holes.row)
    for name in dict.fromkeys(part.holes.holes.row):
        own = np.nonzero(names == name)[0]
        xy = part.holes.holes.xy[own]
        along = np.lexsort((xy[:, 1], xy[:, 0])) if np.ptp(xy[:, 0]) >= np.ptp(xy[:, 1]) else np.argsort(xy[:, 1])
        ends = xy[along[[0, -1]]]
        box = bounds(part.panels[int(part.holes.panel[own[0]])].outline)
        edges = np.minimum(np.abs(ends - box[:2]), np.abs(box[2:] - ends))
        steps = np.linalg.norm(np.diff(xy[along], axis=0), axis=1)
        yield _rounded(steps), _rounded(edges.ravel())


def _rounded(values: FloatArray) -> frozenset[float]:
    return frozenset((np.round(values * GRID) / GRID).tolist())


def oddness(parts: Iterable[Part], others: frozenset[float]) -> int:
    """How many sizes of these pieces stand nowhere else in the kit, and how many unlike pitches their rows have."""
    formed = [part for part in parts if part.panels]
    new = frozenset[float]().union(*(sizes(part) for part in formed)) - others
    return len(new) + sum(unlike(part) for part in formed)
