"""Inner corners that are too sharp: a cutter cannot follow them, and cracks start there."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.drawing.limits import Limit, whose
from fabplan.drawing.metal import sound_profiles
from fabplan.drawing.say import finding
from fabplan.geom.profile import arc_centres
from fabplan.geom.rings import all_merged, corner_turns, joined
from fabplan.geom.tolerance import FIGURE, JOIN
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.job import Supplier
from fabplan.model.profile import Profile

TURN = np.radians(20.0)  # a corner that turns less is a bend of the edge, no corner (common practice)
ROUND = np.radians(170.0)  # an arc that turns as far is the end of a slot or a drilled relief, no corner
ASSUMED = 5.0  # mm


def sharp_corners(
    drawing: Drawing, supplier: Supplier | None, thickness: float | None, told: FloatArray
) -> Iterator[Finding]:
    """Inner corners under the least radius: of the supplier a query, of general practice a note, one a profile.

    Corners at places `told` (k, 2), mm, are passed over: another finding speaks of them.
    """
    limit = corner_limit(supplier, thickness)
    if limit is None:
        return
    rounds = {handle for fit in drawing.fits if fit.round for handle in fit.handles}  # told as drawn in straight lines
    profiles = [profile for profile in sound_profiles(drawing) if not rounds & {*profile.handles}]
    radius, place, owner = inner_corners(profiles)
    new = np.all(np.hypot(*(place[:, None] - told[None]).transpose(2, 0, 1)) > JOIN, axis=1)
    small = np.nonzero(new & ~(radius >= limit.least - FIGURE))[0]
    for number in np.unique(owner[small]).tolist():
        own = small[owner[small] == number]
        yield _of(drawing, profiles[number], (radius[own], place[own]), limit)


def corner_limit(supplier: Supplier | None, thickness: float | None) -> Limit | None:
    """The least radius of an inner corner; None where the supplier's hangs on a thickness that is not known."""
    if supplier is None or supplier.smallest_corner is None:
        return Limit(ASSUMED, "assumed: EN 1090-2, 6.7, rounding of cut-outs and notches (from memory)", True)
    plain, times = supplier.smallest_corner
    if thickness is None:
        return Limit(plain, whose(supplier)) if times == 0.0 else None
    return Limit(plain + times * thickness, whose(supplier))


def _of(drawing: Drawing, profile: Profile, small: tuple[FloatArray, FloatArray], limit: Limit) -> Finding:
    radius, place = small
    worst = int(radius.argmin())
    many = "an inner corner" if len(radius) == 1 else f"{len(radius)} inner corners, the sharpest"
    kind = "sharp" if radius[worst] == 0.0 else f"of {radius[worst]:.4g} mm radius"
    what = f"{many} {kind}: least radius {limit.least:g} mm"
    mend = f"Round it with {limit.least:g} mm or more, or drill a relief hole in the corner."
    x, y = place[worst].tolist()
    where = Where(drawing=drawing.name, handles=profile.handles[:1], xy=(x, y))
    found = finding("sharp-corner", what, mend, where, (float(radius[worst]), limit.least, "mm"))
    return replace(found, source=limit.source, level=Level.NOTE if limit.assumed else found.level)


def inner_corners(profiles: Sequence[Profile]) -> tuple[FloatArray, FloatArray, IntArray]:
    """Radii (k,), mm, 0 for a sharp one, places (k, 2), and profiles (k,) of corners at which the metal reaches round.

    Args:
        profiles: with the metal to the left of the line: outer profiles counter-clockwise, cut-outs clockwise.

    >>> inner_corners([Profile(np.array([[0.0, 0.0], [0.0, 9.0], [9.0, 9.0]]), np.zeros(3))])[0].tolist()
    [0.0, 0.0, 0.0]
    """
    rings = joined(all_merged(profiles))
    start, end, angle = rings.start, rings.end, rings.angle
    sharp = corner_turns(rings) < -TURN
    hollow = (angle < -TURN) & (angle > -ROUND)
    radius, middle = np.zeros(0), np.zeros((0, 2))
    if hollow.any():
        centre, radius = arc_centres(start[hollow], end[hollow], angle[hollow])
        out = (start[hollow] + end[hollow]) / 2.0 - centre
        middle = centre + out * (radius / np.hypot(*out.T))[:, None]
    owner = np.concatenate([rings.owner[sharp], rings.owner[hollow]])
    return np.concatenate([np.zeros(int(sharp.sum())), radius]), np.vstack([start[sharp], middle]), owner
