"""Two placed pieces at a seam, and how well their rows agree."""

from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.fit import NEAR, Fit, faults, fit
from fabplan.body.place import Placing
from fabplan.body.rows import Link, Row
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.pose import Pose

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
    def least(self) -> int:
        """Holes of the row that has fewer."""
        return min(len(self.link.row_a.points), len(self.link.row_b.points))

    @property
    def apart(self) -> bool:
        """True where most holes lie over one another but the faces do not touch."""
        return not abs(self.found.gap) <= TOUCH + FIGURE and 2 * len(self.found.mate_a) >= self.found.count

    @property
    def open(self) -> bool:
        """True where the seam does not close, be it for a single hole."""
        return faults(self.link_alone, *self.poses, MIRROR) > 0

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


def row_name(body: Body, instance: int, row: Row) -> str:
    """The name of a row of one piece, or "(none)"."""
    return body.part_of(instance).holes.holes.row[int(row.holes[0])] or "(none)"


def direction(points: FloatArray) -> FloatArray:
    """The direction (3,) in which a row of points (n, 3) runs."""
    along: FloatArray = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)[2][0]
    return along


def reach(points: FloatArray) -> float:
    """How long a row of points (n, 3) is from its first hole to its last, mm."""
    return float(np.ptp(points @ direction(points)))


def across(points: FloatArray, towards: FloatArray) -> FloatArray:
    """Points (n, 3) less their heights along a unit vector."""
    flat: FloatArray = points - np.outer(points @ towards, towards)
    return flat
