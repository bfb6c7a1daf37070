"""The holes of all rivets as pairs and layers: which are forecast, what holds each, what its shank and hole are."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.settled import Pairs
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.clearance import OPENED as OPENED_STATES
from fabplan.model.job import Job
from fabplan.model.joints import FROM_MATE
from fabplan.model.tables import Tables

TAKEN = (FROM_MATE, "mark")
"""States of holes that are made through their mates: they are where these are."""


@dataclass(frozen=True, slots=True, eq=False)
class Layers:
    """The n rivets of a body and their k plies, ready for thousands of bodies. Lengths mm.

    Attributes:
        asked: (n,) which are forecast.
        taken: (k,) True for holes that are made through their mates; `steel` (k,) for those of pieces that are there.
        opened: (n,) True where the job orders holes to be opened in place.
        shank: (n,) diameter of the rivet when it is put in.
        hole: (n,) diameter of the finished hole; `next` (n,) that of the next size of rivet, infinite where none is.
        drawn: (k,) diameters as drawn.
        sides: (n, 2, 3) two unit vectors across the axis.
        offset: (k, 2) along them, how far each hole is out as drawn.
        pairs: of plies one after the other, with `ply` (p,) the first of each and `row` (p,) the row that it is of.
    """

    asked: BoolArray
    taken: BoolArray
    steel: BoolArray
    opened: BoolArray
    shank: FloatArray
    hole: FloatArray
    next: FloatArray
    drawn: FloatArray
    sides: FloatArray
    offset: FloatArray
    pairs: Pairs
    ply: IntArray
    row: IntArray


def layers(job: Job, body: Body, stacks: Stacks, tables: Tables) -> Layers:
    """The rivets of a body, ready for thousands of bodies."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    drawn = np.array(
        [
            body.part_of(i).holes.holes.diameter[hole]
            for i, hole in zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True)
        ]
    )
    state = np.array(_states(job, body, stacks))
    known = np.array([spec.tapped is None for spec in job.rivets] + [False])[stacks.rivet]
    first = np.cross(np.eye(3)[np.abs(stacks.axis).argmin(axis=1)], stacks.axis)
    first /= np.linalg.norm(first, axis=1)[:, None]
    sides = np.stack([first, np.cross(stacks.axis, first)], axis=1)
    growth = np.array([1.0 + (job.shop.hot_growth if one.closing == "hot" else 0.0) for one in job.rivets] + [1.0])
    shank = stacks.diameter * growth[stacks.rivet]
    ply = np.flatnonzero(owner[:-1] == owner[1:])
    a, b = stacks.ply_instance[ply], stacks.ply_instance[ply + 1]
    at = stacks.point[owner[ply]] - stacks.point.mean(axis=0)
    opened = np.bincount(owner, weights=np.isin(state, OPENED_STATES), minlength=len(stacks)) > 0
    _, row = np.unique(np.column_stack([stacks.seam[owner[ply]], a, b]), axis=0, return_inverse=True)
    finished = np.array([one.hole for one in job.rivets] + [0.0])[stacks.rivet]
    return Layers(
        asked=known & (stacks.rivet >= 0),
        taken=np.isin(state, TAKEN),
        steel=np.array(
            [not body.part_of(i).spec.made or body.part_of(i).spec.master for i in stacks.ply_instance.tolist()]
        ),
        opened=opened,
        shank=shank,
        hole=finished,
        next=_next_holes(job, tables)[stacks.rivet],
        drawn=drawn,
        sides=sides,
        offset=np.einsum("kij,kj->ki", sides[owner], stacks.ply_offset),
        pairs=Pairs(a, b, at, stacks.axis[owner[ply]], sides[owner[ply]]),
        ply=ply,
        row=row.ravel(),
    )


def _states(job: Job, body: Body, stacks: Stacks) -> list[str]:
    """State of the hole of each ply: as its seam lists it, else "full"."""
    listed = [{ply.instance: ply.state for ply in seam.plies} for seam in job.seams]
    owner = np.repeat(stacks.seam, np.diff(stacks.first))
    marks = [body.instances[i].mark for i in stacks.ply_instance.tolist()]
    return [
        listed[seam].get(mark, "full") if seam >= 0 else "full"
        for seam, mark in zip(owner.tolist(), marks, strict=True)
    ]


def _next_holes(job: Job, tables: Tables) -> FloatArray:
    """(r + 1,) the hole of the next thicker rivet of the tables, with as much play; infinite where there is none."""
    sizes = sorted({head.d for head in tables.heads})
    found = [min((size for size in sizes if size > one.diameter), default=np.inf) for one in job.rivets]
    return np.array([size + one.hole - one.diameter for size, one in zip(found, job.rivets, strict=True)] + [np.inf])
