"""Corners where a closed line runs out to a point: spikes of metal and notches of void. numpy only."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.rings import Chords, all_merged, chords, corner_turns, joined
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.profile import Profile

POINTED = np.radians(60.0)
"""A wider corner is no point, however its flanks run on."""


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Pointed corners of profiles.

    Attributes:
        owner: (k,) number of the profile.
        place: (k, 2) mm, the tip.
        width: (k,) mm from flank to flank, at the distance along both that was asked.
        void: (k,) True for a notch, False for a spike of metal, which lies to the left of the line.
    """

    owner: IntArray
    place: FloatArray
    width: FloatArray
    void: BoolArray


def points(profiles: Sequence[Profile], along: float) -> Points:
    """Corners under `POINTED`, and how far apart their flanks are `along` mm from the tip.

    A line that is less than twice as long all round has none.

    >>> found = points([Profile(np.array([[0.0, 0.0], [30.0, -4.0], [30.0, 4.0]]), np.zeros(3))], 10.0)
    >>> found.place.tolist(), found.width.round(3).tolist(), found.void.tolist()
    ([[0.0, 0.0]], [2.643], [False])
    """
    whole = all_merged(profiles)
    rings = joined(whole)
    turn = corner_turns(rings)
    some = np.unique(rings.owner[np.abs(turn) > np.pi - POINTED])
    lines = chords(joined([whole[k] for k in some.tolist()]), SAGITTA)
    way = lines.end - lines.start
    size = np.hypot(*way.T)
    into = way[lines.before]
    turn = np.arctan2(into[:, 0] * way[:, 1] - into[:, 1] * way[:, 0], np.sum(into * way, axis=1))
    round_about = np.bincount(lines.owner, size, minlength=len(lines.first))
    long = round_about[lines.owner] > 2.0 * along
    tips = np.nonzero((np.abs(turn) > np.pi - POINTED) & long)[0]
    there, back = (_from(lines, size, tips, step) for step in (along, -along))
    return Points(some[lines.owner[tips]], lines.start[tips], np.hypot(*(there - back).T), turn[tips] < 0.0)


def _from(lines: Chords, size: FloatArray, tips: IntArray, step: float) -> FloatArray:
    """Places (k, 2) so far along the line from its corners, backwards where below 0."""
    total = np.cumsum(size)
    begin = total - size
    low = begin[lines.first]
    high = np.append(low[1:], total[-1:])
    owner = lines.owner[tips]
    at = low[owner] + np.mod(begin[tips] - low[owner] + step, (high - low)[owner])
    chord = np.clip(np.searchsorted(total, at, side="right"), 0, max(len(size) - 1, 0))
    share = ((at - begin[chord]) / np.maximum(size[chord], 1e-300))[:, None]
    places: FloatArray = lines.start[chord] + share * (lines.end - lines.start)[chord]
    return places
