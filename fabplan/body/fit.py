"""How well two placed pieces agree about the seam between them."""

from dataclasses import dataclass
from itertools import product

import numpy as np

from fabplan.body.rows import Link
from fabplan.geom.match import mates
from fabplan.geom.pose import compose, inverse, to_outer, turned
from fabplan.geom.tolerance import TOUCH
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.pose import Pose

NEAR_GAP = 3.0
"""A gap up to this, mm, is a wrong thickness rather than a wrong place: the step between common plate thicknesses."""

NEAR_ROW = 12.0
"""A row that lies so near its mates, mm, all holes alike, is set out wrong rather than in a wrong place: under half the
pitch of 10 mm rivets."""

NEAR, FAR = 3, 7
"""Faults of a seam that does not close: its row near its mates, or elsewhere, dearer than near and a clash at once."""

NEAR_SHARE = 0.75
"""With this share of the holes together the seam is in its place and the rest are faults of single holes."""

FLAT = 1.0 - 1e-4
"""Cosine of 0.8 degrees: faces further off parallel than that never close."""


FACING = 1.0 - 4e-3
"""Cosine of 5 degrees: so far a hole that strays along a round may look past its mate."""


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """One link under two poses, on those faces that come nearest.

    Attributes:
        mate_a, mate_b: (k,) places within the rows of holes that lie together.
        count: the larger count of holes.
        gap: mm between the faces, negative where they overlap, NaN where the planes are not parallel.
        back_a, back_b: True where the back face of that ply is the one that touches.
        towards: (3,) unit vector from ply a into ply b, body frame.
    """

    mate_a: IntArray
    mate_b: IntArray
    count: int
    gap: float
    back_a: bool
    back_b: bool
    towards: FloatArray


def fit(link: Link, pose_a: Pose, pose_b: Pose, reach: float | None = None) -> Fit:
    """Compare the two rows of a link in space, holes together within `reach` mm, else its own; in the frame of a."""
    reach = link.reach if reach is None else reach
    if link.row_a.round or link.row_b.round:
        return _round_fit(link, pose_a, pose_b, reach)
    turn = pose_a.rotation.T @ pose_b.rotation
    shift = pose_a.rotation.T @ (pose_b.origin - pose_a.origin)
    row_a, row_b = link.row_a, link.row_b
    cosine = float(row_a.normal @ (turn @ row_b.normal))
    seen = row_b.points @ turn.T + shift
    rise = float(seen[0] @ row_a.normal - row_a.points[0] @ row_a.normal)  # marked face of b over marked face of a
    # the back of b lies cosine * thickness below its marked face; faces must look at one another to touch
    over = rise - (row_b.thickness if cosine > 0.0 else 0.0)  # b on the marked face of a
    under = -rise - row_a.thickness - (0.0 if cosine > 0.0 else row_b.thickness)  # b on the back of a
    on_marked = abs(over) <= abs(under)
    gap = (over if on_marked else under) if abs(cosine) >= FLAT else float("nan")
    mate_a, mate_b = mates(row_a.points @ row_a.plane, seen @ row_a.plane, reach)
    return Fit(
        mate_a,
        mate_b,
        link.wanted,
        gap,
        back_a=not on_marked,
        back_b=on_marked == (cosine > 0.0),
        towards=pose_a.rotation @ row_a.normal * (1.0 if on_marked else -1.0),
    )


def _round_fit(link: Link, pose_a: Pose, pose_b: Pose, reach: float) -> Fit:
    """Rows round a bend, hole by hole: on those faces where most holes meet, and nearest to one another."""
    lie = compose(inverse(pose_a), pose_b)
    best: tuple[tuple[int, float], Fit] | None = None
    for back_a, back_b in product((False, True), repeat=2):
        points_a, out_a = link.row_a.face(back_a)
        points_b, out_b = link.row_b.face(back_b)
        seen, faces = to_outer(lie, points_b), turned(lie, out_b)
        mate_a, mate_b = mates(points_a, seen, float(np.hypot(reach, NEAR_GAP)))
        facing = np.einsum("ij,ij->i", out_a[mate_a], faces[mate_b]) < -FACING
        mate_a, mate_b = mate_a[facing], mate_b[facing]
        rise = np.einsum("ij,ij->i", seen[mate_b] - points_a[mate_a], out_a[mate_a])
        gap = float(np.median(rise)) if len(rise) else float("nan")
        towards = turned(pose_a, out_a[len(out_a) // 2])
        rank = (-len(mate_a), abs(gap) if len(rise) else float("inf"))
        if best is None or rank < best[0]:
            best = rank, Fit(mate_a, mate_b, link.wanted, gap, back_a, back_b, towards)
    assert best is not None
    return best[1]


def touching(link: Link, found: Fit, pose_a: Pose, pose_b: Pose) -> tuple[FloatArray, FloatArray]:
    """The holes (n, 3) of both rows on the faces that touch, body frame, mm."""
    return to_outer(pose_a, link.row_a.face(found.back_a)[0]), to_outer(pose_b, link.row_b.face(found.back_b)[0])


def faults(link: Link, pose_a: Pose, pose_b: Pose, inside: FloatArray) -> int:
    """How wrong a link is: 0 closes, 1 closes but for single holes or a thickness, `NEAR` or `FAR` does not close.

    Two more where the stated side of the heads disagrees with `inside`, the direction (3,) from the seam into the body.
    """
    found = fit(link, pose_a, pose_b)
    inwards = float(found.towards @ inside) > 0.0
    wrong_side = 2 if link.head and inwards != (link.head == "outside") else 0
    missing = found.count - len(found.mate_a)
    if missing == 0 and abs(found.gap) <= TOUCH:
        return wrong_side
    if missing <= max(1, (1.0 - NEAR_SHARE) * found.count) and abs(found.gap) <= NEAR_GAP and found.count > 2:
        return 1 + wrong_side
    return (NEAR if _near(link, found, pose_a, pose_b) else FAR) + wrong_side


def _near(link: Link, found: Fit, pose_a: Pose, pose_b: Pose) -> bool:
    """True where all holes have their mates not far away, on faces that nearly touch."""
    if not abs(found.gap) <= NEAR_ROW or link.uneven:
        return False
    return len(fit(link, pose_a, pose_b, NEAR_ROW).mate_a) == found.count
