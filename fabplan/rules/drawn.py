"""Rivet holes as drawn, against the hole that the job states for their rivet."""

from collections.abc import Iterator

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.layout import HoleLayout

SAME = 0.05  # mm: a drawn hole is the stated one; half the step in which drills are sold (common practice)


def unlike_stated(layout: HoleLayout) -> BoolArray:
    """(n,) True for rivet holes that differ from the hole that the job states.

    A hole that is opened when the body stands may be cut smaller, never larger.
    """
    over = layout.holes.diameter - layout.stated_hole
    keeps = (over <= SAME + FIGURE) & ((over >= -SAME - FIGURE) | layout.opened_later)
    driven = np.array([purpose == "rivet" for purpose in layout.holes.purpose], dtype=np.bool_)
    unlike: BoolArray = driven & ~np.isnan(layout.stated_hole) & ~keeps
    return unlike


def finished(layout: HoleLayout) -> FloatArray:
    """(n,) diameters of the holes as the rivets find them: those opened later as the job states them."""
    return np.where(layout.opened_later & ~np.isnan(layout.stated_hole), layout.stated_hole, layout.holes.diameter)


def holes_as_stated(layout: HoleLayout) -> Iterator[Finding]:
    """A finding for each row and size of rivet holes that differ from the hole that the job states."""
    alike: dict[tuple[str, float, float], list[int]] = {}
    for i in np.nonzero(unlike_stated(layout))[0].tolist():
        drawn, stated = float(layout.holes.diameter[i]), float(layout.stated_hole[i])
        alike.setdefault((layout.holes.row[i], round(drawn, 3), stated), []).append(i)
    for (_, drawn, stated), own in alike.items():
        yield _finding(layout, np.array(own), drawn, stated)


def _finding(layout: HoleLayout, own: IntArray, drawn: float, stated: float) -> Finding:
    numbers = [layout.holes.number[i] for i in own.tolist()]
    more = f" and {len(own) - 1} more" if len(own) > 1 else ""
    d = float(layout.rivet_diameter[own[0]])
    x, y = layout.holes.xy[own[0]].tolist()
    return Finding(
        "hole-for-rivet",
        CHECKS["hole-for-rivet"].level,
        f"hole {numbers[0]}{more}: drawn {drawn:g} mm, the job states {stated:g} mm for its shank of {d:g} mm",
        Where(
            drawing=layout.drawing,
            part=layout.part,
            handles=tuple(layout.holes.handle[i] for i in own.tolist() if layout.holes.handle[i]),
            holes=tuple(numbers),
            xy=(x, y),
        ),
        drawn,
        stated,
        "mm",
        f"the job file; drawn and stated may differ by {SAME:g} mm (common practice)",
        f"Draw the hole at {stated:g} mm, or state the hole that is drawn in [[rivet]].",
    )
