"""Which side of the body the made heads come out on, by the order of the plies, against what the job states."""

from collections.abc import Collection, Iterator

from fabplan.body.fit import fit
from fabplan.body.found import finding
from fabplan.body.kit import inwards, kit_of
from fabplan.body.place import Placing
from fabplan.body.rows import Link
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job

SIDES = {True: "outside", False: "inside"}


def check_heads(job: Job, placing: Placing, explained: Collection[tuple[int, int]]) -> Iterator[Finding]:
    """Seams whose made heads come out on the other side than stated.

    Args:
        job: the job.
        placing: the body.
        explained: holes (instance, hole) whose seams a graver finding speaks of already.
    """
    body = placing.body
    marks = [instance.mark for instance in body.instances]
    datum = marks.index(job.datum)
    pose = body.poses[datum]
    if pose is None or placing.datum_mirrored or not any(link.head for link in placing.links):
        return
    kit = kit_of(tuple(body.part_of(i) for i in range(len(marks))), placing.links, datum, {datum: pose})
    told: set[int] = set()
    for link in placing.links:
        pose_a, pose_b = body.poses[link.a], body.poses[link.b]
        if not link.head or link.seam in told or pose_a is None or pose_b is None:
            continue
        if any((link.a, hole) in explained for hole in link.row_a.holes.tolist()):
            continue
        found = fit(link, pose_a, pose_b)
        side = SIDES[float(found.towards @ inwards(kit, link, pose_a)) > 0.0]
        if abs(found.gap) <= TOUCH + FIGURE and side != link.head:
            told.add(link.seam)
            yield _elsewhere(job, link, side)


def _elsewhere(job: Job, link: Link, side: str) -> Finding:
    seam = job.seams[link.seam]
    plies = ", ".join(ply.instance for ply in seam.plies)
    return finding(
        "head-side",
        f"seam {seam.mark}: listed from the head side, {plies} give made heads {side}, the job states {link.head}",
        "List the plies from the head side, or correct `head`; or a ply of the seam lies on the wrong face.",
        Where(seam=seam.mark, part=seam.plies[0].instance),
        source="the job file",
    )
