"""Blocks that run into one another, held against the cut by levels of `geom.prism`, whose areas are shapely's."""

import numpy as np
import shapely
from scipy.spatial.transform import Rotation

from fabplan.geom.blocks import blocks, meeting, stay_clear
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


def test_a_triangle_stays_clear_of_what_lies_beyond_its_long_side() -> None:
    """Legs of 100 mm: the long side lies 100 / sqrt 2 = 70.7 mm from the square corner, that of its block 141.4 mm.

    A square of 20 mm with two sides along the long side, its middle 99 and 77 mm from that corner, begins at 89 and at
    67 mm; a plate that is its own block is never told clear here.
    """
    triangle = blocks((Solid(Pose(), shapely.Polygon([(0.0, 0.0), (100.0, 0.0), (0.0, 100.0)]), 5.0),))
    square = blocks((Solid(Pose(), shapely.box(-10.0, -10.0, 10.0, 10.0), 5.0),))
    turn = Rotation.from_euler("z", -45.0, degrees=True).as_matrix()
    rotation = np.repeat(turn[None], 2, axis=0)  # of the triangle as the square sees it
    origin = np.array([turn @ [-along, -along, 0.0] for along in (70.0, 54.5)])
    first = np.zeros(2, dtype=np.int64)
    assert meeting(square, triangle, rotation, origin, DEPTH).tolist() == [[0, 0, 0], [1, 0, 0]]
    assert stay_clear(square, first, triangle, first, rotation, origin, DEPTH).tolist() == [True, False]
    back = np.array([[70.0, 70.0, 0.0], [54.5, 54.5, 0.0]])
    assert not stay_clear(triangle, first, square, first, rotation.transpose(0, 2, 1), back, DEPTH).any()
