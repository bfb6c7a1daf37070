"""Which closed profile lies in which: one outer profile, cut-outs, and what is nested wrongly."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.inside import inside
from fabplan.geom.near import box_pairs
from fabplan.geom.profile import reversed_profile
from fabplan.geom.rings import areas, boxes, joined
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
    rings = joined(loops)
    size, box = areas(rings), boxes(rings)
    order = np.argsort(-np.abs(size), kind="stable")
    ranked, size, box = [loops[i] for i in order.tolist()], size[order], box[order]
    if _reach_round(unclosed, box[0]):
        return Nest(None)
    depth, within = _depths(ranked, box)
    turned = [
        loop if (way > 0.0) == (deep % 2 == 0) else reversed_profile(loop)
        for loop, way, deep in zip(ranked, size.tolist(), depth, strict=True)
    ]
    inner: dict[int, list[Profile]] = {}
    for loop, deep, holder in zip(turned, depth, within, strict=True):
        if deep % 2:
            inner.setdefault(holder, []).append(loop)
    plates = tuple((turned[i], tuple(inner.get(i, ()))) for i, deep in enumerate(depth) if deep % 2 == 0)
    own = {0, *(i for i, (deep, holder) in enumerate(zip(depth, within, strict=True)) if deep == 1 and holder == 0)}
    extra = tuple(loop for i, loop in enumerate(ranked) if i not in own)
    return Nest(*plates[0], extra, plates)


def _reach_round(points: FloatArray, box: FloatArray) -> bool:
    return len(points) > 0 and bool(np.all(points.min(axis=0) < box[:2]) and np.all(points.max(axis=0) > box[2:]))


def _depths(ranked: Sequence[Profile], boxes: FloatArray) -> tuple[list[int], list[int]]:
    """In how many others each profile lies, largest first, and in which one directly, -1 for none."""
    probes = np.array([loop.vertices[0] for loop in ranked])
    depth = np.zeros(len(ranked), dtype=np.int64)
    holder = np.full(len(ranked), -1, dtype=np.int64)
    pairs = box_pairs(boxes[:, :2], boxes[:, 2:])
    box, probe = boxes[pairs[:, 0]], probes[pairs[:, 1]]
    pairs = pairs[np.all((probe >= box[:, :2]) & (probe <= box[:, 2:]), axis=1)]
    holders, first, count = np.unique(pairs[:, 0], return_index=True, return_counts=True)
    for i, at, many in zip(holders.tolist(), first.tolist(), count.tolist(), strict=True):
        index = pairs[at : at + many, 1]
        held = index[inside(ranked[i], probes[index])]
        depth[held] += 1
        holder[held] = i  # the last to hold it is the smallest
    return depth.tolist(), holder.tolist()
