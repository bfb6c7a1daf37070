"""Points that stand out from all others: the planted ones and no others; the limit against scipy's F distribution."""

import numpy as np
import pytest
from scipy.stats import f

from fabplan.geom.laid_over import CHANCE, standing_out
from fabplan.model.arrays import FloatArray

WITHIN = 0.3


def bracket(n: int) -> FloatArray:
    """Two lines of holes, mm."""
    return np.column_stack([np.linspace(0.0, 300.0, n), np.arange(n) % 2 * 60.0])


@pytest.mark.parametrize("n", [5, 8, 14, 60])
def test_a_planted_point_is_found_and_it_alone(n: int) -> None:
    """Others off by some 0.1 mm, within 0.3; one by 10 mm in any direction."""
    rng = np.random.default_rng(n)
    for k in range(n):
        own = bracket(n) + rng.normal(0.0, 0.1, (n, 2))
        own[k] += 10.0 * np.array([np.cos(k), np.sin(k)])
        assert np.flatnonzero(standing_out(own, bracket(n), np.full(n, WITHIN))).tolist() == [k]


def test_two_planted_points_are_found() -> None:
    """A least squares fit over all hides them: they pull it the same way."""
    own = bracket(14) + np.random.default_rng(1).normal(0.0, 0.1, (14, 2))
    own[[2, 9]] += [[6.0, 0.0], [0.0, -8.0]]
    assert np.flatnonzero(standing_out(own, bracket(14), np.full(14, WITHIN))).tolist() == [2, 9]


@pytest.mark.parametrize("n", [3, 4, 5, 8, 14, 60])
def test_points_that_all_stray_alike_stand_out_from_none(n: int) -> None:
    """By 1 mm in each direction, three times their accuracy: at 1 in 1000, over 2 of 200 patterns would be odd."""
    rng = np.random.default_rng(n)
    named = [
        standing_out(bracket(n) + rng.normal(0.0, 1.0, (n, 2)), bracket(n), np.full(n, WITHIN)).any()
        for _ in range(200)
    ]
    assert sum(named) <= 2


def test_the_limit_is_that_of_the_f_distribution() -> None:
    """Ten points of a ring are off by 0.5 mm outwards, so that a turn and a shift take away none of it.

    One more, in their middle, is off by so much that scipy's F with 2 and 17 degrees gives it the chance, or nearly.
    """
    angle = np.arange(10) * np.pi / 5.0
    ring = 100.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    fixed, ten = np.vstack([ring, [0.0, 0.0]]), ring * 1.005
    limit = np.sqrt(2.0 * f.isf(CHANCE / 11, 2, 17) * 10 * 0.5**2 / 17)
    for share, out in ((0.999, False), (1.001, True)):
        own = np.vstack([ten, [share * limit, 0.0]])
        assert standing_out(own, fixed, np.full(11, 0.1))[10] == out
