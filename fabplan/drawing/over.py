"""Open lines that run over closed ones: the same cut drawn twice, though the two need not be of one kind."""

from collections.abc import Sequence

import numpy as np

from fabplan.drawing.spans import Span, at_share
from fabplan.geom.inside import edge_distance
from fabplan.geom.profile import flattened
from fabplan.geom.rings import boxes, joined
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile

NEAR = 0.1  # mm: two cuts nearer than this are one; a kerf is wider (common practice)
LEAST = 1.0  # mm: a shorter line lies near any other that it touches
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


def over_closed(runs: Sequence[list[Span]], loops: Sequence[Profile]) -> tuple[list[int], list[tuple[Span, Span]]]:
    """Numbers of the runs that lie on a closed line all along; pairs of its own stretch and the span over it."""
    if not runs or not loops:
        return [], []
    box, numbers, pairs = boxes(joined(loops)), [], []
    for number, run in enumerate(runs):
        points = np.array([at_share(span, share) for span in run for share in SHARES])
        low, high = points.min(axis=0), points.max(axis=0)
        held = np.all(box[:, :2] <= low + NEAR, axis=1) & np.all(box[:, 2:] >= high - NEAR, axis=1)
        under = next((loops[k] for k in np.nonzero(held)[0].tolist() if _along(loops[k], points)), None)
        if under is not None and sum(span.length for span in run) >= LEAST:
            numbers.append(number)
            own = under.handles[0] if under.handles else ""
            pairs += [(Span(span.start, span.end, span.bulge, under.chord_error, own), span) for span in run]
    return numbers, pairs


def same_line(one: Profile, other: Profile) -> bool:
    """True where two closed lines run along one another all the way."""
    return _along(one, _places(other)) and _along(other, _places(one))


def _places(loop: Profile) -> FloatArray:
    """Places (n, 2) on a closed line: its corners, those of its arcs as chords, and the middles between them."""
    ring = flattened(loop, NEAR / 4.0)
    return np.vstack([ring, (ring + np.roll(ring, -1, axis=0)) / 2.0])


def _along(loop: Profile, points: FloatArray) -> bool:
    return bool((edge_distance(loop, points)[0] <= NEAR).all())
