"""Which closed profile lies in which: one outer profile, cut-outs, and what is nested wrongly."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import inside
from fabplan.geom.profile import area, bounds, reversed_profile
from fabplan.model.profile import Profile


@dataclass(frozen=True, slots=True, eq=False)
class Nest:
    """Profiles by place: the largest outer one (counter-clockwise), its cut-outs (clockwise), all that is too many."""

    outer: Profile | None
    cutouts: tuple[Profile, ...]
    extra: tuple[Profile, ...]


def nest(loops: Sequence[Profile]) -> Nest:
    """Sort closed profiles by how many others each lies in: none is outer, one is a cut-out, more is too many."""
    if not loops:
        return Nest(None, (), ())
    order = sorted(range(len(loops)), key=lambda i: -abs(area(loops[i])))
    ranked = [loops[i] for i in order]
    boxes = np.array([bounds(loop) for loop in ranked])
    probes = np.array([loop.vertices[0] for loop in ranked])
    depth = np.zeros(len(ranked), dtype=np.int64)
    for i, loop in enumerate(ranked):
        smaller = np.arange(len(ranked)) > i
        box = boxes[i]
        within = smaller & np.all(probes >= box[:2], axis=1) & np.all(probes <= box[2:], axis=1)
        index = np.nonzero(within)[0]
        depth[index] += inside(loop, probes[index])
    in_outer = np.zeros(len(ranked), dtype=np.bool_)
    in_outer[1:] = inside(ranked[0], probes[1:])
    cut = [ranked[i] for i in range(1, len(ranked)) if depth[i] == 1 and in_outer[i]]
    extra = [ranked[i] for i in range(1, len(ranked)) if not (depth[i] == 1 and in_outer[i])]
    return Nest(_turning(ranked[0], 1.0), tuple(_turning(loop, -1.0) for loop in cut), tuple(extra))


def _turning(profile: Profile, way: float) -> Profile:
    return profile if area(profile) * way > 0.0 else reversed_profile(profile)
