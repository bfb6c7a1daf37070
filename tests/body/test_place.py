"""Poses against the known bodies; what is told where the seams decide nothing."""

from pathlib import Path

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from tests.body.made import made, true_pose
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
