"""A bar bent to a ring or an arc: the straight bar goes to space and back by one bend of its whole depth."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.bend import Bend, curl, uncurl
from fabplan.geom.pose import to_outer, to_own
from fabplan.geom.profile import circle
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile

CLOSED = 1e-9  # radians by which a closed ring may differ from a full turn
LARGEST_ARC = 2.0 * np.pi / 3.0  # radians of one span of an outline


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """A bent bar; the section at its marked end keeps its place.

    Attributes:
        bend: of the whole depth of the bar: its inside radius, the depth as thickness, and the factor that lays the
            neutral line on the centroid.
        own: pose in which the bend begins, in the frame of the straight bar: x along it, z towards the axis, origin on
            the innermost metal.
    """

    bend: Bend
    own: Pose

    @property
    def closed(self) -> bool:
        """True for a full turn."""
        return bool(abs(self.bend.angle - 2.0 * np.pi) <= CLOSED)

    @property
    def towards(self) -> FloatArray:
        """(3,) direction to the axis at the marked end."""
        direction: FloatArray = self.own.rotation[:, 2]
        return direction


def to_ring(ring: Ring, points: FloatArray) -> FloatArray:
    """Where points (n, 3) of the straight bar go, mm."""
    own = to_own(ring.own, points)
    x, height, _ = curl(ring.bend, own[:, 0], own[:, 2])
    return to_outer(ring.own, np.column_stack([x, own[:, 1], height]))


def to_straight(ring: Ring, points: FloatArray) -> FloatArray:
    """Back from the bent bar to the straight one: (n, 3), mm."""
    own = to_own(ring.own, points)
    u, z = uncurl(ring.bend, own[:, 0], own[:, 2])
    return to_outer(ring.own, np.column_stack([u, own[:, 1], z]))


def flat_ring(ring: Ring, frame: Pose, low: float, high: float) -> tuple[Profile, tuple[Profile, ...]]:
    """Outline and cut-outs of a leg that is bent on edge, in its own plane.

    Args:
        ring: the bent bar.
        frame: of the leg's panel on the straight bar: x along it, y towards the axis or away from it.
        low: where the leg begins along y of its panel, mm.
        high: where it ends.
    """
    sign = 1.0 if float(ring.towards @ frame.rotation[:, 1]) > 0.0 else -1.0
    length = ring.bend.width

    def bent(x: FloatArray, y: float) -> FloatArray:
        flat = np.column_stack([x, np.full(len(x), y), np.zeros(len(x))])
        return to_own(frame, to_ring(ring, to_outer(frame, flat)))[:, :2]

    if ring.closed:
        edges = [bent(np.array([0.0, length / 2.0]), y) for y in (low, high)]
        rims = [
            circle((float(x), float(y)), float(np.hypot(*(one[1] - one[0]))) / 2.0)
            for one, (x, y) in zip(edges, [one.mean(axis=0) for one in edges], strict=True)
        ]
        outer, inner = rims if sign > 0.0 else rims[::-1]
        return outer, (inner,)
    spans = int(np.ceil(ring.bend.angle / LARGEST_ARC))
    x = np.linspace(0.0, length, spans + 1)
    bulge = sign * np.tan(ring.bend.angle / spans / 4.0)
    bulges = np.concatenate([np.full(spans, bulge), [0.0], np.full(spans, -bulge), [0.0]])
    return Profile(np.vstack([bent(x, low), bent(x[::-1], high)]), bulges), ()
