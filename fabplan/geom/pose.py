"""Turning and shifting points; poses from matched points. numpy only."""

import numpy as np

from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose


def to_outer(pose: Pose, points: FloatArray) -> FloatArray:
    """Points (..., 3) of the pose's own frame, in the frame around it, mm."""
    moved: FloatArray = points @ pose.rotation.T + pose.origin
    return moved


def to_own(pose: Pose, points: FloatArray) -> FloatArray:
    """Points (..., 3) of the frame around, in the pose's own frame, mm."""
    moved: FloatArray = (points - pose.origin) @ pose.rotation
    return moved


def turned(pose: Pose, directions: FloatArray) -> FloatArray:
    """Directions (..., 3) of the pose's own frame, in the frame around it."""
    moved: FloatArray = directions @ pose.rotation.T
    return moved


def compose(outer: Pose, inner: Pose) -> Pose:
    """The pose that does `inner` first, then `outer`."""
    return Pose(outer.rotation @ inner.rotation, to_outer(outer, inner.origin))


def inverse(pose: Pose) -> Pose:
    """The pose that undoes `pose`."""
    return Pose(pose.rotation.T, -(pose.rotation.T @ pose.origin))


def matrix(pose: Pose) -> FloatArray:
    """The pose as a (4, 4) matrix."""
    whole = np.eye(4)
    whole[:3, :3], whole[:3, 3] = pose.rotation, pose.origin
    return whole


def best_fit(own: FloatArray, outer: FloatArray, weights: FloatArray | None = None) -> Pose:
    """The pose that carries points `own` (n, 3) nearest to points `outer` (n, 3), least squares.

    Source: Kabsch, Acta Crystallographica A32 (1976) 922; the determinant keeps it a turn, never a mirror.
    """
    w = np.ones(len(own)) if weights is None else weights
    w = w / w.sum()
    middle_own, middle_outer = w @ own, w @ outer
    u, _, vt = np.linalg.svd((own - middle_own).T @ ((outer - middle_outer) * w[:, None]))
    flip = np.diag([1.0, 1.0, np.sign(np.linalg.det(vt.T @ u.T)) or 1.0])
    rotation = vt.T @ flip @ u.T
    return Pose(rotation, middle_outer - rotation @ middle_own)
