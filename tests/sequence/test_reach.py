"""The hull of a body, held against scipy; the order of driving."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.spatial import ConvexHull

from fabplan.geom.hull import hull_planes, outside
from fabplan.sequence.driving import driving_order, likes


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


@pytest.mark.parametrize("setting", ["middle outwards", "back-step", "end to end", "alternate then fill"])
@pytest.mark.parametrize("count", range(1, 12))
def test_every_rivet_is_driven_once(setting: str, count: int) -> None:
    rivets = np.arange(100, 100 + count)
    assert sorted(driving_order(rivets, setting).tolist()) == rivets.tolist()


@pytest.mark.parametrize("count", [12, 13, 40])
def test_back_steps_go_outwards_stretch_by_stretch_and_inwards_in_each(count: int) -> None:
    """Common practice: no stretch begins before the one nearer the middle is driven; within it, outer rivets first."""
    order = driving_order(np.arange(count), "back-step")
    off = np.abs(order - (count // 2 - 0.5))
    for side in (order >= count // 2, order < count // 2):
        stretches = [off[side][k : k + 6] for k in range(0, int(side.sum()), 6)]
        assert all((np.diff(one) < 0.0).all() for one in stretches)
        assert all(one.max() < other.min() for one, other in pairwise(stretches))


def test_seams_of_both_hands_are_driven_in_turn() -> None:
    """Two rows mirrored about y = 0, one along y = 0 itself, one with another pitch."""
    x = np.arange(0.0, 400.0, 40.0)
    rows = [np.column_stack([x, np.full(len(x), y), np.zeros(len(x))]) for y in (-200.0, 0.0, 200.0)]
    odd = np.column_stack([x[:-1] * 1.1, np.full(len(x) - 1, 100.0), np.zeros(len(x) - 1)])
    assert likes([*rows, odd], np.zeros(3)) == [2, -1, 0, -1]
