"""Hole patterns that are nearly, and not quite, symmetric: the piece can be turned or handed wrongly.

A pattern that is quite symmetric does no harm, one that is plainly not shows at once; between them the error is found
when the piece is bolted up, or later.
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.drawing.metal import at_holes
from fabplan.drawing.say import finding
from fabplan.geom.inside import edge_distance
from fabplan.geom.profile import area, centroid, flattened
from fabplan.geom.rows import along_row
from fabplan.geom.symmetry import Fit, Way, fit, ways
from fabplan.geom.tolerance import CAPTURE, FIGURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Level
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile

LIKE = 0.5  # mm: half the usual clearance of a rivet; holes that miss by no more go together (common practice)
SEEN = 5.0  # mm: an edge that is out by more shows at once (common practice)
PAIR, FEW = 2, 10  # a hole at each end of a row, or one in ten of all: so few that are out are met with late
MOST = 3000  # holes, and corners of an outline, beyond which a pattern is not compared: a sieve


def near_symmetric(drawing: Drawing) -> Iterator[Finding]:
    """One finding for a plate whose rivet and bolt holes nearly meet themselves when it is put another way.

    A query where a few holes do not meet, a note where as much as half of them do not: that is found at the first bolt.
    """
    nearly = [found for found in fits(drawing) if 0 < _off(found) * 2 <= len(found.miss)]
    if not nearly:
        return
    worst = min(nearly, key=_off)
    few = _off(worst) <= _few(len(worst.miss))
    ways_told = ", or ".join(dict.fromkeys(found.way.words for found in nearly))
    off = np.nonzero(~(worst.miss <= LIKE + FIGURE))[0]
    own = _mated(drawing.holes)
    far = float(_met(worst).max(initial=0.0))
    missing = f"{int(worst.alone.sum())} meet none" if worst.alone.any() else f"the worst misses by {far:.1f} mm"
    what = f"the hole pattern is nearly the same {ways_told}: {len(worst.miss) - len(off)} of {len(worst.miss)} holes "
    what += f"meet, {missing}{_read_backwards(drawing.holes, worst.way)}"
    mend = "Make the pattern the same both ways, or plainly not, or draw a mark that tells how it lies on layer MARK."
    figures = (far, LIKE, "mm") if not worst.alone.any() else (float(worst.alone.sum()), 0.0, "holes")
    found = finding("near-symmetric", what, mend, at_holes(drawing, *own[off].tolist()), figures)
    yield found if few else replace(found, level=Level.NOTE)


def _met(found: Fit) -> FloatArray:
    return found.miss[np.isfinite(found.miss)]


def _few(count: int) -> int:
    """So many of all holes may be out, and the piece still seems to fit."""
    return max(PAIR, count // FEW)


def _off(found: Fit) -> int:
    """How many holes do not meet."""
    return int(np.sum(~(found.miss <= LIKE + FIGURE)))


def same_turned_over(drawing: Drawing) -> bool:
    """True where a plate turned over is the same plate: a pair of it has no hand."""
    return any(found.way.over and bool((found.miss <= LIKE + FIGURE).all()) for found in fits(drawing))


def fits(drawing: Drawing) -> list[Fit]:
    """The ways in which the plate could be put without its edge, openings, folds or marks showing it."""
    outline, holes = drawing.outline, drawing.holes
    own = _mated(holes)
    if outline is None or not 3 <= len(own) <= MOST or len(outline.vertices) > MOST:
        return []
    if not np.isfinite(holes.xy).all():
        return []
    found = []
    for way in ways(outline):
        one = fit(holes.xy[own], holes.diameter[own], way, CAPTURE)
        if int(one.alone.sum()) * FEW <= len(own) and _hides(outline, way) and not _tells(drawing, way):
            found.append(one)
    return found


def _mated(holes: Holes) -> IntArray:
    """Numbers of the holes that meet others: for rivets and bolts."""
    return np.nonzero([purpose != "open" for purpose in holes.purpose])[0]


def _hides(outline: Profile, way: Way) -> bool:
    """True where the edge comes so near to where it was that nobody sees it."""
    away, _ = edge_distance(outline, way.moved(flattened(outline, SEEN / 5.0)))
    return bool((away <= SEEN + FIGURE).all())


def _tells(drawing: Drawing, way: Way) -> bool:
    """True where an opening, a fold, a roll line or a mark comes to lie elsewhere."""
    opening = [k for k, purpose in enumerate(drawing.holes.purpose) if purpose == "open"]
    centres = [centroid(cutout) for cutout in drawing.cutouts if area(cutout) != 0.0]
    kinds = [drawing.holes.xy[opening], np.array(centres).reshape(-1, 2)]
    for lines in (drawing.folds, drawing.rolls, drawing.marks):
        kinds.append(np.vstack([line.points for line in lines]) if lines else np.zeros((0, 2)))
    return any(not _comes_back(points, way.moved(points)) for points in kinds)


def _comes_back(points: FloatArray, moved: FloatArray) -> bool:
    if not len(points):
        return True
    if len(points) > MOST:
        return False
    away = np.linalg.norm(points[None] - moved[:, None], axis=2).min(axis=1)
    return bool((away <= SEEN + FIGURE).all())


def _read_backwards(holes: Holes, way: Way) -> str:
    """The first row of which the pitches are not the same read from its other end, in words."""
    for name in dict.fromkeys(holes.row) if way.words != "turned a quarter round" else ():
        own = np.array([k for k, row in enumerate(holes.row) if row == name and name])
        if len(own) < 3:
            continue
        pitch = np.linalg.norm(np.diff(holes.xy[own[along_row(holes.xy[own])]], axis=0), axis=1)
        unlike = np.nonzero(np.abs(pitch - pitch[::-1]) > LIKE)[0]
        if len(unlike):
            k = int(unlike[0])
            return f"; row {name}, space {k + 1}: {pitch[k]:.1f} mm, from its other end {pitch[-1 - k]:.1f} mm"
    return ""
