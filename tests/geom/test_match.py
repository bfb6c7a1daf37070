"""Laying rows over one another, against all pairs of holes tried by brute force."""

import numpy as np
import pytest

from fabplan.geom.match import lay_over, mates, near
from fabplan.model.arrays import FloatArray


def brute_force(moving: FloatArray, fixed: FloatArray, reach: float) -> int:
    """The greatest count of holes that any turn and shift brings together, from every pair laid on every pair."""
    best = 0
    for i in range(len(moving)):
        for j in range(len(moving)):
            for k in range(len(fixed)):
                for m in range(len(fixed)):
                    here, there = moving[j] - moving[i], fixed[m] - fixed[k]
                    if i == j or k == m or abs(np.hypot(*here) - np.hypot(*there)) > reach:
                        continue
                    angle = np.arctan2(there[1], there[0]) - np.arctan2(here[1], here[0])
                    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
                    placed = (moving - moving[i]) @ turn.T + fixed[k]
                    near = np.linalg.norm(placed[:, None] - fixed[None], axis=2) <= reach
                    best = max(best, int(near.any(axis=0).sum()))
    return best


def pattern(rng: np.random.Generator, count: int) -> FloatArray:
    """A row with unlike spaces, slightly bent."""
    along = np.cumsum(rng.choice([30.0, 36.0, 40.0, 44.0], count))
    return np.column_stack([along, rng.uniform(-3.0, 3.0, count)])


def moved(points: FloatArray, rng: np.random.Generator) -> FloatArray:
    angle = rng.uniform(0.0, 2.0 * np.pi)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(points @ turn.T + rng.uniform(-500.0, 500.0, 2))


@pytest.mark.parametrize("seed", range(12))
def test_the_best_lie_brings_as_many_holes_together_as_brute_force(seed: int) -> None:
    rng = np.random.default_rng(seed)
    row = pattern(rng, 8)
    fixed = moved(np.delete(row, rng.integers(8), axis=0) if seed % 2 else row, rng)
    lies = lay_over(row, fixed, 1.0, 0.5)
    turn, shift, together = lies[0]
    assert together == brute_force(row, fixed, 1.0)
    placed = row @ turn.T + shift
    assert np.linalg.norm(placed[:, None] - fixed[None], axis=2).min(axis=0).max() < 1e-6
    assert np.linalg.det(turn) == pytest.approx(1.0)


def test_a_row_of_like_spaces_lies_two_ways_in_full() -> None:
    row = np.column_stack([40.0 * np.arange(7), np.zeros(7)])
    counts = [together for _, _, together in lay_over(row, row, 1.0, 0.9)]
    assert counts == [7, 7]


def test_a_ring_lies_as_many_ways_as_it_has_holes() -> None:
    turn = 2.0 * np.pi * np.arange(12) / 12
    ring = 100.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    assert [together for _, _, together in lay_over(ring, ring, 1.0, 0.9)] == [12] * 12


def test_no_mirror_is_tried() -> None:
    bent = np.array([[0.0, 0.0], [40.0, 0.0], [80.0, 0.0], [80.0, 50.0], [80.0, 120.0]])
    assert lay_over(bent * [-1.0, 1.0], bent, 1.0, 0.9) == []


def test_one_strayed_hole_does_not_drag_the_others() -> None:
    row = np.column_stack([40.0 * np.arange(9), np.zeros(9)])
    strayed = row.copy()
    strayed[4] += [0.0, 0.9]
    turn, shift, _ = lay_over(strayed, row, 1.0, 0.9)[0]
    placed = strayed @ turn.T + shift
    assert np.delete(np.linalg.norm(placed - row, axis=1), 4).max() < 0.05


@pytest.mark.parametrize("seed", range(6))
def test_mates_are_nearest_to_one_another(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points, others = rng.uniform(0.0, 30.0, (25, 2)), rng.uniform(0.0, 30.0, (20, 2))
    expected = []
    for i, point in enumerate(points):
        distance = [float(np.hypot(*(point - other))) for other in others]
        j = int(np.argmin(distance))
        back = [float(np.hypot(*(others[j] - other))) for other in points]
        if int(np.argmin(back)) == i and distance[j] <= 3.0:
            expected.append((i, j))
    own, other = mates(points, others, 3.0)
    assert list(zip(own.tolist(), other.tolist(), strict=True)) == expected
    assert len(mates(points[:0], others, 3.0)[0]) == 0


@pytest.mark.parametrize("dimension", [2, 3])
def test_points_near_fixed_ones_are_those_of_a_double_loop(dimension: int) -> None:
    """Heaps of nine on one spot too: more than are looked for at first."""
    rng = np.random.default_rng(5)
    fixed = np.vstack([rng.uniform(0.0, 20.0, (60, dimension)), np.full((9, dimension), 7.0)])
    points = np.vstack([rng.uniform(0.0, 20.0, (80, dimension)), np.full((2, dimension), 7.5)])
    reach = 1.5
    loop = {
        (i, k) for i, point in enumerate(points) for k, one in enumerate(fixed) if np.linalg.norm(point - one) <= reach
    }
    found = list(zip(*(index.tolist() for index in near(fixed, points, reach)), strict=True))
    assert len(loop) > 20
    assert set(found) == loop
    assert len(found) == len(loop)


def test_a_part_of_a_pattern_is_found_in_the_whole_whichever_of_them_moves() -> None:
    """Three of seven holes in zigzag, 40 mm on and 24 mm across: one point up or down, five such threes in a row.

    A larger pattern that is laid on a smaller one has pairs further apart than any of it.
    """
    across = np.arange(7)
    whole = np.column_stack([40.0 * across, 24.0 * (across % 2)])
    part = whole[:3] + 300.0
    for moving, fixed in ((part, whole), (whole, part)):
        lies = lay_over(moving, fixed, 1.0, 3.0 / 7.0 - 1e-9)
        assert [count for *_, count in lies] == [3] * 5
        for turn, shift, _ in lies:
            apart = np.linalg.norm((moving @ turn.T + shift)[:, None] - fixed[None], axis=2)
            assert int((apart.min(axis=0) < 1e-6).sum()) == 3
            assert np.linalg.det(turn) == pytest.approx(1.0)
