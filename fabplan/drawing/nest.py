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
    """Profiles by place: the largest outer one (counter-clockwise), its cut-outs (clockwise), all that is too many.

    `plates` holds each outer profile with its cut-outs, the largest first: one that lies in no other, or in a cut-out.
    """

    outer: Profile | None
    cutouts: tuple[Profile, ...] = ()
    extra: tuple[Profile, ...] = ()
    plates: tuple[tuple[Profile, tuple[Profile, ...]], ...] = ()


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
    depth, within = _depths(ranked)
    inner: dict[int, list[Profile]] = {}
    for loop, deep, holder in zip(ranked, depth, within, strict=True):
        if deep % 2:
            inner.setdefault(holder, []).append(_turning(loop, -1.0))
    plates = tuple(
        (_turning(loop, 1.0), tuple(inner.get(i, ())))
        for i, (loop, deep) in enumerate(zip(ranked, depth, strict=True))
        if deep % 2 == 0
    )
    own = {0, *(i for i, (deep, holder) in enumerate(zip(depth, within, strict=True)) if deep == 1 and holder == 0)}
    extra = tuple(loop for i, loop in enumerate(ranked) if i not in own)
    return Nest(*plates[0], extra, plates)


def _reach_round(points: FloatArray, box: FloatArray) -> bool:
    return len(points) > 0 and bool(np.all(points.min(axis=0) < box[:2]) and np.all(points.max(axis=0) > box[2:]))


def _depths(ranked: Sequence[Profile]) -> tuple[list[int], list[int]]:
    """In how many others each profile lies, largest first, and in which one directly, -1 for none."""
    boxes = np.array([bounds(loop) for loop in ranked])
    probes = np.array([loop.vertices[0] for loop in ranked])
    depth = np.zeros(len(ranked), dtype=np.int64)
    holder = np.full(len(ranked), -1, dtype=np.int64)
    for i, loop in enumerate(ranked):
        box = boxes[i]
        within = (np.arange(len(ranked)) > i) & np.all((probes >= box[:2]) & (probes <= box[2:]), axis=1)
        index = np.nonzero(within)[0]
        if len(index):
            held = index[inside(loop, probes[index])]
            depth[held] += 1
            holder[held] = i  # the last to hold it is the smallest
    return depth.tolist(), holder.tolist()


def _turning(profile: Profile, way: float) -> Profile:
    return profile if area(profile) * way > 0.0 else reversed_profile(profile)
