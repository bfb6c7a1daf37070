"""Folds of a plate: holes and cut-outs across a fold line, or so near that forming draws them out of round."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from fabplan.drawing.limits import die_opening
from fabplan.drawing.metal import at_holes, by_row, named, plates
from fabplan.drawing.say import finding
from fabplan.geom.holders import places_along, well_inside
from fabplan.geom.inside import edge_distance, inside
from fabplan.geom.profile import flattened
from fabplan.geom.segments import line_distance, meets
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.layers import plain_name
from fabplan.model.ordered import Ordered
from fabplan.model.profile import Profile

STEPS = 401  # places along a fold line that are looked at
BESIDE = 2.0  # t, and the inside radius: a hole's edge from the line of a fold (common practice)
KINK = 2.5  # t: the stretch in which a rolled plate straightens out (from memory)


@dataclass(frozen=True, slots=True)
class Zone:
    """A line of forming and how far holes keep from it, mm."""

    line: Line
    kind: str
    least: float
    source: str


def folds_cut(drawing: Drawing) -> Iterator[Finding]:
    """Holes and cut-outs across a fold line; an opening at the end of the line is its relief."""
    for line in drawing.folds:
        for own in by_row(drawing, np.nonzero(~(_hole_edges(drawing, line) > FIGURE) & ~_reliefs(drawing, line))[0]):
            seated = any(drawing.holes.purpose[i] != "open" for i in own.tolist())
            what = f"{named(drawing, own)} {'cuts' if len(own) == 1 else 'cut'} through fold line {line.name}"
            yield _cut(what, at_holes(drawing, *own.tolist()), seated)
        for cutout in drawing.cutouts:
            if not _apart(cutout, line) > FIGURE and not _ends_in(cutout, line):
                yield _cut(f"a cut-out cuts through fold line {line.name}", _at(drawing, cutout), False)
        yield from _notched(drawing, line)


def folds_beside(drawing: Drawing) -> Iterator[Finding]:
    """Fold lines that lie beside all metal, or along its edge."""
    outlines = [outline for outline, _ in plates(drawing)]
    for line in drawing.folds if outlines else ():
        if not well_inside(outlines, places_along(line.points)).any():
            yield _beside(drawing, f"fold line {line.name}", line)


def lines_of_no_piece(drawing: Drawing) -> Iterator[Finding]:
    """Fold and roll lines of a drawing that holds no metal, beside that of other pieces of its file."""
    for line in drawing.folds:
        yield _beside(drawing, f"fold line {line.name}", line)
    for line in drawing.rolls:
        yield _beside(drawing, f"roll line {line.name}", line)


def _beside(drawing: Drawing, name: str, line: Line) -> Finding:
    x, y = line.points.mean(axis=0).tolist()
    where = Where(drawing=drawing.name, handles=(line.handle,), xy=(x, y))
    mend = "Draw the line where the plate is to be formed, or take it out."
    return finding("fold-cut", f"{name} lies beside the plate", mend, where, (0.0, None, "mm"))


def _notched(drawing: Drawing, line: Line) -> Iterator[Finding]:
    """A fold line that a notch of the outline cuts in two."""
    if drawing.outline is None:
        return
    steps = np.linspace(0.0, len(line.points) - 1.0, STEPS)
    k = np.minimum(steps.astype(np.int64), len(line.points) - 2)
    places = line.points[k] + (steps - k)[:, None] * (line.points[k + 1] - line.points[k])
    on = inside(drawing.outline, places)
    x, y = places[STEPS // 2].tolist()
    where = Where(drawing=drawing.name, handles=(line.handle,), xy=(x, y))
    run = np.nonzero(on)[0]
    if len(run) and not on[run[0] : run[-1] + 1].all():
        yield _cut(f"a notch of the outline cuts through fold line {line.name}", where, False)


def _cut(what: str, where: Where, seated: bool) -> Finding:
    """A rivet or bolt cannot sit in a fold; of an opening one asks."""
    mend = "Move it off the fold, or drill it after folding." if seated else "Move it, or end the fold at a relief."
    found = finding("fold-cut", what, mend, where, (0.0, None, "mm"))
    return found if seated else replace(found, level=Level.QUERY)


def near_folds(drawing: Drawing, thickness: float, ordered: Ordered) -> Iterator[Finding]:
    """Holes and cut-outs beside a fold or roll line, too near to stay round and flat."""
    for zone in zones(drawing, thickness, ordered):
        away = _hole_edges(drawing, zone.line)
        near = (away > FIGURE) & ~(away >= zone.least - FIGURE)
        for own in by_row(drawing, np.nonzero(near & ~_reliefs(drawing, zone.line))[0]):
            worst = float(away[own].min())
            yield _near(named(drawing, own), worst, at_holes(drawing, *own.tolist()), zone)
        for cutout in drawing.cutouts:
            apart = _apart(cutout, zone.line)
            if apart > FIGURE and not apart >= zone.least - FIGURE and not _ends_in(cutout, zone.line):
                yield _near("a cut-out", apart, _at(drawing, cutout), zone)


def _near(whom: str, apart: float, where: Where, zone: Zone) -> Finding:
    mend = "Move it away, or drill it after forming."
    return in_zone(f"{whom} {{}} mm from", apart, where, zone, mend)


def in_zone(what: str, apart: float, where: Where, zone: Zone, mend: str) -> Finding:
    """A finding on what lies too near a line of forming; `what` begins the sentence, {} stands for the figure."""
    found, least = unlike(apart, zone.least, 1)
    what = f"{what.format(found)} {zone.kind} line {zone.line.name}: least {least} mm to its edge"
    return replace(finding("near-fold", what, mend, where, (apart, zone.least, "mm")), source=zone.source)


def zones(drawing: Drawing, thickness: float, ordered: Ordered) -> Iterator[Zone]:
    """The lines of forming of a drawing, with the distance that holes and edges keep from them."""
    spec, die = ordered.spec, die_opening(ordered.bender, thickness)
    radius = {plain_name(fold.line): fold.inside_radius for fold in spec.folds} if spec else {}
    run = {plain_name(joggle.line): joggle.run for joggle in spec.joggles} if spec else {}
    for line in drawing.folds:
        if plain_name(line.name) in run:
            least = run[plain_name(line.name)] / 2.0 + BESIDE * thickness
            yield Zone(line, "joggle", least, f"half of the joggle's run and {BESIDE:g} t (common practice)")
            continue
        inner = radius.get(plain_name(line.name))
        least = max(BESIDE * thickness + (inner or 0.0), die.least / 2.0)
        words = f"the larger of {BESIDE:g} t + inside radius (common practice) and half of {die.source}"
        yield Zone(line, "fold", least, words if inner is not None else f"{words}; radius of 2 t or less assumed")
    for line in drawing.rolls:
        yield Zone(line, "roll", KINK * thickness, f"{KINK:g} t, where a rolled plate straightens out (from memory)")


def _hole_edges(drawing: Drawing, line: Line) -> FloatArray:
    """(n,) from the edge of each hole to a drawn line, mm, negative across it."""
    away: FloatArray = line_distance(drawing.holes.xy, line.points) - drawing.holes.diameter / 2.0
    return away


def _reliefs(drawing: Drawing, line: Line) -> BoolArray:
    """(n,) True for openings in which the line ends."""
    holes = drawing.holes
    ends = np.stack([line.points[0], line.points[-1]])
    away = np.linalg.norm(holes.xy[:, None] - ends, axis=2).min(axis=1)
    opening = np.array([purpose == "open" for purpose in holes.purpose], dtype=np.bool_)
    held: BoolArray = opening & (away <= holes.diameter / 2.0)
    return held


def _ends_in(cutout: Profile, line: Line) -> bool:
    return bool(inside(cutout, np.stack([line.points[0], line.points[-1]])).any())


def _apart(cutout: Profile, line: Line) -> float:
    """Distance of a cut-out from a drawn line, mm; 0 where they meet."""
    if meets(cutout, line.points):
        return 0.0
    away = line_distance(flattened(cutout, SAGITTA), line.points).min()
    return min(float(away), float(edge_distance(cutout, line.points)[0].min()))


def _at(drawing: Drawing, cutout: Profile) -> Where:
    x, y = cutout.vertices[0].tolist()
    return Where(drawing=drawing.name, handles=cutout.handles, xy=(x, y))
