"""The lines in which the holes of one row stand, whichever way the plate is turned. numpy only.

A row may be one straight line, a few parallel lines (chain or zigzag), or one line that bends: an arc, three sides of a
plate, a closed ring. Parallel lines are tried first; what does not stand in them is strung on its shortest tree.
"""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.near import median
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

ON_LINE = 0.3  # mm off a line, and still of it: rounding of drawn places
MOST = 6  # parallel lines of one seam; more is a pattern, not a seam
TRIED = 500  # directions tried for the lines of one row
CLOSING = 1.5  # a bent row whose ends stand nearer than this many of its pitches is closed
FACING, MISSING = 0.8, 6.0  # and so is one whose ends look at one another, within 37 degrees, over so many pitches


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Holes that follow one another, as indices in order; `closed` where the last is followed by the first."""

    order: IntArray
    straight: bool
    closed: bool


def runs_of(xy: FloatArray) -> tuple[Run, ...]:
    """The lines of one row of holes (n, 2), mm; parallel lines side by side in order.

    >>> [run.order.tolist() for run in runs_of(np.array([[0.0, 0.0], [40.0, 20.0], [20.0, 20.0], [10.0, 0.0],
    ...     [20.0, 0.0], [30.0, 20.0]]))]
    [[0, 3, 4], [2, 5, 1]]
    """
    if len(xy) < 3:
        return (Run(np.arange(len(xy)), True, False),) if len(xy) else ()
    if not np.isfinite(xy).all():
        return (Run(np.arange(len(xy)), False, False),)
    return _parallel(xy) or _strung(xy)


def _parallel(xy: FloatArray) -> tuple[Run, ...]:
    """Parallel lines that hold all holes, or none."""
    along, most = _direction(xy)
    if most < 3:
        return ()
    place, across = xy @ along, xy @ np.array([-along[1], along[0]])
    by_across = np.argsort(across, kind="stable")
    groups = np.split(by_across, np.nonzero(np.diff(across[by_across]) > 2.0 * ON_LINE)[0] + 1)
    if len(groups) > MOST or any(np.ptp(across[group]) > 2.0 * ON_LINE for group in groups):
        return ()
    lines = [group[np.argsort(place[group], kind="stable")] for group in groups]
    if min(len(line) for line in lines) < 2:
        return ()
    pitch = [median(np.diff(place[line])) for line in lines]
    alone = [len(line) == 2 and gap > CLOSING * min(pitch) for line, gap in zip(lines, pitch, strict=True)]
    return () if any(alone) else tuple(Run(line, True, False) for line in lines)


def _direction(xy: FloatArray) -> tuple[FloatArray, int]:
    """Direction of the fullest line through the outermost hole, and how many holes stand in it."""
    far = int(np.argmax(np.linalg.norm(xy - xy.mean(axis=0), axis=1)))
    out = np.delete(xy - xy[far], far, axis=0)
    length = np.linalg.norm(out, axis=1)
    out, length = out[length > ON_LINE], length[length > ON_LINE]
    if len(out) == 0:
        return np.array([1.0, 0.0]), 0
    last = int(np.argmax(length))
    along = out[last] / length[last]
    if np.abs(along[0] * out[:, 1] - along[1] * out[:, 0]).max() <= ON_LINE:  # all in one: no fuller line to seek
        return along, len(out) + 1
    tried = np.argsort(length, kind="stable")[np.linspace(0, len(out) - 1, min(len(out), TRIED)).astype(np.int64)]
    unit = out[tried] / length[tried][:, None]
    off = np.abs(np.outer(unit[:, 0], out[:, 1]) - np.outer(unit[:, 1], out[:, 0]))
    count = np.sum(off <= ON_LINE, axis=1) + 1
    # of lines as full the closest set one is the row; of its holes the farthest gives the truest direction
    fullest = np.nonzero(count == count.max())[0]
    spread = [float(length[off[i] <= ON_LINE].max()) for i in fullest]
    row = np.nonzero(off[fullest[int(np.argmin(np.round(spread, 3)))]] <= ON_LINE)[0]
    last = row[int(np.argmax(length[row]))]
    return out[last] / length[last], int(count.max())


def _strung(xy: FloatArray) -> tuple[Run, ...]:
    """The holes along their shortest tree: one run where it does not fork, else a run for each branch."""
    edges = shortest_tree(xy)
    degree = np.bincount(edges.ravel(), minlength=len(xy))
    runs = _branches(edges, degree)
    if len(runs) != 1:
        return tuple(Run(order, False, False) for order in runs)
    return (Run(runs[0], False, len(runs[0]) > 3 and _closed(xy[runs[0]])),)


def _closed(xy: FloatArray) -> bool:
    """True where the holes of a bent line (n, 2), n > 3, go round: a ring with a rivet left out is still a ring."""
    along, gap = np.diff(xy, axis=0), xy[0] - xy[-1]
    step, ends = np.linalg.norm(along, axis=1), float(np.linalg.norm(gap))
    common = float(np.sort(step)[-2])  # one wide gap is not its pitch
    if ends <= CLOSING * common:
        return True
    facing = (along[[0, -1]] @ gap) / np.maximum(step[[0, -1]] * ends, 1e-300)
    return ends <= MISSING * median(step) and bool((facing >= FACING).all())


def _branches(edges: IntArray, degree: IntArray) -> list[IntArray]:
    """Runs of a tree from each end or fork to the next."""
    beside: list[list[int]] = [[] for _ in degree]
    for a, b in edges.tolist():
        beside[a].append(b)
        beside[b].append(a)
    runs = []
    for start in np.nonzero(degree != 2)[0].tolist():
        for follow in beside[start]:
            run = [start, follow]
            while degree[run[-1]] == 2:
                run.append(next(hole for hole in beside[run[-1]] if hole != run[-2]))
            if start < run[-1]:
                runs.append(np.array(run))
    return runs


def shortest_tree(xy: FloatArray) -> IntArray:
    """Edges (n - 1, 2) of the shortest tree through points (n, 2) (Prim, Bell System Technical Journal 36 (1957) 1389).

    >>> shortest_tree(np.array([[0.0, 0.0], [5.0, 0.0], [2.0, 0.0]])).tolist()
    [[0, 2], [2, 1]]
    """
    count = len(xy)
    best, parent = np.full(count, np.inf), np.zeros(count, dtype=np.int64)
    inside: BoolArray = np.zeros(count, dtype=np.bool_)
    edges, here = [], 0
    for _ in range(count - 1):
        inside[here] = True
        away = np.linalg.norm(xy - xy[here], axis=1)
        nearer = away < best
        best[nearer], parent[nearer] = away[nearer], here
        here = int(np.argmin(np.where(inside, np.inf, best)))
        edges.append((int(parent[here]), here))
    return np.array(edges, dtype=np.int64).reshape(-1, 2)
