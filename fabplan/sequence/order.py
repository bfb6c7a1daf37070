"""The order of work: erect, fit dry, square, rivet while everything can be reached, close, test."""

from collections.abc import Iterable

import numpy as np

from fabplan.model.arrays import BoolArray
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.sequence import Core, Sequence
from fabplan.model.tables import Tables
from fabplan.sequence import tell
from fabplan.sequence.access import Site, site
from fabplan.sequence.near import near_upstands
from fabplan.sequence.peel import peel, plies
from fabplan.sequence.phases import held_back, phases
from fabplan.sequence.reach import Ways, panels_of, ways
from fabplan.sequence.scene import Scene
from fabplan.sequence.steps import make_steps
from fabplan.sequence.tools import POINT, tool_words

GROUND = "room for who drives or holds up from below, over the ground or under the table"
"""What reach does not know."""

IN = f"a rivet is put in by its head, its shank the grip and {POINT:g} d for the point (hand driving, from memory)"


def order(
    job: Job, body: Body, stacks: Stacks, tables: Tables, bolted: Iterable[int]
) -> tuple[Sequence, tuple[Finding, ...]]:
    """The order of work of a body, and what cannot be reached or built.

    Args:
        job: settings of the shop, seams.
        body: placed pieces.
        stacks: its rivets.
        tables: tools and heads.
        bolted: rivets that have a service bolt in the dry fit.
    """
    solid = (not body.part_of(i).spec.formed for i in range(len(body.poses)))
    placed = np.array([one and pose is not None for one, pose in zip(solid, body.poses, strict=True)], dtype=np.bool_)
    marks = [instance.mark for instance in body.instances]
    if job.datum not in marks or not placed[marks.index(job.datum)] or len(stacks) == 0:
        nothing = Core(np.zeros(0, dtype=np.int64))
        return Sequence((), nothing, ("no order: there is no rivet between placed pieces",)), ()
    datum = marks.index(job.datum)
    panels = panels_of(body)
    reach = ways(job, body, stacks, panels, tables)
    yard = site(job, stacks, panels, reach, len(marks))
    member = plies(stacks, len(marks))
    peeling = peel(yard, member, placed, datum)
    back = held_back(body, yard, member, placed, datum)
    done = phases(yard, member, peeling, back)
    has_bolt = np.zeros(len(stacks), dtype=np.bool_)
    has_bolt[list(bolted)] = True
    scene = Scene(job, body, stacks, reach, has_bolt, datum, member)
    steps = make_steps(scene, placed, done, back)
    core, core_findings = tell.core(scene, yard, placed, peeling)
    found = (*core_findings, *tell.changed_sides(scene, steps), *tell.men_inside(scene, steps), *tell.heavy(scene))
    found = (*found, *tell.near(scene, near_upstands(scene, panels, tables, done), tables.near))
    return Sequence(steps, core, _assumptions(job, reach, yard, placed)), found


def _assumptions(job: Job, reach: Ways, yard: Site, placed: BoolArray) -> tuple[str, ...]:
    return (
        *(tool_words(tool) for tool in reach.tools),
        IN,
        f"a hand reaches {job.shop.reach_length:g} mm in a straight line from the tool's end to outside the hull of "
        "the whole body (assumed)",
        f"a man passes an opening of {job.shop.man_opening:g} mm, followed on a grid of 30 mm, openings between pieces "
        "to one cell (assumed)",
        *(() if yard.grid.metal else ("the body is too large for a man's way to be followed: nobody goes inside",)),
        f"{GROUND}: not checked",
        "the way in of each piece is not checked",
        *(("room for spanners at bolts that stay: not checked",) if yard.nutted.any() else ()),
    )
