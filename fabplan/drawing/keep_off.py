"""What new holes of a drawing keep off: lines of forming, and the ends that rolls leave flat."""

from collections.abc import Iterator

import numpy as np

from fabplan.drawing.folding import zones
from fabplan.drawing.rolling import FLAT, rolled_ends
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.drawing import Drawing
from fabplan.model.ordered import Ordered
from fabplan.model.setout import KeepOff

FAR = 1e5  # mm: an end of a plate is taken as going on past its corners


def keep_off(drawing: Drawing, thickness: float, ordered: Ordered, hole: float) -> Iterator[KeepOff]:
    """Lines that the middles of holes of a diameter keep clear of, with the distance and why.

    Args:
        drawing: of a plate.
        thickness: mm.
        ordered: what else is known of the piece.
        hole: diameter of the holes, mm.
    """
    for zone in zones(drawing, thickness, ordered):
        why = f"a hole keeps {zone.least:.4g} mm from {zone.kind} line {zone.line.name} to its edge ({zone.source})"
        yield KeepOff(zone.line.points, zone.least + hole / 2.0, why)
    if drawing.outline is None or ordered.spec is None:
        return
    edge = flattened(drawing.outline, SAGITTA)
    for limit, into in rolled_ends(drawing, ordered.spec):
        end = float((edge @ into).min())
        if limit < end + FLAT * thickness - FIGURE:  # else the round begins further in, and the end is meant flat
            along = np.array([-into[1], into[0]])
            why = f"the end of a rolled plate may stay flat for {FLAT:g} t (common practice)"
            line = end * into + np.outer([-FAR, FAR], along)
            yield KeepOff(line, FLAT * thickness, why)
