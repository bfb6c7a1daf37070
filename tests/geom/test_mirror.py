"""Metal seen in a mirror against its corners with x turned to the other side."""

import numpy as np
import shapely

from fabplan.geom.mirror import mirrored
from fabplan.geom.prism import Solid
from fabplan.model.pose import Pose


def test_a_solid_in_the_mirror_has_its_corners_on_the_other_side_and_its_metal() -> None:
    turn = np.array([[0.36, 0.48, -0.8], [-0.8, 0.6, 0.0], [0.48, 0.64, 0.6]])  # square, by Pythagorean triples
    one = Solid(Pose(turn, np.array([10.0, 20.0, 30.0])), shapely.Polygon([(0, 0), (90, 0), (60, 40), (0, 70)]), 5.0)
    seen = mirrored(one)
    assert np.linalg.det(seen.frame.rotation) > 0.0
    assert seen.volume == one.volume
    wanted = one.corners * [-1.0, 1.0, 1.0]
    apart = np.linalg.norm(wanted[:, None] - seen.corners[None], axis=2)
    assert apart.min(axis=0).max() < 1e-9
    assert apart.min(axis=1).max() < 1e-9
