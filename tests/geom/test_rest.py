"""Faces to stand on, held against trimesh's stable poses and a box worked out by hand."""

import math

import numpy as np
import pytest
import trimesh
from trimesh.poses import compute_stable_poses

from fabplan.geom.rest import rests


@pytest.mark.parametrize("seed", range(12))
def test_rests_against_trimesh(seed: int) -> None:
    """Of a random body of 14 corners the same faces bear it as by trimesh, with its centre as high over the table."""
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(14, 3)) * rng.uniform(200.0, 900.0, 3)
    hull = trimesh.Trimesh(vertices=points).convex_hull
    centre = np.asarray(hull.center_mass) + rng.normal(size=3) * 20.0
    poses, _ = compute_stable_poses(hull, center_mass=centre)
    theirs = {tuple(np.round(-pose[2, :3], 4) + 0.0): float((pose @ [*centre, 1.0])[2]) for pose in poses}
    ours = {tuple(np.round(one.down, 4) + 0.0): one.height for one in rests(points, centre)}
    assert len(theirs) > 1
    assert set(ours) == set(theirs)
    assert all(ours[down] == pytest.approx(theirs[down], abs=0.01) for down in theirs)


def test_a_box_tips_as_worked_out_by_hand() -> None:
    """400 x 200 x 100, centre of mass 30 mm to one side: on its large face 70 mm inside, 50 mm high."""
    corners = np.array([[x, y, z] for x in (0.0, 400.0) for y in (0.0, 200.0) for z in (0.0, 100.0)])
    found = rests(corners, np.array([200.0, 70.0, 50.0]))
    assert len(found) == 6
    (flat,) = [one for one in found if one.down[2] < -0.99]
    assert (flat.height, flat.inside) == pytest.approx((50.0, 70.0))
    assert flat.tips_at == pytest.approx(math.degrees(math.atan(70.0 / 50.0)))
    assert found[0].tips_at >= found[-1].tips_at
    assert not [one for one in rests(corners, np.array([500.0, 100.0, 50.0])) if abs(one.down[2]) > 0.99]
