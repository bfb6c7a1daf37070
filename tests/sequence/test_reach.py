"""The hull of a body, held against scipy; the order of driving."""

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from fabplan.geom.hull import hull_planes, outside
from fabplan.sequence.driving import driving_order


def test_planes_round_a_body_against_scipy() -> None:
    """All points of a rounded body inside; what lies 2 mm off scipy's own hull of them outside; few planes."""
    turn = 2.0 * np.pi * np.arange(600) / 600
    rings = [
        np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full(600, z)])
        for r, z in ((500.0, 0.0), (500.0, 300.0), (380.0, 306.0))
    ]
    points = np.vstack(rings)
    planes, exact = hull_planes(points), ConvexHull(points).equations
    assert not outside(planes, points).any()
    rng = np.random.default_rng(5)
    tried = rng.uniform([-600.0, -600.0, -100.0], [600.0, 600.0, 400.0], (5000, 3))
    off = (tried @ exact[:, :3].T + exact[:, 3]).max(axis=1)
    assert not outside(planes, tried[off <= 0.0]).any()
    assert outside(planes, tried[off > 2.0]).all()
    assert len(planes) < 200 < len(np.unique(np.round(exact, 6), axis=0))


def test_planes_round_a_sheet_without_thickness_are_its_box() -> None:
    planes = hull_planes(np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 5.0, 0.0], [10.0, 5.0, 0.0]]))
    tried = np.array([[5.0, 2.0, 0.0], [5.0, 2.0, 1.0], [5.0, 2.0, -1.0], [11.0, 2.0, 0.0]])
    assert outside(planes, tried).tolist() == [False, True, True, True]


@pytest.mark.parametrize("setting", ["middle outwards", "end to end", "skip"])
@pytest.mark.parametrize("count", range(1, 12))
def test_every_rivet_is_driven_once(setting: str, count: int) -> None:
    rivets = np.arange(100, 100 + count)
    assert sorted(driving_order(rivets, setting).tolist()) == rivets.tolist()
