"""Rivet holes as drawn or measured, against the hole that the job states for their rivet."""

from collections.abc import Iterator
from math import ceil

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.layout import HoleLayout

SAME = 0.05  # mm: a drawn hole is the stated one; half the step in which drills are sold (common practice)

CLEAR = 1.0
"""How much larger than the rivet its hole is, mm, where the next even size of rivet is named (German practice, hot)."""


def next_size(across: float) -> str:
    """How a worn hole of that greatest diameter goes to the next even size of rivet, by a concession."""
    shank = ceil(across - CLEAR - FIGURE)
    shank += shank % 2
    return (
        f"Open it to the next size with its mates, {shank} mm in {shank + CLEAR:g} mm holes, named by `instead` in its "
        'seam with `state = "reamed"`, and accepted with the reason; or weld it up and drill again.'
    )


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
    alike: dict[tuple[str, float, float, bool], list[int]] = {}
    for i in np.nonzero(unlike_stated(layout))[0].tolist():
        drawn, stated = float(layout.holes.diameter[i]), float(layout.stated_hole[i])
        key = (layout.holes.row[i], round(drawn, 3), stated, bool(layout.measured[i]))
        alike.setdefault(key, []).append(i)
    for (_, drawn, stated, _), own in alike.items():
        yield _finding(layout, np.array(own), drawn, stated)


def _finding(layout: HoleLayout, own: IntArray, drawn: float, stated: float) -> Finding:
    numbers = [layout.holes.number[i] for i in own.tolist()]
    more = f" and {len(own) - 1} more" if len(own) > 1 else ""
    d = float(layout.rivet_diameter[own[0]])
    x, y = layout.holes.xy[own[0]].tolist()
    measured = bool(layout.measured[own[0]])
    word = "measures" if measured else "drawn"
    return Finding(
        "hole-for-rivet",
        CHECKS["hole-for-rivet"].level,
        f"hole {numbers[0]}{more}: {word} {drawn:g} mm, the job states {stated:g} mm for its shank of {d:g} mm",
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
        _mend(drawn, stated, measured),
    )


def _mend(across: float, stated: float, measured: bool) -> str:
    if not measured:
        return f"Draw the hole at {stated:g} mm, or state the hole that is drawn in [[rivet]]."
    if across > stated:
        return next_size(across)
    return f'Ream it to {stated:g} mm with its mates, by `state = "reamed"` in its seam; then measure it again.'
