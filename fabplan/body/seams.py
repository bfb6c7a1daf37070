"""What the seams of a put-together body tell: counts that differ, rows that lie elsewhere and why, plies apart."""

from dataclasses import replace

import numpy as np

from fabplan.body.blame import Case
from fabplan.body.compare import ALIKE, row_shift, row_skew, row_stretch
from fabplan.body.fit import faults, touching
from fabplan.body.found import finding
from fabplan.body.joint import MIRROR, Joint, across, direction, joints, reach
from fabplan.body.misfit import SAME
from fabplan.body.place import Placing
from fabplan.body.row_faults import apart, shifted, skewed, stretched
from fabplan.body.rows import FIT, Link, Row, hung, lies
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import solid
from fabplan.geom.tolerance import FIGURE, ROUNDED
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job


def closes(placing: Placing) -> bool:
    """True where every link closes once all pieces are settled, heads aside."""
    return not any(joint.open for joint in joints(placing))


def check_seams(job: Job, placing: Placing, named: str = "") -> tuple[list[Finding], list[Joint]]:
    """The findings, and the joints whose consequences they explain; `named` is the mark that a cause names."""
    body, every = placing.body, joints(placing)
    findings: list[Finding] = []
    explained: list[Joint] = []
    for instance in range(len(body.instances)):
        own = [joint for joint in every if instance in (joint.link.a, joint.link.b)]
        if any(joint.elsewhere for joint in own) and _fits_mirrored(body, instance, own):
            findings.append(_wrong_hand(body, instance, own))
            explained += own
    fits, out = (tuple(joint for joint in every if joint.open == opened) for opened in (False, True))
    for joint in every:
        if joint.link.uneven:
            findings.append(_count(job, body, joint))
            explained += [joint] if 2 * joint.together < joint.least else []
        told = None if joint in explained else _told(Case(job, body, fits, out, joint, named))
        if told is not None:
            findings.append(told)
            explained.append(joint)
    return findings, explained


def _told(case: Case) -> Finding | None:
    """The fault of one joint as a whole; None for a joint without one."""
    job, body, joint = case.job, case.body, case.joint
    turned = _turned_piece(body, joint) if joint.elsewhere and not joint.apart else None
    if turned is not None:
        return _reversed(job, body, joint, turned)
    allowed = joint.link.allowed + FIGURE
    shift = row_shift(joint, FIT if joint.elsewhere else SAME)
    if shift is not None and not shift.size <= allowed:
        return shifted(case, shift)
    stretch = row_stretch(joint)
    if stretch is not None and not stretch.worst <= allowed:
        return stretched(case, stretch)
    skew = row_skew(joint)
    if skew is not None and not skew.worst <= allowed:
        return skewed(case, skew)
    return apart(case) if joint.apart else None


def holes_of(explained: list[Joint]) -> set[tuple[int, int]]:
    """The holes (instance, hole) of joints."""
    return {
        (instance, int(hole))
        for joint in explained
        for instance, row in ((joint.link.a, joint.link.row_a), (joint.link.b, joint.link.row_b))
        for hole in row.holes
    }


def amiss(joint: Joint) -> bool:
    """True where holes of a joint lack their mates or are out by more than the rivet allows, or faces do not touch."""
    link, found = joint.link, joint.found
    if joint.open or link.uneven:
        return True
    points_a, points_b = touching(link, found, *joint.poses)
    off = across(points_b[found.mate_b] - points_a[found.mate_a], found.towards)
    return not np.linalg.norm(off, axis=1).max() <= link.allowed + FIGURE


def _fits_mirrored(body: Body, instance: int, own: list[Joint]) -> bool:
    """True where a piece of several faces, of the other hand, would close all its links. A flat one just turns over."""
    if len(body.part_of(instance).panels) < 2 or len(own) < 2:
        return False
    turned = [(_of_other_hand(joint.link_alone, instance), joint.poses) for joint in own]
    lead, (pose_a, pose_b) = turned[0]
    mine_is_b = lead.b == instance
    for lie in lies(lead.row_a, lead.row_b, lead.reach):
        pose = hung(lead, instance, pose_a if mine_is_b else pose_b, lie)
        closed = (
            faults(link, a if link.b == instance else pose, pose if link.b == instance else b, MIRROR) == 0
            for link, (a, b) in turned
        )
        if all(closed):
            return True
    return False


def _of_other_hand(link: Link, instance: int) -> Link:
    if link.a == instance:
        return replace(link, row_a=_mirrored(link.row_a))
    return replace(link, row_b=_mirrored(link.row_b))


def _mirrored(row: Row) -> Row:
    return replace(row, points=row.points * MIRROR, normals=row.normals * MIRROR, plane=row.plane * MIRROR[:, None])


def _wrong_hand(body: Body, instance: int, own: list[Joint]) -> Finding:
    mark, part = body.instances[instance].mark, body.part_of(instance)
    together, wanted = sum(one.together for one in own), sum(one.found.count for one in own)
    if part.hand or part.section is None:
        check, what = "plate-mirrored", f"{mark} would fit if it were of the other hand"
        mend = "Name the piece of the other hand in its seams, or correct which hand is drawn."
    else:
        check, what = "strip-reversed", f"{mark} would fit if its rows were measured from its other end"
        mend = "Measure the rows from the marked end, or mark the other end."
    what += f" ({together} of {wanted} holes of its seams meet now)"
    return finding(check, what, mend, Where(part=mark, drawing=part.spec.drawing), measured=together, required=wanted)


def _both(body: Body, link: Link) -> str:
    return f"{body.instances[link.a].mark} and {body.instances[link.b].mark}"


def _count(job: Job, body: Body, joint: Joint) -> Finding:
    link, mark = joint.link, job.seams[joint.link.seam].mark
    one, other = len(link.row_a.holes), len(link.row_b.holes)
    length = [_told_length(row) for row in (link.row_a, link.row_b)]
    return finding(
        "count-differs",
        f"seam {mark}: {body.instances[link.a].mark} has {one} holes{length[0]}, "
        f"{body.instances[link.b].mark} has {other}{length[1]}; {joint.together} of them meet",
        "Give both plies the same holes, or name the rows apart where the seam ends.",
        Where(seam=mark, part=body.instances[link.b].mark),
        measured=other,
        required=one,
    )


def _told_length(row: Row) -> str:
    """How far a straight row reaches, and its space where all are alike."""
    if row.round:
        return ""
    step = np.diff(np.sort(row.points @ direction(row.points)))
    even = len(step) > 0 and bool(np.ptp(step) <= ROUNDED)
    return f" over {reach(row.points):.2f} mm" + (f", {step.mean():.2f} mm a space" if even else "")


def _reversed(job: Job, body: Body, joint: Joint, instance: int) -> Finding:
    mark, together = job.seams[joint.link.seam].mark, joint.together
    own, part = body.instances[instance].mark, body.part_of(instance)
    return finding(
        "strip-reversed",
        f"seam {mark}: the rows of {_both(body, joint.link)} would meet if that of {own} were measured from its other "
        f"end ({together} of {joint.found.count} holes meet now)",
        "Look which end the row was measured from; an equal end distance at both ends would let it turn.",
        Where(seam=mark, part=own, drawing=part.spec.drawing),
        measured=together,
        required=joint.found.count,
    )


def _turned_piece(body: Body, joint: Joint) -> int | None:
    """The piece whose row, measured from the piece's other end, falls on the other row; None for neither."""
    link = joint.link
    if link.row_a.round or link.row_b.round:
        return None
    points_a, points_b = touching(link, joint.found, *joint.poses)
    sides = ((link.b, points_b, points_a, joint.poses[1]), (link.a, points_a, points_b, joint.poses[0]))
    for instance, own, other, pose in sides:
        along = direction(own)
        metal = np.vstack([to_outer(pose, solid(panel).corners) for panel in body.part_of(instance).panels])
        # about the middle of the piece; or, first and last hole staying, about its own, unless it looks the same then
        if _meets(_reflected(own, along, metal), other, joint.found.towards):
            return instance
        alone = _reflected(own, along, own)
        if not _meets(alone, own, joint.found.towards) and _meets(alone, other, joint.found.towards):
            return instance
    return None


def _reflected(points: FloatArray, along: FloatArray, about: FloatArray) -> FloatArray:
    """Points (n, 3) turned end for end about the middle of other points' extent along a direction."""
    reach = about @ along
    mirrored: FloatArray = points - 2.0 * np.outer(points @ along - (reach.min() + reach.max()) / 2.0, along)
    return mirrored


def _meets(points: FloatArray, others: FloatArray, towards: FloatArray) -> bool:
    """True where nearly all points lie on others, seen along `towards`."""
    apart = np.linalg.norm(across(others, towards)[:, None] - across(points, towards)[None], axis=2)
    return bool(np.mean(apart.min(axis=0) <= FIT) > ALIKE)
