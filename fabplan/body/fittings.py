"""Fittings: the job with one option at each location, the holes that it leaves, and grips beyond the location's."""

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from fabplan.body.found import count_of, finding
from fabplan.geom.pose import turned
from fabplan.geom.tolerance import FIGURE
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Where
from fabplan.model.fitting import LocationSpec
from fabplan.model.job import Job
from fabplan.model.marks import instance_marks
from fabplan.model.plugs import holes_at, left_open


def arranged(job: Job, fitted: Mapping[str, str]) -> Job:
    """The job with the options that are fitted, by the marks of their locations, and without all others.

    What names a piece that is left out goes with it: its seams, welds, places, levels and lines of the stated order.
    """
    off = {
        mark
        for location in job.locations
        for option in location.options
        if option.mark != fitted.get(location.mark, location.chosen)
        for mark in option.parts
    }
    if not off:
        return job
    gone = {mark for part in job.parts if part.mark in off for mark, _ in instance_marks(part)}
    seams = tuple(seam for seam in job.seams if not gone & {ply.instance for ply in seam.plies})
    marks = {seam.mark for seam in seams}
    order = tuple(
        replace(
            step,
            pieces=tuple(one for one in step.pieces if one not in gone),
            seams=tuple(one for one in step.seams if one in marks),
        )
        for step in job.order
    )
    return replace(
        job,
        parts=tuple(part for part in job.parts if part.mark not in off),
        seams=seams,
        welds=tuple(weld for weld in job.welds if not gone & set(weld.pieces)),
        levels=tuple(level for level in job.levels if not gone & {row.instance for row in level.rows}),
        places=tuple(place for place in job.places if place.part not in gone),
        order=tuple(step for step in order if step.pieces or step.seams),
    )


def check_fittings(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Locations without a hole, holes that stay open without a plug, and grips beyond the greatest."""
    for location in job.locations:
        own, where = holes_at(location, body), Where(part=location.instance)
        name = f"location {location.mark}"
        if not own:
            what = f"{name}: {location.instance} has no row {location.row}"
            yield finding("no-location", what, "Name the row as its drawing does.", where)
        open_holes = left_open(job, body, stacks)[location.mark]
        if open_holes and not location.plug:
            what = f"{name}: {count_of(len(open_holes), 'hole')} of {len(own)} stay open"
            yield finding("no-plug", what, "State `plug`, the fastener that closes them.", where)
        if location.greatest_grip is not None:
            yield from _too_thick(location, own, body, stacks)
        if location.face:
            yield from _on_face(location, body, stacks)


def _on_face(location: LocationSpec, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """One finding for the pieces of the fitting that lie on the other face than stated."""
    parts = {mark for option in location.options for mark in option.parts}
    fitted = {i for i, one in enumerate(body.instances) if body.parts[one.part].spec.mark in parts}
    own, astray = holes_at(location, body), set[int]()
    for first, end, axis in zip(stacks.first, stacks.first[1:], stacks.axis, strict=False):
        plies = list(zip(stacks.ply_instance[first:end].tolist(), stacks.ply_hole[first:end].tolist(), strict=True))
        for at in (k for k, ply in enumerate(plies) if ply in own):
            pose = body.poses[plies[at][0]]
            assert pose is not None
            panel = body.part_of(plies[at][0]).panels[int(stacks.ply_panel[first + at])]
            up = float(turned(pose, turned(panel.frame, np.array([0.0, 0.0, 1.0]))) @ axis)
            towards = up if location.face == "marked" else -up
            astray |= {i for k, (i, _) in enumerate(plies) if i in fitted and not (k - at) * towards > 0.0}
    if astray:
        names = ", ".join(body.instances[i].mark for i in sorted(astray))
        what = f"location {location.mark}: {names} on the {_unlike(location.face)} face of {location.instance}"
        mend = "Turn the order of plies in its seam round, or correct `face`."
        yield finding("fitting-face", what, mend, Where(part=location.instance), source="the job file")


def _unlike(face: str) -> str:
    return "other" if face == "marked" else "marked"


def _too_thick(location: LocationSpec, own: set[tuple[int, int]], body: Body, stacks: Stacks) -> Iterator[Finding]:
    """One finding for all fasteners of a location whose grip is more than it takes."""
    plies = zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True)
    here = np.array([ply in own for ply in plies], dtype=np.bool_)
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first))
    most = location.greatest_grip or 0.0
    over = [i for i in np.unique(owner[here]).tolist() if not stacks.grip[i] <= most + FIGURE]
    if over:
        worst = float(stacks.grip[over].max())
        yield finding(
            "fitting-grip",
            f"location {location.mark}: {count_of(len(over), 'fastener')} with a grip beyond what it takes",
            "Take a thinner fitting, or state the greatest grip that the fastener there is made for.",
            Where(part=location.instance, holes=tuple(stacks.number[i] for i in over)),
            measured=worst,
            required=most,
        )
