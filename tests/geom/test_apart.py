"""Distances of prisms: by hand for boxes, against scipy's least squares over convex hulls in any pose."""

import numpy as np
import pytest
from scipy.optimize import nnls
from scipy.spatial.transform import Rotation

from fabplan.geom.apart import apart
from fabplan.geom.prism import Solid, solid
from fabplan.geom.profile import rectangle
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose


def box(size: tuple[float, float, float], pose: Pose) -> Solid:
    return solid(Panel("flat", rectangle(0.0, 0.0, size[0], size[1]), size[2]), pose)


@pytest.mark.parametrize(
    ("origin", "gap"),
    [((100.0, 0.0, 0.0), 0.0), ((103.0, 54.0, 0.0), 5.0), ((50.0, 20.0, 17.0), 7.0), ((50.0, 20.0, 5.0), 0.0)],
)
def test_upright_boxes_by_hand(origin: tuple[float, float, float], gap: float) -> None:
    """100 x 50 x 10 each: side by side; 3 and 4 mm off a corner; 17 - 10 mm over; one within the other."""
    moved = box((100.0, 50.0, 10.0), Pose(origin=np.array(origin)))
    assert apart(box((100.0, 50.0, 10.0), Pose()), moved) == pytest.approx(gap, abs=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_turned_boxes_against_scipy(seed: int) -> None:
    """The least of |x - y| over convex combinations of the corners of both: least squares with shares of 0 or more."""
    rng = np.random.default_rng(seed)
    turn = Rotation.random(random_state=seed).as_matrix()
    one = box((60.0, 40.0, 8.0), Pose())
    two = box((50.0, 30.0, 6.0), Pose(turn, rng.uniform(40.0, 110.0, 3)))
    sums = 1e5 * np.kron(np.eye(2), np.ones(8))  # the shares of either add up to 1
    system = np.vstack([np.column_stack([one.corners.T, -two.corners.T]), sums])
    share, _ = nnls(system, np.array([0.0, 0.0, 0.0, 1e5, 1e5]))
    assert apart(one, two) == pytest.approx(float(np.linalg.norm(system[:3] @ share)), abs=1e-3)
