"""Profiles of far too many tiny lines, as a traced picture or a careless conversion gives them."""

from collections.abc import Iterator

import numpy as np

from fabplan.drawing.metal import plates
from fabplan.drawing.say import finding
from fabplan.geom.profile import spans
from fabplan.geom.tolerance import FIGURE
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where

TINY = 0.5  # mm: a shorter span is under what a cutter holds by ISO 9013 class 1, and only slows his machine
MOST = 100  # of them in one profile (common practice)


def tiny_segments(drawing: Drawing) -> Iterator[Finding]:
    """Profiles with more than `MOST` spans under `TINY`; chords of splines are the reader's own and do not count."""
    for outline, cutouts in plates(drawing):
        for profile in (outline, *cutouts):
            if len(profile.bulges) <= MOST or profile.chord_error > 0.0:
                continue
            start, end, _ = spans(profile)
            tiny = ~(np.hypot(*(end - start).T) >= TINY - FIGURE)
            count = int(tiny.sum())
            if count > MOST:
                x, y = start[tiny][0].tolist()
                where = Where(drawing=drawing.name, handles=profile.handles[:1], xy=(x, y))
                what = f"{count} lines shorter than {TINY:g} mm in one profile: {MOST} at most"
                mend = "Draw it anew with lines and arcs."
                yield finding("tiny-segments", what, mend, where, (float(count), float(MOST), "lines"))
