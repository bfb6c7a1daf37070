"""Blocks that run into one another, held against the cut by levels of `geom.prism`, whose areas are shapely's."""

import numpy as np
import shapely
from scipy.spatial.transform import Rotation

from fabplan.geom.blocks import blocks, meeting, stays_clear
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import Solid, clash
from fabplan.model.pose import Pose

DEPTH = 1.0


def _solid(rng: np.random.Generator) -> Solid:
    wide, high = rng.uniform(20.0, 300.0, 2)
    face = shapely.affinity.rotate(shapely.box(0.0, 0.0, wide, high), rng.uniform(0.0, 180.0))
    turn = Rotation.random(random_state=int(rng.integers(1 << 30))).as_matrix() if rng.random() < 0.7 else np.eye(3)
    return Solid(Pose(turn, rng.uniform(-150.0, 150.0, 3)), face, float(rng.uniform(4.0, 10.0)))


def test_rectangles_meet_as_shapely_says_but_for_grazing_corners() -> None:
    rng = np.random.default_rng(0)
    still = Pose()
    told, judged = [], []
    for _ in range(500):
        one, two = _solid(rng), _solid(rng)
        found = meeting(blocks((one,)), blocks((two,)), still.rotation[None], still.origin[None], DEPTH)
        told.append(len(found) > 0)
        judged.append(clash(one, still, two, still, DEPTH))
    assert sum(judged) > 20
    assert sum(a != b for a, b in zip(told, judged, strict=True)) <= 1


def test_a_place_is_asked_by_its_number() -> None:
    """The second of three places alone lies in the metal; the third touches."""
    plate = blocks((Solid(Pose(), shapely.box(0.0, 0.0, 100.0, 50.0), 5.0),))
    places = np.array([[0.0, 0.0, 20.0], [30.0, 10.0, 2.0], [0.0, 0.0, 5.0]])
    found = meeting(plate, plate, np.repeat(np.eye(3)[None], 3, axis=0), places, DEPTH)
    assert found.tolist() == [[1, 0, 0]]


def test_what_lies_beyond_one_side_stays_clear() -> None:
    plate = blocks((Solid(Pose(), shapely.box(0.0, 0.0, 100.0, 50.0), 5.0),))
    corners = plate.corners[0]
    assert stays_clear(plate, 0, to_outer(Pose(np.eye(3), np.array([0.0, 0.0, 5.0])), corners), DEPTH)
    assert not stays_clear(plate, 0, to_outer(Pose(np.eye(3), np.array([50.0, 0.0, 2.0])), corners), DEPTH)
