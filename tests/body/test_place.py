"""Poses against the known bodies, and against scipy's own least squares."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from fabplan.body.fit import fit, touching
from fabplan.body.seams import joints
from fabplan.geom.pose import to_own
from fabplan.model.arrays import FloatArray
from tests.body.made import Made, made, true_pose
from tests.kits.build import Angle, Kit, Plate
from tests.kits.random_kits import MAKERS, box, laps

CASES = [(name, seed) for name in MAKERS for seed in range(6)]


@pytest.mark.parametrize(("name", "seed"), CASES)
def test_an_exact_kit_is_placed_as_it_was_made_and_nothing_is_found(name: str, seed: int, tmp_path: Path) -> None:
    kit = MAKERS[name](seed)
    result = made(kit, tmp_path)
    assert result.findings == ()
    for instance, pose in zip(result.body.instances, result.body.poses, strict=True):
        assert pose is not None
        true = true_pose(kit, instance.mark)
        np.testing.assert_allclose(pose.origin, true.origin, atol=1e-6)
        np.testing.assert_allclose(pose.rotation, true.rotation, atol=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_datum_may_stand_anywhere(seed: int, tmp_path: Path) -> None:
    kit = box(seed)
    turn = Rotation.from_rotvec([0.3, -1.1, 0.7]).as_matrix()
    origin = np.array([400.0, -70.0, 1250.0])
    x, y = ([float(v) for v in turn[:, k]] for k in (0, 1))
    kit.extra = f'[[place]]\npart = "F1"\norigin = {origin.tolist()}\nx = {x}\ny = {y}'
    result = made(kit, tmp_path)
    assert result.findings == ()
    for instance, pose in zip(result.body.instances, result.body.poses, strict=True):
        assert pose is not None
        true = true_pose(kit, instance.mark)
        np.testing.assert_allclose(pose.origin, turn @ true.origin + origin, atol=1e-6)
        np.testing.assert_allclose(pose.rotation, turn @ true.rotation, atol=1e-9)


def shaken(kit: Kit, seed: int, by: float) -> Kit:
    """Every hole out of place by up to `by` mm along and across."""
    rng = np.random.default_rng(seed)
    for piece in kit.pieces:
        for row in piece.rows:
            if isinstance(piece, Plate):
                piece.rows[row] = piece.rows[row] + rng.uniform(-by, by, piece.rows[row].shape)
            elif isinstance(piece, Angle):  # a bar's row keeps its back mark
                leg, places = piece.rows[row]
                along = np.column_stack([rng.uniform(-by, by, len(places)), np.zeros(len(places))])
                piece.rows[row] = (leg, np.round(places + along, 4))
    return kit


def pairs(result: Made, instance: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Mated holes of a piece (its own frame) and of the pieces it hangs on, and the directions of their axes."""
    own, outer, axis = [], [], []
    for joint in joints(result.placing):
        link = joint.link
        if instance in (link.a, link.b) and min(link.a, link.b) != instance:
            pose_a, pose_b = joint.poses
            found = fit(link, pose_a, pose_b)
            points_a, points_b = touching(link, found, pose_a, pose_b)
            here, there = points_a[found.mate_a], points_b[found.mate_b]
            here, there = (here, there) if link.a == instance else (there, here)
            pose = pose_a if link.a == instance else pose_b
            own.append(to_own(pose, here))
            outer.append(there)
            axis.append(np.tile(found.towards, (len(here), 1)))
    return np.vstack(own), np.vstack(outer), np.vstack(axis)


@pytest.mark.parametrize("seed", range(4))
def test_a_lapped_plate_lies_where_least_squares_lay_it(seed: int, tmp_path: Path) -> None:
    """Judge: scipy's align_vectors on hole centres and, for the face, one point a row 100 mm off it."""
    result = made(shaken(laps(seed), seed, 0.1), tmp_path)
    for instance in range(1, len(result.body.instances)):
        pose = result.body.poses[instance]
        assert pose is not None
        own, outer, axis = pairs(result, instance)
        off_own = own.mean(axis=0) + 100.0 * (axis[0] @ pose.rotation)
        off_outer = outer.mean(axis=0) + 100.0 * axis[0]
        here, there = np.vstack([own, off_own]), np.vstack([outer, off_outer])
        weights = np.append(np.ones(len(own)), float(len(own)))
        middle_here, middle_there = (np.average(one, axis=0, weights=weights) for one in (here, there))
        judge, _ = Rotation.align_vectors(there - middle_there, here - middle_here, weights=weights)
        moved = judge.apply(own - middle_here) + middle_there
        placed = own @ pose.rotation.T + pose.origin
        along = outer[-1] - outer[0]
        along /= np.linalg.norm(along)
        across = np.cross(axis[0], along)
        for direction, allowed in ((along, 0.05), (across, 0.05), (axis[0], 1e-6)):  # ours weighs strayed holes less
            ours, theirs = (placed - outer) @ direction, (moved - outer) @ direction
            assert abs(np.sqrt(np.mean(ours**2)) - np.sqrt(np.mean(theirs**2))) <= allowed
            assert np.abs(ours).max() <= 0.5


def test_two_bodies_are_told_where_nothing_decides(tmp_path: Path) -> None:
    kit = laps(1)
    last = kit.pieces[-1]
    last.keys = {}
    kit.seams[-1] = type(kit.seams[-1])(*(getattr(kit.seams[-1], name) for name in ("mark", "plies", "points", "axis")))
    result = made(kit, tmp_path)
    (found,) = result.findings
    assert (found.check, found.where.part) == ("two-bodies", last.mark)


def test_a_piece_without_a_seam_is_not_placed(tmp_path: Path) -> None:
    kit = laps(0)
    kit.seams.pop()
    result = made(kit, tmp_path)
    assert [one.where.part for one in result.of("not-placed")] == [kit.pieces[-1].mark]
    assert result.body.poses[-1] is None
