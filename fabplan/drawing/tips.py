"""Spikes that burn away and notches that no cut fills: corners that run out to a point.

At any sharp corner the last of the metal is thinner than the least web. Over about the width of the web that is lost
and forgiven: it is a rounded corner. Where it is so for more than twice the web, the corner is a spike: flanks at less
than 28 degrees. Gussets of 30 degrees pass. The same holds of a notch against the narrowest slot (common practice).
"""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.drawing.limits import Limit
from fabplan.drawing.metal import NearItself
from fabplan.drawing.say import finding
from fabplan.geom.points import Points, points
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Where

LENGTHS = 2.0
"""From the tip, in least webs or slots, the metal or the notch must have its least width (common practice)."""

SLANT = float(np.hypot(LENGTHS, 0.5))
"""The same along a flank of the narrowest corner that passes."""


def spikes(drawing: Drawing, limit: Limit, near: NearItself) -> Iterator[Finding]:
    """Points of metal, one finding a profile."""
    mend = "Cut the tip off square where it is wide enough, or round it."
    yield from _pointed(drawing, limit, near, ("thin-web", "metal", "spike", mend))


def notches(drawing: Drawing, limit: Limit, near: NearItself) -> Iterator[Finding]:
    """Points of void, one finding a profile."""
    mend = "End it in a hole or a round of at least the narrowest slot."
    yield from _pointed(drawing, limit, near, ("narrow-slot", "slot", "pointed notch", mend))


def notch_tips(limit: Limit, near: NearItself) -> FloatArray:
    """Roots (k, 2) of pointed notches, mm: inner corners that need not be told again."""
    found, thin = _thin(limit, near)
    return found.place[thin & found.void]


def _thin(limit: Limit, near: NearItself) -> tuple[Points, BoolArray]:
    """Pointed corners, and which of them are too thin for too long."""
    found = points(near.profiles, SLANT * limit.least)
    return found, ~(found.width >= limit.least - FIGURE)


def _pointed(drawing: Drawing, limit: Limit, near: NearItself, told: tuple[str, str, str, str]) -> Iterator[Finding]:
    check, what, name, mend = told
    found, thin = _thin(limit, near)
    thin &= found.void == (check == "narrow-slot")
    for owner in np.unique(found.owner[thin]).tolist():
        own = np.nonzero(thin & (found.owner == owner))[0]
        worst = int(own[np.round(found.width[own], 6).argmin()])
        width, least = unlike(float(found.width[worst]), limit.least)
        more = f", and of {len(own) - 1} more" if len(own) > 1 else ""
        words = f"{width} mm of {what} {LENGTHS * limit.least:g} mm from the tip of a {name}{more}: least {least} mm"
        x, y = found.place[worst].tolist()
        where = Where(drawing=drawing.name, handles=near.profiles[owner].handles[:1], xy=(x, y))
        figures = (float(found.width[worst]), limit.least, "mm")
        yield replace(finding(check, words, mend, where, figures), source=limit.source)
