"""What the seams of a put-together body tell: counts that differ, rows that lie elsewhere and why, plies apart."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.fit import NEAR, Fit, faults, fit, touching
from fabplan.body.found import finding, point
from fabplan.body.place import Placing
from fabplan.body.rows import FIT, Link, Row, hung, lies
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import solid
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.pose import Pose

ALIKE = 0.9
"""Share of the holes of a row that must agree before the row as a whole is spoken of."""

MIRROR = np.array([-1.0, 1.0, 1.0])
"""Opposite hand: x turned about, as of a blank, and as of a bar whose rows are measured from its other end."""


@dataclass(frozen=True, slots=True, eq=False)
class Joint:
    """A link between two placed pieces, as it was found.

    Attributes:
        link: the link.
        poses: of a and b.
        found: how well the rows agree.
    """

    link: Link
    poses: tuple[Pose, Pose]
    found: Fit

    @property
    def elsewhere(self) -> bool:
        """True where the faces do not meet or fewer than half the holes lie on their mates, though their counts agree.

        Counts that differ are a fault by themselves.
        """
        like = len(self.link.row_a.holes) == len(self.link.row_b.holes)
        return like and faults(self.link_alone, *self.poses, MIRROR) >= NEAR

    @property
    def together(self) -> int:
        """How many holes lie on their mates, face on face."""
        return len(self.found.mate_a) if abs(self.found.gap) <= TOUCH + FIGURE else 0

    @property
    def apart(self) -> bool:
        """True where most holes lie over one another but the faces do not touch."""
        return not abs(self.found.gap) <= TOUCH + FIGURE and 2 * len(self.found.mate_a) >= self.found.count

    @property
    def link_alone(self) -> Link:
        """The link without its stated side of the heads."""
        return replace(self.link, head="")


def joints(placing: Placing) -> tuple[Joint, ...]:
    """The links between placed pieces."""
    found = []
    for link in placing.links:
        pose_a, pose_b = placing.body.poses[link.a], placing.body.poses[link.b]
        if pose_a is not None and pose_b is not None:
            found.append(Joint(link, (pose_a, pose_b), fit(link, pose_a, pose_b)))
    return tuple(found)


def closes(placing: Placing) -> bool:
    """True where every link closes once all pieces are settled, heads aside."""
    return not any(faults(joint.link_alone, *joint.poses, MIRROR) for joint in joints(placing))


def check_seams(job: Job, placing: Placing) -> tuple[list[Finding], set[tuple[int, int]]]:
    """The findings, and the holes (instance, hole) whose want of a mate they explain."""
    body, every = placing.body, joints(placing)
    findings: list[Finding] = []
    explained: list[Joint] = []
    for instance in range(len(body.instances)):
        own = [joint for joint in every if instance in (joint.link.a, joint.link.b)]
        if any(joint.elsewhere for joint in own) and _fits_mirrored(body, instance, own):
            findings.append(_wrong_hand(body, instance, own))
            explained += own
    for joint in every:
        findings += _count(job, body, joint.link)
        if joint in explained:
            continue
        turned = _turned_piece(body, joint) if joint.elsewhere else None
        shift = row_shift(joint) if joint.elsewhere and turned is None else None
        if turned is not None:
            findings.append(_reversed(job, body, joint, turned))
            explained.append(joint)
        elif shift is not None:
            findings.append(_shifted(job, body, joint, shift))
            explained.append(joint)
        elif joint.apart:
            findings.append(_apart(job, body, joint))
            explained.append(joint)
    holes = {
        (instance, int(hole))
        for joint in explained
        for instance, row in ((joint.link.a, joint.link.row_a), (joint.link.b, joint.link.row_b))
        for hole in row.holes
    }
    return findings, holes


def _fits_mirrored(body: Body, instance: int, own: list[Joint]) -> bool:
    """True where a piece of several faces, of the other hand, would close all its links. A flat one just turns over."""
    if len(body.part_of(instance).panels) < 2 or len(own) < 2:
        return False
    turned = [(_of_other_hand(joint.link_alone, instance), joint.poses) for joint in own]
    lead, (pose_a, pose_b) = turned[0]
    mine_is_b = lead.b == instance
    for lie in lies(lead.row_a, lead.row_b):
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


def _count(job: Job, body: Body, link: Link) -> Iterator[Finding]:
    one, other = len(link.row_a.holes), len(link.row_b.holes)
    if one != other:
        yield finding(
            "count-differs",
            f"seam {job.seams[link.seam].mark}: {body.instances[link.a].mark} has {one} holes, "
            f"{body.instances[link.b].mark} has {other}",
            "Give both plies the same holes, or name the rows apart where the seam ends.",
            Where(seam=job.seams[link.seam].mark, part=body.instances[link.b].mark),
            measured=other,
            required=one,
        )


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
        along = _direction(own)
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


def _direction(points: FloatArray) -> FloatArray:
    """The direction (3,) in which a row of points (n, 3) runs."""
    along: FloatArray = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][0]
    return along


def _meets(points: FloatArray, others: FloatArray, towards: FloatArray) -> bool:
    """True where nearly all points lie on others, seen along `towards`."""
    apart = np.linalg.norm(_across(others, towards)[:, None] - _across(points, towards)[None], axis=2)
    return bool(np.mean(apart.min(axis=0) <= FIT) > ALIKE)


def row_shift(joint: Joint) -> tuple[float, float] | None:
    """How far row b lies from row a, all holes alike: mm along the row and mm across it; None where they differ."""
    points_a, points_b = touching(joint.link, joint.found, *joint.poses)
    if len(points_a) != len(points_b) or len(points_a) < 2 or not abs(joint.found.gap) <= TOUCH + FIGURE:
        return None
    along, towards = _direction(points_a), joint.found.towards
    order_a, order_b = np.argsort(points_a @ along), np.argsort(points_b @ along)
    off = _across(points_b[order_b] - points_a[order_a], towards)
    middle = np.median(off, axis=0)
    if not np.mean(np.linalg.norm(off - middle, axis=1) <= FIT) > ALIKE:
        return None
    return float(middle @ along), float(middle @ np.cross(towards, along))


def _shifted(job: Job, body: Body, joint: Joint, shift: tuple[float, float]) -> Finding:
    mark, (along, across) = job.seams[joint.link.seam].mark, shift
    rows = " and ".join(
        f"{row} of {body.instances[i].mark}"
        for i, row in (
            (joint.link.a, _row_name(body, joint.link.a, joint.link.row_a)),
            (joint.link.b, _row_name(body, joint.link.b, joint.link.row_b)),
        )
    )
    where = touching(joint.link, joint.found, *joint.poses)[1].mean(axis=0)
    return finding(
        "misfit",
        f"seam {mark}: {joint.found.count} holes of row {rows} lie {abs(along):.2f} mm along the row and "
        f"{abs(across):.2f} mm across it from one another, all alike",
        "One of the two rows is set out from a wrong point: look at its end distance and back mark.",
        Where(seam=mark, part=body.instances[joint.link.b].mark, point=point(where)),
        measured=float(np.hypot(along, across)),
        required=0.0,
    )


def _row_name(body: Body, instance: int, row: Row) -> str:
    return body.part_of(instance).holes.holes.row[int(row.holes[0])] or "(none)"


def _across(points: FloatArray, towards: FloatArray) -> FloatArray:
    flat: FloatArray = points - np.outer(points @ towards, towards)
    return flat


def _apart(job: Job, body: Body, joint: Joint) -> Finding:
    mark, gap = job.seams[joint.link.seam].mark, joint.found.gap
    how = f"{gap:.1f} mm apart" if gap > 0.0 else f"{-gap:.1f} mm into one another"
    middle = touching(joint.link, joint.found, *joint.poses)[0].mean(axis=0)
    return finding(
        "plies-apart",
        f"seam {mark}: the faces of {_both(body, joint.link)} are {how if np.isfinite(gap) else 'not parallel'}",
        "Look at the thickness of both plies and of what lies between; a packing is a part of the kit.",
        Where(seam=mark, part=body.instances[joint.link.b].mark, point=point(middle)),
        measured=gap,
        required=0.0,
    )
