"""Placing against scipy's least squares: align_vectors on hole centres and, for the face, one point off each row.

A row's centres alone leave the turn about the row free; one point a row, 100 mm off its face, settles it. Residuals are
split along the row, across it, and off the face (the gap).
"""

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fabplan.body.fit import touching
from fabplan.body.joint import joints
from fabplan.geom.pose import best_fit, to_own
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose
from tests.body.made import Made, made
from tests.kits.defects import shaken
from tests.kits.random_kits import MAKERS

OFF = 100.0  # mm off the face
SHAKE = 0.1  # mm
APART = 0.05  # mm by which ours may lie off: strayed holes weigh less, and a piece heeds those placed before it only


@dataclass(frozen=True)
class Mated:
    """A row of a piece on its mates: holes in its own frame, mates and direction out of the face in the body's."""

    own: FloatArray
    mates: FloatArray
    out: FloatArray

    def axes(self) -> FloatArray:
        """(3, 3) directions along the row, across it, and off its face, one in a line."""
        along = self.mates[-1] - self.mates[0]
        along = along / np.linalg.norm(along)
        return np.array([along, np.cross(self.out, along), self.out])


def mated(result: Made, instance: int) -> list[Mated]:
    rows = []
    for joint in joints(result.placing):
        link, found = joint.link, joint.found
        if instance in (link.a, link.b):
            a, b = touching(link, found, *joint.poses)
            own, other = (
                (a[found.mate_a], b[found.mate_b]) if link.a == instance else (b[found.mate_b], a[found.mate_a])
            )
            pose = joint.poses[0 if link.a == instance else 1]
            rows.append(Mated(to_own(pose, own), other, found.towards))
    return rows


def aligned(rows: list[Mated], pose: Pose) -> Pose:
    """The pose by scipy; a point off the face weighs as much as its row."""
    off_own = [row.own.mean(axis=0) + OFF * (row.out @ pose.rotation) for row in rows]
    off_out = [row.mates.mean(axis=0) + OFF * row.out for row in rows]
    own, outer = np.vstack([*(row.own for row in rows), *off_own]), np.vstack([*(row.mates for row in rows), *off_out])
    weights = np.concatenate([*(np.ones(len(row.own)) for row in rows), [len(row.own) for row in rows]])
    return judge(own, outer, weights)


def judge(own: FloatArray, outer: FloatArray, weights: FloatArray) -> Pose:
    middle_own, middle_outer = (np.average(points, axis=0, weights=weights) for points in (own, outer))
    turn, _ = Rotation.align_vectors(outer - middle_outer, own - middle_own, weights=weights)
    return Pose(turn.as_matrix(), middle_outer - turn.apply(middle_own))


def residuals(row: Mated, pose: Pose) -> FloatArray:
    """(3, n) mm along, across and off the face."""
    split: FloatArray = row.axes() @ (row.own @ pose.rotation.T + pose.origin - row.mates).T
    return split


@pytest.mark.parametrize(("name", "seed"), [(name, seed) for name in MAKERS for seed in range(3)])
def test_pieces_lie_where_least_squares_lay_them(name: str, seed: int, tmp_path: Path) -> None:
    result = made(shaken(MAKERS[name](seed), seed, SHAKE), tmp_path)
    assert result.findings == (), "two rows a little out give a piece no second place"
    for instance in range(1, len(result.body.instances)):
        pose, rows = result.body.poses[instance], mated(result, instance)
        assert pose is not None
        best = aligned(rows, pose)
        for row in rows:
            ours, theirs = (np.sqrt(np.mean(residuals(row, one) ** 2, axis=1)) for one in (pose, best))
            assert np.all(np.abs(ours - theirs) <= APART), (result.body.instances[instance].mark, ours, theirs)
            assert np.abs(residuals(row, pose)).max() <= 2.0 * np.sqrt(2.0) * SHAKE + APART


@pytest.mark.parametrize("seed", range(20))
def test_the_best_fit_is_that_of_scipy(seed: int) -> None:
    """Points anywhere, 2 mm astray, of unlike weights: the same turn and shift."""
    rng = np.random.default_rng(seed)
    own, weights = rng.uniform(-800.0, 800.0, (12, 3)), rng.uniform(0.1, 3.0, 12)
    outer = Rotation.random(rng=rng).apply(own) + rng.uniform(-500.0, 500.0, 3) + rng.normal(0.0, 2.0, (12, 3))
    ours, theirs = best_fit(own, outer, weights), judge(own, outer, weights)
    np.testing.assert_allclose(ours.rotation, theirs.rotation, atol=1e-12)
    np.testing.assert_allclose(ours.origin, theirs.origin, atol=1e-9)
    assert np.linalg.det(ours.rotation) == pytest.approx(1.0)
