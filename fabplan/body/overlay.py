"""The rows of each seam laid one over the other, those that do not meet to a hair."""

import numpy as np

from fabplan.body.fit import NEAR_ROW, fit, touching
from fabplan.body.joint import Joint, direction, joints, row_name
from fabplan.body.place import Placing
from fabplan.body.rows import Row
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.job import Job
from fabplan.model.overlay import Overlay

HAIR = 0.05
"""Offset, mm, from which a seam is worth a picture: drawn places are rounded to less."""


def overlays(job: Job, placing: Placing) -> tuple[Overlay, ...]:
    """The seams of which a hole is out by more than `HAIR` or lacks its mate, the worst first."""
    found = [_overlay(job, placing.body, joint) for joint in joints(placing)]
    return tuple(sorted((one for one in found if _worst(one) > HAIR), key=lambda one: -_worst(one)))


def _worst(one: Overlay) -> float:
    """How far the worst hole is out, mm; as far as any where holes lack mates."""
    if len(one.mate_one) < max(len(one.holes_one), len(one.holes_other)):
        return NEAR_ROW
    return float(np.linalg.norm(one.off, axis=1).max(initial=0.0))


def _overlay(job: Job, body: Body, joint: Joint) -> Overlay:
    link = joint.link
    found = fit(link, *joint.poses, NEAR_ROW)
    points = touching(link, found, *joint.poses)
    flat = _in_plane(points[0], found.towards)
    one, other = (points[0] @ flat.T, points[1] @ flat.T)
    least = np.minimum(one.min(axis=0), other.min(axis=0))
    holes = [body.part_of(i).holes.holes for i in (link.a, link.b)]
    return Overlay(
        seam=job.seams[link.seam].mark,
        one=_name(body, link.a, link.row_a),
        other=_name(body, link.b, link.row_b),
        holes_one=one - least,
        holes_other=other - least,
        size_one=holes[0].diameter[link.row_a.holes],
        size_other=holes[1].diameter[link.row_b.holes],
        number=tuple(holes[0].number[i] for i in link.row_a.holes.tolist()),
        mate_one=found.mate_a,
        mate_other=found.mate_b,
        allowed=link.allowed,
        gap=found.gap,
    )


def _name(body: Body, instance: int, row: Row) -> str:
    return f"{body.instances[instance].mark}, row {row_name(body, instance, row)}"


def _in_plane(points: FloatArray, towards: FloatArray) -> FloatArray:
    """(2, 3) along the row from its first hole, and across it, seen from the first ply's side."""
    along = direction(points)
    along = along if (points[-1] - points[0]) @ along >= 0.0 else -along
    along = along - (along @ towards) * towards
    along = along / np.linalg.norm(along)
    return np.array([along, np.cross(along, towards)])
