"""Plates drawn down for a third ply: it must pass on the face that is drawn down, and leave the metal that stays."""

from collections.abc import Iterator

import numpy as np

from fabplan.body.found import finding, point
from fabplan.geom.pose import to_own
from fabplan.geom.prism import LEVEL, clash, solid
from fabplan.geom.thinned import thinned
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose

FACES = {True: "marked face", False: "other face"}
MEND = "Draw down the other face (`face`), or let the plate pass on the side that is drawn down."


def check_tapers(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Thinned plates that another passes on their plane face, by the order of their seam or by where it lies.

    What crosses a thinned place at an angle runs into the metal that is left there.
    """
    if not any(part.spec.tapers for part in body.parts):
        return
    told: set[tuple[int, int]] = set()
    for instance, other in _against_order(job, body, stacks):
        if (instance, other) not in told:
            told.add((instance, other))
            yield _wrong_side(body, instance, other, "by the order in which their seam lists them")
    for instance, pose in enumerate(body.poses):
        panels = body.part_of(instance).panels
        if pose is None or not panels or not panels[0].tapers:
            continue
        for other, slanted in _through(body, instance, pose, panels[0]):
            if (instance, other) not in told:
                told.add((instance, other))
                if slanted:
                    yield _crossed(body, instance, other)
                else:
                    yield _wrong_side(body, instance, other, "by where it lies")


def _against_order(job: Job, body: Body, stacks: Stacks) -> Iterator[tuple[int, int]]:
    """Thinned plies (instance) with a ply beside them that their seam lists on the other side than that drawn down."""
    for i in np.nonzero(stacks.seam >= 0)[0].tolist():
        listed = [(ply.instance, ply.row) for ply in job.seams[int(stacks.seam[i])].plies]
        plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
        places = {k: listed.index(row) for k in plies for row in [_row(body, stacks, k)] if row in listed}
        for k in plies:
            panel = body.part_of(int(stacks.ply_instance[k])).panels[int(stacks.ply_panel[k])]
            if k not in places or not panel.tapers or not stacks.ply_thickness[k] < panel.thickness - FIGURE:
                continue
            for beside in (k - 1, k + 1):
                if beside in places and (places[beside] - places[k]) * (beside - k) < 0:
                    yield int(stacks.ply_instance[k]), int(stacks.ply_instance[beside])


def _row(body: Body, stacks: Stacks, ply: int) -> tuple[str, str]:
    instance = int(stacks.ply_instance[ply])
    return body.instances[instance].mark, body.part_of(instance).holes.holes.row[int(stacks.ply_hole[ply])]


def _through(body: Body, instance: int, pose: Pose, panel: Panel) -> Iterator[tuple[int, bool]]:
    """Pieces that lie in a thinned place on its plane side (False), or cross what is left of it at an angle (True)."""
    for taper, full, left in thinned(panel, pose):
        for other, place in enumerate(body.poses):
            if other == instance or place is None:
                continue
            for one in body.part_of(other).panels:
                metal = solid(one, place)
                level = abs(float(metal.frame.rotation[:, 2] @ full.frame.rotation[:, 2])) >= LEVEL
                if not level and clash(left, Pose(), metal, Pose()):
                    yield other, True
                elif level and clash(full, Pose(), metal, Pose()):
                    over = float(to_own(full.frame, metal.middle)[2]) + panel.thickness / 2.0
                    if abs(over) > TOUCH and (over > 0.0) != taper.from_marked:
                        yield other, False


def _wrong_side(body: Body, instance: int, other: int, why: str) -> Finding:
    one, two = body.instances[instance].mark, body.instances[other].mark
    drawn = body.part_of(instance).panels[0].tapers[0].from_marked
    what = f"{one} is drawn down on its {FACES[drawn]}, and {two} passes it on its {FACES[not drawn]} {why}"
    return finding("taper-side", what, MEND, Where(drawing=body.part_of(instance).spec.drawing, part=one))


def _crossed(body: Body, instance: int, other: int) -> Finding:
    one, two = body.instances[instance].mark, body.instances[other].mark
    place = body.poses[other]
    assert place is not None, "only placed pieces clash"
    what = f"{two} stands in the thinned place of {one}, across the metal that is left there"
    where = Where(part=two, point=point(solid(body.part_of(other).panels[0], place).middle))
    return finding("plates-clash", what, "Cut one of them back: a taper lets a plate pass that lies along it.", where)
