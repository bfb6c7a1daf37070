"""Lines of rows: patterns whose lines are known, in four turns and any order of holes; the tree against scipy."""

import numpy as np
import pytest
from scipy.sparse.csgraph import minimum_spanning_tree
from scipy.spatial.distance import cdist

from fabplan.geom.lines import runs_of, shortest_tree
from fabplan.model.arrays import FloatArray


def block(count: int, pitch: float, lines: int = 1, apart: float = 0.0, shift: float = 0.0) -> FloatArray:
    return np.array([[i * pitch + shift * (j % 2), j * apart] for j in range(lines) for i in range(count)], dtype=float)


def moved(count: int, x: float, y: float) -> FloatArray:
    return np.add(block(count, 40.0), [x, y])


def around(width: int, height: int) -> FloatArray:
    """Holes round a rectangle, 40 mm apart."""
    side = [(x, 0) for x in range(width)] + [(width, y) for y in range(height)]
    side += [(x, height) for x in range(width, 0, -1)] + [(0, y) for y in range(height, 0, -1)]
    return np.array(side, dtype=float) * 40.0


def arc(count: int, share: float) -> FloatArray:
    angle = np.linspace(0.0, 2.0 * np.pi * share, count, endpoint=False)
    return 300.0 * np.column_stack([np.cos(angle), np.sin(angle)])


# pattern: holes, holes of each line, straight, closed, steps along its lines in mm
PATTERNS = {
    "one line": (block(20, 40.0), [20], True, False, [40.0]),
    "chain": (block(20, 40.0, 2, 30.0), [20, 20], True, False, [40.0]),
    "chain wider than its pitch": (block(20, 30.0, 2, 50.0), [20, 20], True, False, [30.0]),
    "zigzag": (block(20, 40.0, 2, 22.0, 20.0), [20, 20], True, False, [40.0]),
    "three lines": (block(12, 40.0, 3, 22.0, 20.0), [12, 12, 12], True, False, [40.0]),
    "half the rivets": (np.vstack([block(10, 80.0), moved(20, 0.0, 30.0)]), [10, 20], True, False, [40.0, 80.0]),
    "gap": (np.vstack([block(5, 40.0), moved(5, 500.0, 0.0)]), [10], True, False, [40.0, 340.0]),
    "ring": (arc(24, 1.0), [24], False, True, [78.3]),  # 2 x 300 sin 7.5
    "arc": (arc(9, 0.4), [9], False, False, [83.5]),  # 2 x 300 sin 8
    "round a rectangle": (around(10, 5), [30], False, True, [40.0]),
    "round a square of eight": (around(2, 2), [8], False, True, [40.0]),
    "four at a square": (block(2, 40.0, 2, 40.0), [4], False, True, [40.0]),
    "a line of few": (
        np.vstack([block(16, 40.0), [[0, 30], [300, 30], [600, 30]]]),
        [3, 16],
        True,
        False,
        [40.0, 300.0],
    ),
    "three sides": (around(10, 5)[:26], [26], False, False, [40.0]),
    "two sides": (around(10, 5)[:15], [15], False, False, [40.0]),
}


@pytest.mark.parametrize("name", PATTERNS)
@pytest.mark.parametrize("degrees", [0.0, 37.0, 90.0, 211.0])
def test_known_patterns_in_any_turn(name: str, degrees: float) -> None:
    xy, sizes, straight, closed, expected = PATTERNS[name]
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    shuffled = np.random.default_rng(7).permutation(len(xy))
    runs = runs_of((xy @ turn + [1000.0, -300.0])[shuffled])
    assert sorted(len(run.order) for run in runs) == sorted(sizes)
    assert all((run.straight, run.closed) == (straight, closed) for run in runs)
    assert sorted(np.concatenate([run.order for run in runs]).tolist()) == list(range(len(xy)))
    steps = np.concatenate([np.linalg.norm(np.diff(xy[shuffled][run.order], axis=0), axis=1) for run in runs])
    assert np.unique(steps.round(1)).tolist() == expected


def test_lines_side_by_side_come_in_order() -> None:
    runs = runs_of(block(6, 40.0, 3, 25.0))
    level = [round(float(block(6, 40.0, 3, 25.0)[run.order, 1].mean()), 6) for run in runs]
    assert level in ([0.0, 25.0, 50.0], [50.0, 25.0, 0.0])


@pytest.mark.parametrize("count", [0, 1, 2])
def test_few_holes(count: int) -> None:
    runs = runs_of(block(count, 40.0).reshape(-1, 2))
    assert [len(run.order) for run in runs] == ([count] if count else [])


def test_a_place_that_is_no_number_keeps_its_hole() -> None:
    xy = block(5, 40.0)
    xy[2, 0] = np.nan
    assert [len(run.order) for run in runs_of(xy)] == [5]


@pytest.mark.parametrize("seed", range(5))
def test_shortest_tree_against_scipy(seed: int) -> None:
    xy = np.random.default_rng(seed).uniform(0.0, 500.0, (60, 2))
    edges = shortest_tree(xy)
    length = np.linalg.norm(xy[edges[:, 0]] - xy[edges[:, 1]], axis=1).sum()
    assert len(edges) == 59
    assert length == pytest.approx(float(minimum_spanning_tree(cdist(xy, xy)).sum()))
