"""Flanges of folds: long enough for the press, and edges clear of the zone that the die draws."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.drawing.folding import Zone, in_zone, zones
from fabplan.drawing.limits import die_opening
from fabplan.drawing.say import finding
from fabplan.geom.bend import SHARP, Bend, neutral_factor, outside_leg
from fabplan.geom.beside import STATIONS, reach_beside
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.bends import FoldSpec
from fabplan.model.drawing import Drawing, Line
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Where
from fabplan.model.job import PartSpec, Supplier
from fabplan.model.layers import plain_name
from fabplan.model.ordered import Ordered

SHOULDER = 0.7  # of the die's opening: a flange over its outside that lies on both shoulders to the end (from memory)
TOOL = 2.0  # t, and the inside radius: the least under the best tools (common practice)
SOURCE = f"the larger of {TOOL:g} t + inside radius (common practice) and {SHOULDER:g} (from memory) of "


def short_flanges(drawing: Drawing, thickness: float, spec: PartSpec, bender: Supplier | None) -> Iterator[Finding]:
    """Flanges too short, over most of their fold, to be held by the die.

    Args:
        drawing: as read.
        thickness: mm.
        spec: the part, whose folds are judged.
        bender: whose die stands in place of the assumed one; None takes that.
    """
    die = die_opening(bender, thickness)
    for line, fold in _stated(drawing, spec):
        if fold.k is None and not fold.inside_radius >= SHARP * thickness:
            continue  # told as a bend that cannot be made
        k = neutral_factor(fold.inside_radius, thickness) if fold.k is None else fold.k
        bend = Bend(float(np.radians(fold.angle)), fold.inside_radius, thickness, k)
        least = max(TOOL * thickness + fold.inside_radius, SHOULDER * die.least)
        for reach in _reach(drawing, line, _others(drawing, line))[1]:
            leg = outside_leg(bend, float(np.median(reach))) if len(reach) else least
            if not leg >= least - FIGURE:
                yield _short(drawing, line, (leg, least), SOURCE + die.source)


def _short(drawing: Drawing, line: Line, figures: tuple[float, float], source: str) -> Finding:
    leg, least = unlike(*figures, 1)
    what = f"a flange of {leg} mm over its outside at fold line {line.name}: least {least} mm to lie on the die"
    mend = "Make it longer and trim it after folding, or ask the bender for a narrower die."
    return replace(finding("short-flange", what, mend, _middle(drawing, line), (*figures, "mm")), source=source)


def edges_near(drawing: Drawing, thickness: float, ordered: Ordered) -> Iterator[Finding]:
    """Edges that come too near a fold line away from its ends, beside a flange that is long enough elsewhere."""
    if drawing.outline is None:
        return
    for zone in zones(drawing, thickness, ordered):
        if zone.kind != "fold" or not _straight(zone.line):
            continue
        at, both = _reach(drawing, zone.line, ())
        size = float(np.hypot(*(zone.line.points[-1] - zone.line.points[0])))
        if len(at) < 2 or np.diff(at).max() > 1.5 * size / STATIONS:
            continue  # cut through, which is told
        inner = (at >= zone.least) & (at <= size - zone.least)
        for reach in both:
            near = inner & ~(reach >= zone.least - FIGURE)
            if near.any() and float(np.median(reach)) >= zone.least:
                yield _edge(drawing, zone, at[near], reach[near])


def _edge(drawing: Drawing, zone: Zone, at: FloatArray, reach: FloatArray) -> Finding:
    start, end = zone.line.points[0], zone.line.points[-1]
    k = int(np.argmin(reach))
    x, y = (start + (end - start) * at[k] / np.hypot(*(end - start))).tolist()
    where = Where(drawing=drawing.name, handles=(zone.line.handle,), xy=(x, y))
    mend = "Cut the edge back to clear the die, or trim it after folding."
    return in_zone("the edge of the plate comes to {} mm from", float(reach[k]), where, zone, mend)


def _stated(drawing: Drawing, spec: PartSpec) -> Iterator[tuple[Line, FoldSpec]]:
    """Straight fold lines of a drawing with what the job states of them."""
    if drawing.outline is None:
        return
    for fold in spec.folds:
        for line in drawing.folds:
            if plain_name(line.name) == plain_name(fold.line) and _straight(line):
                yield line, fold


def _straight(line: Line) -> bool:
    return bool(np.hypot(*(line.points[-1] - line.points[0])) > 0.0)


def _others(drawing: Drawing, line: Line) -> tuple[FloatArray, ...]:
    return tuple(one.points for one in (*drawing.folds, *drawing.rolls) if one is not line)


def _reach(drawing: Drawing, line: Line, others: tuple[FloatArray, ...]) -> tuple[FloatArray, FloatArray]:
    assert drawing.outline is not None
    return reach_beside(drawing.outline, line.points[0], line.points[-1], others)


def _middle(drawing: Drawing, line: Line) -> Where:
    x, y = ((line.points[0] + line.points[-1]) / 2.0).tolist()
    return Where(drawing=drawing.name, handles=(line.handle,), xy=(x, y))
