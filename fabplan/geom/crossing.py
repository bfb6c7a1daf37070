"""Where closed lines cross or touch one another, or themselves. numpy only."""

from collections.abc import Sequence

import numpy as np

from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.profile import Profile

ROWS = 400  # segments compared with all others at a time


def crossings(profiles: Sequence[Profile]) -> FloatArray:
    """Places (k, 2), mm, where segments of profiles meet that are not neighbours on one profile."""
    rings = [flattened(profile, SAGITTA) for profile in profiles]
    if not rings:
        return np.zeros((0, 2))
    start = np.vstack(rings)
    end = np.vstack([np.roll(ring, -1, axis=0) for ring in rings])
    owner = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    place = np.concatenate([np.arange(len(ring)) for ring in rings])
    size = np.repeat([len(ring) for ring in rings], [len(ring) for ring in rings])
    found = []
    for low in range(0, len(start), ROWS):
        own = np.arange(low, min(low + ROWS, len(start)))
        meets, share = _meet(start[own], end[own], start, end)
        step = np.mod(place[None] - place[own][:, None], size[None])
        neighbours = (owner[None] == owner[own][:, None]) & ((step <= 1) | (step == size[None] - 1))
        one, other = np.nonzero(meets & ~neighbours & (own[:, None] < np.arange(len(start))[None]))
        found.append(start[own[one]] + share[one, other][:, None] * (end[own[one]] - start[own[one]]))
    return np.vstack(found)


def _meet(a0: FloatArray, a1: FloatArray, b0: FloatArray, b1: FloatArray) -> tuple[BoolArray, FloatArray]:
    """Whether each of n segments meets each of m segments, and at which share of the former."""
    da, db = (a1 - a0)[:, None], (b1 - b0)[None]
    apart = b0[None] - a0[:, None]
    cross = da[..., 0] * db[..., 1] - da[..., 1] * db[..., 0]
    slanted = np.abs(cross) > 1e-12
    safe = np.where(slanted, cross, 1.0)
    s = (apart[..., 0] * db[..., 1] - apart[..., 1] * db[..., 0]) / safe
    t = (apart[..., 0] * da[..., 1] - apart[..., 1] * da[..., 0]) / safe
    meets: BoolArray = slanted & (s >= 0.0) & (s <= 1.0) & (t >= 0.0) & (t <= 1.0)
    return meets, s
