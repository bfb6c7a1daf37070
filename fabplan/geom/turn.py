"""The turn that parts two poses."""

import numpy as np
from scipy.spatial.transform import Rotation

from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose


def turn_between(one: Pose, other: Pose) -> tuple[FloatArray, float]:
    """Axis (3,), a unit vector in the piece's own frame, and angle, degrees, from one pose of a piece to another.

    The axis of no turn is that of z.
    """
    turn = Rotation.from_matrix(one.rotation.T @ other.rotation).as_rotvec(degrees=True)
    angle = float(np.linalg.norm(turn))
    return (turn / angle if angle > 0.0 else np.array([0.0, 0.0, 1.0])), angle


def turned_about(axis: FloatArray, angle: float, centre: FloatArray) -> Pose:
    """The turn by an angle, radians, about an axis (3,), a unit vector, through a centre (3,), mm."""
    rotation = Rotation.from_rotvec(axis * angle).as_matrix()
    return Pose(rotation, centre - rotation @ centre)
