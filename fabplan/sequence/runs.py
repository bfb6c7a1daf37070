"""Runs of one seam driven from one side in one step: in which order, with what, reached how."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.sequence import ACCESS, SeamWork
from fabplan.sequence.access import Access
from fabplan.sequence.driving import WORDS, driving_order, likes
from fabplan.sequence.reach import DRIVE, ENTER, HOLD
from fabplan.sequence.scene import Scene


def works(scene: Scene, reach: Access, rivets: IntArray, present: BoolArray) -> Iterator[SeamWork]:
    """Runs of one seam driven from one side while `present` (m,) stand, in driving order."""
    from_point = reach.driven_from(1)
    seams = scene.stacks.seam[rivets]
    for seam in np.unique(seams).tolist():
        for side in (1, 0):
            own = rivets[(seams == seam) & (from_point[rivets] == (side == 1))]
            if len(own):
                yield _work(scene, reach, (seam, own, side), present)


def balanced(scene: Scene, works: tuple[SeamWork, ...]) -> tuple[SeamWork, ...]:
    """The runs with each beside its like on the other side of the body, to be driven in turn: it draws neither way."""
    points = scene.stacks.point
    found = likes([points[run.rivets] for run in works], (points.min(axis=0) + points.max(axis=0)) / 2.0)
    ordered: list[SeamWork] = []
    for number, (run, like) in enumerate(zip(works, found, strict=True)):
        if like < 0:
            ordered.append(run)
        elif like > number:
            pair = (run, works[like])
            names = [scene.job.seams[one.seam].mark if one.seam >= 0 else "(none)" for one in pair]
            ordered += [replace(one, partner=name) for one, name in zip(pair, reversed(names), strict=True)]
    return tuple(ordered)


def _work(scene: Scene, reach: Access, run: tuple[int, IntArray, int], present: BoolArray) -> SeamWork:
    seam, own, side = run
    driver, holder = reach.kind[own, side, DRIVE], reach.kind[own, 1 - side, HOLD:].max(axis=1)
    tools = scene.ways.tools
    setting = scene.job.shop.driving_order

    def names(way: IntArray) -> str:
        used = np.unique(scene.ways.tool[way])
        return " or ".join(tools[int(k)].name for k in used)

    return SeamWork(
        seam=seam,
        rivets=driving_order(own, setting),
        driver_side="point" if side == 1 else "head",
        driver_access=ACCESS[int(driver.max())],
        holder_access=ACCESS[int(holder.max())],
        driver_tool=names(reach.way[own, side, DRIVE]),
        holder_tool=names(reach.way[own, 1 - side, HOLD]),
        note=f"drive {WORDS[setting]}; put in with {names(reach.way[own, 1 - side, ENTER])}",
        bolts_out=int(scene.bolted[own].sum()),
        driver_by=scene.gates(reach.gate[own, side, DRIVE], present),
        holder_by=scene.gates(reach.gate[own, 1 - side, HOLD:], present),
    )
