"""Metal seen in a mirror: for whether a piece is the other hand of another."""

import numpy as np
import shapely

from fabplan.geom.prism import Solid
from fabplan.model.pose import Pose

ACROSS = np.diag([-1.0, 1.0, 1.0])
"""The mirror: y and z of the frame around stay, x changes sides."""


def mirrored(one: Solid) -> Solid:
    """A solid seen in the mirror; its face turns over in its own plane, so that its frame stays a right-handed one."""
    frame = Pose(ACROSS @ one.frame.rotation @ ACROSS, ACROSS @ one.frame.origin)
    return Solid(frame, shapely.transform(one.face, lambda ring: ring * [-1.0, 1.0]), one.thickness)
