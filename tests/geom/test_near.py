"""Close pairs, meeting boxes, rectangles round points, held against scipy, shapely and plain loops."""

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from fabplan.geom.boxes import side_boxes, turned_boxes
from fabplan.geom.near import box_pairs, close_pairs, gathered, median
from fabplan.geom.profile import area, length, merged
from fabplan.model.profile import Profile

points = st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=0, max_size=40)


@settings(max_examples=60, deadline=None)
@given(points, st.floats(0.1, 60.0))
def test_close_pairs_against_a_tree(places: list[tuple[float, float]], limit: float) -> None:
    """Judge: scipy's cKDTree."""
    xy = np.array(places).reshape(-1, 2)
    pairs, apart = close_pairs(xy, limit)
    truth = {tuple(sorted(pair)) for pair in cKDTree(xy).query_pairs(limit)} if len(xy) else set()
    assert {tuple(pair) for pair in pairs.tolist()} == truth
    assert apart == pytest.approx(np.linalg.norm(xy[pairs[:, 0]] - xy[pairs[:, 1]], axis=1))
    assert pairs.tolist() == sorted(pairs.tolist())


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9)), min_size=1, max_size=40), st.floats(0.6, 3.4))
def test_points_that_hang_together_against_scipy(places: list[tuple[int, int]], reach: float) -> None:
    """Judge: scipy's connected components; sure are those of which all lie within reach of all."""
    assume(min(abs(reach - apart**0.5) for apart in range(13)) > 0.01)
    xy = np.array(places, dtype=np.float64)
    near = cKDTree(xy).sparse_distance_matrix(cKDTree(xy), reach, output_type="coo_matrix")
    ones = np.ones(len(near.row))
    _, heap = connected_components(coo_array((ones, (near.row, near.col)), shape=(len(xy), len(xy))))
    first, sure = gathered(xy, reach)
    for label in np.unique(heap).tolist():
        own = np.nonzero(heap == label)[0]
        assert set(first[own].tolist()) == {int(own[0])}
        wide = np.linalg.norm(xy[own][:, None] - xy[own][None], axis=2).max()
        assert set(sure[own].tolist()) == {bool(wide <= reach)}


def test_a_hull_of_any_number_of_corners_has_its_boxes_in_bounded_room() -> None:
    """A hundred thousand corners on a circle of 1000, and a square that stands out of it: its sides are the longest."""
    turn = np.arange(100_000) * 2.0 * np.pi / 100_000
    round_ = 1000.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    assert side_boxes(round_).shape == (2000, 2)
    assert side_boxes(round_) == pytest.approx(2000.0)
    square = np.array([[-1100.0, -1100.0], [1100.0, -1100.0], [1100.0, 1100.0], [-1100.0, 1100.0]])
    assert side_boxes(np.vstack([round_, square])) == pytest.approx(2200.0)
    assert turned_boxes(np.vstack([round_, square])).min() == pytest.approx(2200.0)


def test_a_pair_at_the_limit_is_close_wherever_it_lies() -> None:
    for shift in (0.0, 0.1, 1e3 + 1.0 / 3.0, 1e6 + 0.7):
        xy = np.array([[shift, 0.0], [shift + 30.0, 0.0]])
        limit = float(np.linalg.norm(xy[1] - xy[0]))
        assert len(close_pairs(xy, limit)[0]) == 1
        assert len(close_pairs(xy, limit - 1e-3)[0]) == 0


def test_a_place_that_is_no_number_is_named() -> None:
    with pytest.raises(ValueError, match="point 1 "):
        close_pairs(np.array([[0.0, 0.0], [np.nan, 0.0]]), 1.0)


@settings(max_examples=60, deadline=None)
@given(points, st.floats(0.0, 50.0), st.floats(0.0, 50.0))
def test_boxes_that_meet_against_shapely(places: list[tuple[float, float]], wide: float, high: float) -> None:
    low = np.array(places).reshape(-1, 2)
    boxes = shapely.box(low[:, 0], low[:, 1], low[:, 0] + wide, low[:, 1] + high)
    tree = shapely.STRtree(boxes)
    one, other = tree.query(boxes)
    truth = {(a, b) for a, b in zip(one.tolist(), other.tolist(), strict=True) if a < b}
    assert {tuple(pair) for pair in box_pairs(low, low + np.array([wide, high])).tolist()} == truth


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 50)), min_size=3, max_size=20, unique=True))
def test_the_smallest_rectangle_against_shapely(places: list[tuple[int, int]]) -> None:
    xy = np.array(places, dtype=np.float64)
    truth = shapely.oriented_envelope(shapely.MultiPoint(xy))
    assert side_boxes(xy).prod(axis=1).min() == pytest.approx(truth.area, rel=1e-6, abs=1e-6)


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=30))
def test_median_against_numpy(values: list[float]) -> None:
    assert median(np.array(values)) == pytest.approx(float(np.median(values)))
    assert np.isnan(median(np.array([*values, np.nan])))


def test_merging_takes_out_corners_that_are_none() -> None:
    """A slot of 60 x 30 with its straight sides cut in three and its round ends in two: four corners stay."""
    half = float(np.tan(np.pi / 8.0))
    slot = Profile(
        np.array(
            [[0, 0], [20, 0], [45, 0], [60, 0], [75, 15], [60, 30], [30, 30], [0, 30], [-15, 15]], dtype=np.float64
        ),
        np.array([0, 0, 0, half, half, 0, 0, half, half]),
    )
    less = merged(slot)
    assert len(less.vertices) == 4
    assert area(less) == pytest.approx(area(slot), rel=1e-12)
    assert length(less) == pytest.approx(length(slot), rel=1e-12)
    assert less.bulges[np.abs(less.bulges) > 0.5] == pytest.approx([1.0, 1.0])
