"""Placing against scipy's least squares.

Piece by piece: align_vectors on hole centres and, for the face, one point off each row. A row's centres alone leave the
turn about the row free; one point a row, 100 mm off its own face, that should lie as far off the mate's, settles it.
Residuals are split along the row, across it, and off the face (the gap). All poses at once: `minimize` over turn
vectors and shifts, with the residuals and the loss written out anew, on rigid bodies of known poses.
"""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import minimize
from scipy.spatial.transform import Rotation

from fabplan.body.joint import joints
from fabplan.geom.adjust import Mated as Pairs
from fabplan.geom.adjust import Poses, adjusted
from fabplan.geom.pose import best_fit, to_outer, turned
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose
from tests.body.made import Made, made
from tests.kits.defects import shaken
from tests.kits.random_kits import MAKERS

OFF = 100.0  # mm off the face
SHAKE = 0.1  # mm
APART = 0.05  # mm by which ours may lie off: strayed holes weigh less, and a piece heeds those placed before it only


@dataclass(frozen=True)
class Lying:
    """A row of a piece on its mates: holes and face in its own frame, mates and the face they lie on in the body's."""

    own: FloatArray
    face: FloatArray
    mates: FloatArray
    out: FloatArray

    def axes(self) -> FloatArray:
        """(3, 3) directions along the row, across it, and off its face, one in a line."""
        along = self.mates[-1] - self.mates[0]
        along = along / np.linalg.norm(along)
        return np.array([along, np.cross(self.out, along), self.out])


def mated(result: Made, instance: int) -> list[Lying]:
    rows = []
    for joint in joints(result.placing):
        link, found = joint.link, joint.found
        ends = [
            (link.a, link.row_a.face(found.back_a), found.mate_a, joint.poses[0]),
            (link.b, link.row_b.face(found.back_b), found.mate_b, joint.poses[1]),
        ]
        for (piece, (own, face), mine, _), (_, (other, out), theirs, pose) in (ends, ends[::-1]):
            if piece == instance:
                mates, towards = to_outer(pose, other[theirs]), turned(pose, out[theirs[0]])
                rows.append(Lying(own[mine], face[mine[0]], mates, towards))
    return rows


def aligned(rows: list[Lying]) -> Pose:
    """The pose by scipy; a point off the face weighs as much as its row."""
    off_own = [row.own.mean(axis=0) + OFF * row.face for row in rows]
    off_out = [row.mates.mean(axis=0) - OFF * row.out for row in rows]
    own, outer = np.vstack([*(row.own for row in rows), *off_own]), np.vstack([*(row.mates for row in rows), *off_out])
    weights = np.concatenate([*(np.ones(len(row.own)) for row in rows), [len(row.own) for row in rows]])
    return judge(own, outer, weights)


def judge(own: FloatArray, outer: FloatArray, weights: FloatArray) -> Pose:
    middle_own, middle_outer = (np.average(points, axis=0, weights=weights) for points in (own, outer))
    turn, _ = Rotation.align_vectors(outer - middle_outer, own - middle_own, weights=weights)
    return Pose(turn.as_matrix(), middle_outer - turn.apply(middle_own))


def residuals(row: Lying, pose: Pose) -> FloatArray:
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
        best = aligned(rows)
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


@dataclass(frozen=True)
class Net:
    """Rigid pieces of known turns (n, 3, 3) and origins (n, 3), and their holes in pairs."""

    turns: FloatArray
    origins: FloatArray
    pairs: Pairs


def net(seed: int, noise: float) -> Net:
    """Five pieces, each bolted to the next and to the one after by rows of eight holes on faces at random."""
    rng, size = np.random.default_rng(seed), 5
    turns, origins = Rotation.random(size, rng=rng).as_matrix(), rng.uniform(-500.0, 500.0, (size, 3))
    columns = []
    for row, (a, b) in enumerate([(i, j) for i in range(size) for j in (i + 1, i + 2) if j < size]):
        out = Rotation.random(rng=rng).as_matrix()
        flat = np.column_stack([40.0 * np.arange(8) + rng.uniform(-3, 3, 8), rng.uniform(-15.0, 15.0, 8), np.zeros(8)])
        at = flat @ out.T + rng.uniform(-400.0, 400.0, 3)
        strayed = at + noise * rng.normal(size=(8, 2)) @ out[:, :2].T
        ends = [(at - origins[a]) @ turns[a], (strayed - origins[b]) @ turns[b]]
        normals = [np.tile(way @ turns[i], (8, 1)) for i, way in ((a, out[:, 2]), (b, -out[:, 2]))]
        columns.append([np.full(8, row), np.full(8, a), np.full(8, b), *ends, *normals])
    pairs = [np.concatenate(column) for column in zip(*columns, strict=True)]
    pairs.append(np.ones(len(pairs[0])))
    return Net(turns, origins, Pairs(*pairs))


def moved(known: Net, rng: np.random.Generator) -> Poses:
    """The poses a little off, the first in its place."""
    turn = Rotation.from_rotvec(rng.normal(0.0, 0.002, known.origins.shape)).as_matrix() @ known.turns
    origin = known.origins + rng.normal(0.0, 0.8, known.origins.shape)
    turn[0], origin[0] = known.turns[0], known.origins[0]
    return Poses(turn, origin)


FIRST = np.array([True, False, False, False, False])


@pytest.mark.parametrize("seed", range(8))
def test_rigid_bodies_find_their_known_poses(seed: int) -> None:
    """Even with one row of twelve 2 mm out, which the others outvote."""
    known, rng = net(seed, 0.0), np.random.default_rng(seed)
    off = np.where((known.pairs.row == 3)[:, None], np.cross(known.pairs.out_b, [0.0, 0.0, 1.0]), 0.0)
    off *= 2.0 / max(float(np.linalg.norm(off, axis=1).max()), 1e-9)
    for pairs in (known.pairs, replace(known.pairs, at_b=known.pairs.at_b + off)):
        found = adjusted(moved(known, rng), pairs, FIRST)
        np.testing.assert_allclose(found.turn, known.turns, atol=1e-9)
        np.testing.assert_allclose(found.origin, known.origins, atol=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_all_poses_at_once_as_scipy_lays_them(seed: int) -> None:
    """Holes 0.1 mm astray: the same places as scipy's least squares under Tukey's loss of 0.6 mm, faces ten times."""
    known = net(seed, 0.1)
    pairs = known.pairs
    start = moved(known, np.random.default_rng(seed))

    def poses(values: FloatArray) -> tuple[FloatArray, FloatArray]:
        steps = np.vstack([np.zeros((1, 6)), values.reshape(-1, 6)])
        return Rotation.from_rotvec(steps[:, :3] / OFF).as_matrix() @ start.turn, start.origin + steps[:, 3:]

    def tukey(square: FloatArray) -> float:
        return float(np.sum(0.06 * (1.0 - np.maximum(1.0 - square / 0.36, 0.0) ** 3)))

    def lost(values: FloatArray) -> float:
        turn, origin = poses(values)
        one, other = (
            np.einsum("kij,kj->ki", turn[piece], at) + origin[piece]
            for piece, at in ((pairs.a, pairs.at_a), (pairs.b, pairs.at_b))
        )
        up, down = (
            np.einsum("kij,kj->ki", turn[piece], out) for piece, out in ((pairs.a, pairs.out_a), (pairs.b, pairs.out_b))
        )
        gap = np.sum((other - one) * up, axis=1)
        across = np.sum((other - one) ** 2, axis=1) - gap**2
        tilt = OFF * ((up + down) - np.sum((up + down) * up, axis=1)[:, None] * up)
        return tukey(across) + 10.0 * tukey(gap**2 + np.sum(tilt**2, axis=1))

    turns = Rotation.from_matrix(known.turns[1:] @ np.swapaxes(start.turn[1:], 1, 2)).as_rotvec()
    near = np.hstack([OFF * turns, (known.origins - start.origin)[1:]]).ravel()
    best = minimize(lost, near, method="BFGS", jac="3-point", options={"gtol": 1e-7})
    turn, origin = poses(best.x)
    found = adjusted(start, pairs, FIRST)
    np.testing.assert_allclose(found.turn, turn, atol=2e-5)
    np.testing.assert_allclose(found.origin, origin, atol=5e-3)
