"""Levels: rows whose faces are to lie at one height in the body, such as the pads of a seat."""

from collections.abc import Iterator

import numpy as np

from fabplan.body.found import finding
from fabplan.body.stacks import BodyHoles
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job, LevelSpec, PlySpec


def check_levels(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> Iterator[Finding]:
    """Rows that lie off the height of their level, or unlike one another where it states none."""
    faying = {
        (int(instance), int(hole)): float(stacks.point[i, 2])
        for i in range(len(stacks))
        for instance, hole in zip(
            stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]],
            stacks.ply_hole[stacks.first[i] : stacks.first[i + 1]],
            strict=True,
        )
    }
    for level in job.levels:
        rows = [(row, _heights(body, holes, faying, row)) for row in level.rows]
        known = [(row, own) for row, own in rows if len(own)]
        if known:
            yield from _off(level, known)


def _heights(body: Body, holes: BodyHoles, faying: dict[tuple[int, int], float], row: PlySpec) -> FloatArray:
    """Heights (n,) of the faces at the holes of a row, mm: where they meet their mates, else on the marked face."""
    marks = [instance.mark for instance in body.instances]
    instance = marks.index(row.instance)
    names = body.part_of(instance).holes.holes.row
    own = [i for i in np.nonzero(holes.instance == instance)[0].tolist() if names[holes.hole[i]] == row.row]
    return np.array([faying.get((instance, int(holes.hole[i])), float(holes.marked[i, 2])) for i in own])


def _off(level: LevelSpec, rows: list[tuple[PlySpec, FloatArray]]) -> Iterator[Finding]:
    every = np.concatenate([own for _, own in rows])
    height = level.height if level.height is not None else float(np.median(every))
    off = [float(own[np.argmax(np.abs(own - height))]) - height for _, own in rows]
    worst = int(np.argmax(np.abs(off)))
    if not abs(off[worst]) <= level.within + FIGURE:
        row = rows[worst][0]
        told = "stated height" if level.height is not None else "height of most"
        yield finding(
            "level-differs",
            f"level {level.mark}: {row.instance}/{row.row} lies {off[worst]:+.2f} mm off the {told}, z {height:g} mm",
            "Look at thickness, back mark and place of the pieces between it and the datum, or correct the level.",
            Where(part=row.instance),
            measured=abs(off[worst]),
            required=level.within,
            source="the job file",
        )
