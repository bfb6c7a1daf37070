"""Where along a row a hole may be: metal of all plies, its edges, other holes, lines of forming, room for the heads."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import inside, span_places
from fabplan.geom.segments import line_distance
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.setout.limits import Limits
from fabplan.setout.ply import Meeting, Ply, meeting

AHEAD = 0.01  # mm along the row over which its direction on each ply is taken
STEEP = float(np.sqrt(0.5))  # an edge within 45 degrees of the row counts as along it, as in `rules.measure`


@dataclass(frozen=True, slots=True, eq=False)
class Room:
    """What was found at places along one line.

    Attributes:
        off: (n,) number of the first reason of `words` why the metal ends there, -1 where it does not.
        taken: (n,) number of the first reason why something stands there, -1 where nothing does.
        beside: (n, m) distance to the nearest edge of each ply across the row, mm, infinite for none.
        back, ahead: (n, m) distance to the edge of each ply behind and before along the row, mm, infinite for none.
        step: (n, m) mm on each ply for one on that on which the row is laid.
        words: the reasons.
        met: where the axes meet the plies.
    """

    off: IntArray
    taken: IntArray
    beside: FloatArray
    back: FloatArray
    ahead: FloatArray
    step: FloatArray
    words: list[str]
    met: Meeting


def room(
    plies: Sequence[Ply], on: int, places: Callable[[FloatArray], FloatArray], given: tuple[FloatArray, Limits]
) -> Room:
    """What is found at places along one line.

    Args:
        plies: of the seam.
        on: number of the ply on which the line is.
        places: (n, 2) places of the line on its blank at lengths (n,) along it.
        given: these lengths (n,), mm; and the limits.
    """
    s, limits = given
    met, near, far = (meeting(plies, on, places(s + way)) for way in (0.0, -AHEAD, AHEAD))
    off, taken, words = np.full(len(s), -1), np.full(len(s), -1), list[str]()
    beside, back, ahead, step = (np.full((len(s), len(plies)), np.inf) for _ in range(4))
    for k, ply in enumerate(plies):
        xy, run = met.xy[k], far.xy[k] - near.xy[k]
        step[:, k] = np.linalg.norm(run, axis=1) / (2.0 * AHEAD)
        way = run / np.maximum(np.linalg.norm(run, axis=1), 1e-300)[:, None]
        _note(off, words, ~met.fair[:, k], f"{ply.name} does not lie against its mates there")
        _note(off, words, ~metal(ply, xy), f"{ply.name} has no metal there")
        beside[:, k], back[:, k], ahead[:, k] = _edges(ply, xy, way)
        for measure, value in (("edge distance", beside[:, k]), ("end distance", np.minimum(back[:, k], ahead[:, k]))):
            least = limits.least(measure)
            words_of = f"the edge of {ply.name} is too near: least {measure} {limits.said(measure, 'least')}"
            _note(off, words, ~(value >= least - FIGURE), words_of)
        for near_by, why in _taken(ply, xy, limits):
            _note(taken, words, near_by, why)
    return Room(off, taken, beside, back, ahead, step, words, met)


def _note(found: IntArray, words: list[str], here: BoolArray, why: str) -> None:
    """Note a reason where it holds and none was noted before."""
    if np.any(here & (found < 0)):
        found[here & (found < 0)] = len(words)
        words.append(why)


def metal(ply: Ply, xy: FloatArray) -> BoolArray:
    """(n,) True for places (n, 2) within the outline of a ply and in none of its openings."""
    found = inside(ply.outline, xy)
    for cutout in ply.cutouts:
        found &= ~inside(cutout, xy)
    return found


def _edges(ply: Ply, xy: FloatArray, way: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """(n,) distance to the nearest edge across the row, behind and before along it, infinite for none."""
    away = np.concatenate([span_places(edge, xy) for edge in (ply.edge, *ply.cutouts)], axis=1) - xy[:, None]
    distance = np.linalg.norm(away, axis=2)
    forward = np.einsum("nmx,nx->nm", away, way)
    steep = STEEP * distance
    across = np.where(np.abs(forward) >= steep, np.inf, distance).min(axis=1)
    behind = np.where(-forward >= steep, distance, np.inf).min(axis=1)
    before = np.where(forward >= steep, distance, np.inf).min(axis=1)
    return across, behind, before


def _taken(ply: Ply, xy: FloatArray, limits: Limits) -> list[tuple[BoolArray, str]]:
    """Where other holes and lines of forming are too near, (n,) each, and why."""
    found = []
    holes, hole = ply.holes, limits.case.hole
    filled = np.array([purpose != "open" for purpose in holes.purpose], dtype=np.bool_)
    if filled.any():
        size = holes.diameter[filled]
        web = (size + hole) / 2.0 + ply.web
        least = limits.least("pitch", noted=False) * np.maximum(size / hole, 1.0)
        apart = np.linalg.norm(xy[:, None] - holes.xy[filled][None], axis=2)
        near = ~(apart >= np.maximum(least, web) - FIGURE)
        rows = np.array([holes.row[k] for k in np.nonzero(filled)[0].tolist()])
        for row in dict.fromkeys(rows[near.any(axis=0)].tolist()):
            words = f"a hole of {ply.name}" + (f", row {row}," if row else "") + " is too near"
            found.append((near[:, rows == row].any(axis=1), words))
    for line in ply.keep_off:
        found.append((~(line_distance(xy, line.line) >= line.clear - FIGURE), f"{ply.name}: {line.why}"))
    return found
