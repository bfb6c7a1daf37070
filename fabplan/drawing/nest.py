"""Which closed profile lies in which: one outer profile, cut-outs, and what is nested wrongly."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import inside
from fabplan.geom.profile import area, bounds, reversed_profile
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile


@dataclass(frozen=True, slots=True, eq=False)
class Nest:
    """Profiles by place: the largest outer one (counter-clockwise), its cut-outs (clockwise), all that is too many."""

    outer: Profile | None
    cutouts: tuple[Profile, ...] = ()
    extra: tuple[Profile, ...] = ()


def nest(loops: Sequence[Profile], unclosed: FloatArray) -> Nest:
    """Sort closed profiles by how many others each lies in: none is outer, one is a cut-out, more is too many.

    Args:
        loops: closed profiles, mm.
        unclosed: points (n, 2) of lines that close no profile; where they reach round the largest loop the outer
            profile is among them, and no loop stands in for it.
    """
    if not loops:
        return Nest(None)
    order = sorted(range(len(loops)), key=lambda i: -abs(area(loops[i])))
    ranked = [loops[i] for i in order]
    if _reach_round(unclosed, bounds(ranked[0])):
        return Nest(None)
    depth, in_outer = _depths(ranked)
    cut = [loop for loop, deep, within in zip(ranked, depth, in_outer, strict=True) if deep == 1 and within]
    extra = [loop for loop, deep, within in zip(ranked, depth, in_outer, strict=True) if not (deep == 1 and within)]
    return Nest(_turning(ranked[0], 1.0), tuple(_turning(loop, -1.0) for loop in cut), tuple(extra[1:]))


def _reach_round(points: FloatArray, box: FloatArray) -> bool:
    return len(points) > 0 and bool(np.all(points.min(axis=0) < box[:2]) and np.all(points.max(axis=0) > box[2:]))


def _depths(ranked: Sequence[Profile]) -> tuple[list[int], list[bool]]:
    """In how many others each profile lies, largest first, and whether in the first."""
    boxes = np.array([bounds(loop) for loop in ranked])
    probes = np.array([loop.vertices[0] for loop in ranked])
    depth = np.zeros(len(ranked), dtype=np.int64)
    in_outer = np.zeros(len(ranked), dtype=np.bool_)
    for i, loop in enumerate(ranked):
        box = boxes[i]
        within = (np.arange(len(ranked)) > i) & np.all((probes >= box[:2]) & (probes <= box[2:]), axis=1)
        index = np.nonzero(within)[0]
        held = inside(loop, probes[index])
        depth[index] += held
        if i == 0:
            in_outer[index] = held
    return depth.tolist(), in_outer.tolist()


def _turning(profile: Profile, way: float) -> Profile:
    return profile if area(profile) * way > 0.0 else reversed_profile(profile)
