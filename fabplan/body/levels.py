"""Levels: rows whose faces are to lie at one height in the body, such as the pads of a seat."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np

from fabplan.body.found import finding
from fabplan.body.stacks import BodyHoles
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.joints import LevelSpec, PlySpec


def check_levels(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> Iterator[Finding]:
    """Rows that lie off the height of their level, or unlike one another where it states none."""
    faying = _faying(holes, stacks) if job.levels else {}
    for level in job.levels:
        rows = [(row, _heights(body, holes, faying, row)) for row in level.rows]
        known = [(row, own) for row, own in rows if len(own)]
        if known:
            yield from _off(level, known)


def _faying(holes: BodyHoles, stacks: Stacks) -> dict[tuple[int, int], float]:
    """Height of the face at each hole of a stack that lies on the next ply, or of the last on the one before."""
    place = {key: i for i, key in enumerate(zip(holes.instance.tolist(), holes.hole.tolist(), strict=True))}
    found = {}
    for start, end in pairwise(stacks.first.tolist()):
        own = [place[key] for key in zip(stacks.ply_instance[start:end].tolist(), stacks.ply_hole[start:end].tolist(),
                                         strict=True)]  # fmt: skip
        middle = (holes.marked[own] + holes.back[own]) / 2.0
        for k, i in enumerate(own):
            mate = middle[k + 1] if k + 1 < len(own) else middle[k - 1]
            faces = np.stack([holes.marked[i], holes.back[i]])
            nearer = int(np.argmin(np.linalg.norm(faces - mate, axis=1)))
            found[int(holes.instance[i]), int(holes.hole[i])] = float(faces[nearer, 2])
    return found


def _heights(body: Body, holes: BodyHoles, faying: dict[tuple[int, int], float], row: PlySpec) -> FloatArray:
    """Heights (n,) of the faces at the holes of a row, mm: where they meet their mates, else on the marked face."""
    marks = [instance.mark for instance in body.instances]
    instance = marks.index(row.instance)
    names = body.part_of(instance).holes.holes.row
    own = [i for i in np.nonzero(holes.instance == instance)[0].tolist() if names[holes.hole[i]] == row.row]
    return np.array([faying.get((instance, int(holes.hole[i])), float(holes.marked[i, 2])) for i in own])


def _off(level: LevelSpec, rows: list[tuple[PlySpec, FloatArray]]) -> Iterator[Finding]:
    every = np.concatenate([own for _, own in rows])
    middle = (float(every.min()) + float(every.max())) / 2.0
    height, within = (middle, level.within / 2.0) if level.height is None else (level.height, level.within)
    off = [float(own[np.argmax(np.abs(own - height))]) - height for _, own in rows]
    worst = int(np.argmax(np.abs(off)))
    if not abs(off[worst]) <= within + FIGURE:
        row = rows[worst][0]
        told = "stated height" if level.height is not None else "middle of all its rows"
        yield finding(
            "level-differs",
            f"level {level.mark}: {row.instance}/{row.row} lies {off[worst]:+.2f} mm off the {told}, z {height:g} mm",
            "Look at thickness, back mark and place of the pieces between it and the datum, or correct the level.",
            Where(part=row.instance),
            measured=abs(off[worst]),
            required=within,
            source="the job file",
        )
