"""Slots too narrow to be cut: long openings, notches of the edge, narrow necks of a cut-out."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.drawing.limits import Limit
from fabplan.drawing.metal import NearItself
from fabplan.drawing.say import finding
from fabplan.geom.tolerance import FIGURE
from fabplan.model.drawing import Drawing
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Where


def narrow_slots(drawing: Drawing, limit: Limit, near: NearItself, thickness: float) -> Iterator[Finding]:
    """Slots under the least width, one finding a profile."""
    profiles, found = near.profiles, near.narrows
    slim = np.nonzero(found.void & ~(found.width + found.slack >= limit.least - FIGURE))[0]
    for worst in found.worst_of_each(slim).tolist():
        width = float(found.width[worst])
        x, y = found.place[worst].tolist()
        where = Where(drawing=drawing.name, handles=profiles[int(found.owner[worst])].handles[:1], xy=(x, y))
        found_width, least = unlike(width, limit.least)
        what = f"a slot of {found_width} mm in {thickness:g} mm plate: least {least} mm"
        mend = "Make it wider, or drill its ends and saw it."
        yield replace(finding("narrow-slot", what, mend, where, (width, limit.least, "mm")), source=limit.source)
