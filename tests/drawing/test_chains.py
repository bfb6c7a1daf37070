"""Chaining, doubled and crossing lines, held against shapely's polygonize, unary_union and crosses."""

import math
from random import Random
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.drawing.chains import Chained, chain
from fabplan.drawing.pieces import Piece
from fabplan.drawing.spans import Span, without_doubles
from fabplan.geom.crossing import crossings
from fabplan.geom.profile import area
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile


def line(start: tuple[float, float], end: tuple[float, float], handle: str = "1") -> Piece:
    return Piece(handle, "LINE", "CUT", np.array([start, end]), np.zeros(2))


def faults(result: Chained) -> dict[str, int]:
    """How many of each fault there are, those that there are."""
    found = {name: len(getattr(result, name)) for name in ("doubled", "zero", "stray", "gaps", "tangles")}
    return {name: count for name, count in found.items() if count}


def lines_of(corners: FloatArray, first: int = 0) -> list[Piece]:
    ends = np.roll(corners, -1, axis=0)
    return [
        line(tuple(a), tuple(b), str(first + k))
        for k, (a, b) in enumerate(zip(corners.tolist(), ends.tolist(), strict=True))
    ]


@st.composite
def rings(draw: st.DrawFn) -> list[FloatArray]:
    """Star-shaped rings side by side, that do not touch."""
    found = []
    for number in range(draw(st.integers(1, 6))):
        count = draw(st.integers(3, 9))
        radii = np.array(draw(st.lists(st.floats(5.0, 40.0), min_size=count, max_size=count)))
        turn = np.arange(count) * math.tau / count
        found.append(np.column_stack([np.cos(turn), np.sin(turn)]) * radii[:, None] + [100.0 * number, 0.0])
    return found


@settings(max_examples=40, deadline=None)
@given(rings(), st.randoms(use_true_random=False), st.floats(0.0, math.tau))
def test_shuffled_lines_close_to_the_faces_of_polygonize(found: list[FloatArray], random: Random, turn: float) -> None:
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    pieces = [piece for number, ring in enumerate(found) for piece in lines_of(ring @ spin, 100 * number)]
    random.shuffle(pieces)
    flip = [k % 2 == 0 for k in range(len(pieces))]
    pieces = [
        line(tuple(p.points[1]), tuple(p.points[0]), p.handle) if f else p for p, f in zip(pieces, flip, strict=True)
    ]
    result = chain(pieces, 1.0)
    faces = shapely.polygonize([shapely.LineString(piece.points) for piece in pieces]).geoms
    assert sorted(abs(area(loop)) for loop in result.loops) == pytest.approx(
        sorted(face.area for face in faces), rel=1e-9
    )
    assert faults(result) == {}


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 30), st.integers(1, 12)), min_size=1, max_size=8), st.floats(0.0, math.tau))
def test_lines_over_one_another_are_kept_once(stretches: list[tuple[int, int]], turn: float) -> None:
    """Judge: the length of shapely's union of the lines."""
    along = np.array([math.cos(turn), math.sin(turn)])
    spans = [
        Span(tuple(along * low), tuple(along * (low + long)), 0.0, 0.0, str(k))
        for k, (low, long) in enumerate(stretches)
    ]
    kept, doubled = without_doubles(spans)
    flat = [shapely.LineString([(low, 0), (low + long, 0)]) for low, long in stretches]
    truth = shapely.union_all(flat).length
    assert abs(sum(span.length for span in kept) - truth) < 1e-6
    assert bool(doubled) == (sum(one.length for one in flat) - truth > 1e-9)


def arc(first: float, last: float, handle: str) -> Piece:
    a, b = math.radians(first), math.radians(last)
    points = [(50.0 * math.cos(t), 50.0 * math.sin(t)) for t in (a, b)]
    return Piece(handle, "ARC", "CUT", np.array(points), np.array([math.tan((b - a) / 4.0), 0.0]))


def test_arcs_over_one_another_close_all_the_same() -> None:
    result = chain([arc(0, 150, "1"), arc(100, 260, "2"), arc(250, 360, "3")], 1.0)
    (loop,) = result.loops
    assert abs(area(loop) - math.pi * 2500.0) < 1e-6
    doubled = [span.length for pairs in result.doubled for span, _ in pairs]
    assert np.allclose(sorted(doubled), [50.0 * math.radians(10), 50.0 * math.radians(50)])
    assert faults(result) == {"doubled": 2}


def test_two_half_arcs_of_one_circle_are_no_double() -> None:
    result = chain([arc(0, 180, "1"), arc(180, 360, "2")], 1.0)
    assert (len(result.loops), faults(result)) == (1, {})


def test_a_gap_of_a_hundredth_closes_and_a_larger_one_is_told_where_it_is() -> None:
    """JOIN is 0.01 mm: at the limit it closes, over it it does not."""
    for gap, closes in ((0.0099, True), (0.0101, False), (3.0, False)):
        pieces = lines_of(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]]))[:3]
        result = chain([*pieces, line((0.0, 50.0), (0.0, gap))], 1.0)
        assert (len(result.loops) == 1) == closes
        if not closes:
            (found,) = result.gaps
            assert found.at == (0.0, gap / 2.0)
            assert abs(found.width - gap) < 1e-12
            assert len(found.beside) == 2


def test_a_profile_open_in_two_places_has_two_gaps() -> None:
    ends = [
        ((0.3, 0.0), (100.0, 0.0)),
        ((100.0, 0.0), (100.0, 50.0)),
        ((99.0, 50.0), (0.0, 50.0)),
        ((0.0, 50.0), (0.0, 0.0)),
    ]
    result = chain([line(a, b, str(k)) for k, (a, b) in enumerate(ends)], 1.0)
    assert sorted(round(gap.width, 6) for gap in result.gaps) == [0.3, 1.0]
    assert (len(result.loops), faults(result)) == (0, {"gaps": 2})


def test_a_tail_at_a_corner_is_stray_and_the_profile_closes() -> None:
    ring = lines_of(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]]))
    result = chain([*ring, line((100.0, 50.0), (120.0, 60.0), "8"), line((120.0, 60.0), (130.0, 60.0), "9")], 1.0)
    assert len(result.loops) == 1
    (run,) = result.stray
    assert sorted(span.handle for span in run) == ["8", "9"]
    assert faults(result) == {"stray": 1}


def test_corners_run_over_are_one_tangle() -> None:
    ends = [
        ((-5.0, 0.0), (105.0, 0.0)),
        ((100.0, -5.0), (100.0, 55.0)),
        ((105.0, 50.0), (-5.0, 50.0)),
        ((0.0, 55.0), (0.0, -5.0)),
    ]
    result = chain([line(a, b, str(k)) for k, (a, b) in enumerate(ends)], 1.0)
    assert (len(result.loops), faults(result)) == (0, {"tangles": 1})


def test_a_chord_from_corner_to_corner_is_one_tangle() -> None:
    ring = lines_of(np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 50.0], [0.0, 50.0]]))
    result = chain([*ring, line((0.0, 0.0), (100.0, 50.0), "9")], 1.0)
    assert (len(result.loops), faults(result)) == (0, {"tangles": 1})


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 60), st.integers(0, 60)), min_size=4, max_size=9, unique=True), st.floats(0, 6)
)
def test_self_crossing_against_shapely(corners: list[tuple[int, int]], turn: float) -> None:
    """Judge: shapely's is_simple on the drawn corners. They lie on a grid, so that a touch is an exact touch."""
    ring = shapely.LinearRing(corners)
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    profile = Profile(np.array(corners, dtype=np.float64) @ spin, np.zeros(len(corners)))
    places, owners = crossings([profile])
    assert (len(places) > 0) == (not ring.is_simple)
    assert owners.tolist() == [[0, 0]] * len(places)


@settings(max_examples=60, deadline=None)
@given(st.floats(-40, 40), st.floats(-40, 40), st.floats(0.0, 6.0), st.floats(5.0, 15.0))
def test_two_profiles_against_shapely(x: float, y: float, turn: float, size: float) -> None:
    """Judge: shapely's distance between the boundaries; within a hundredth of a millimetre they touch."""
    spin = np.array([[math.cos(turn), math.sin(turn)], [-math.sin(turn), math.cos(turn)]])
    base = np.array([[-20.0, -20.0], [20.0, -20.0], [20.0, 20.0], [-20.0, 20.0]])
    other = np.array([[-size, -size], [size, -size], [0.0, size]]) + np.array([x, y])
    apart = shapely.LinearRing(base).distance(shapely.LinearRing(other))
    places, _ = crossings([Profile(base @ spin, np.zeros(4)), Profile(other @ spin, np.zeros(3))])
    if not 0.009 < apart < 0.011:
        assert (len(places) > 0) == (apart <= 0.01)


def test_nothing_to_chain() -> None:
    result = chain([], 1.0)
    assert (result.loops, result.unclosed()) == ([], [])


ends = st.tuples(st.integers(0, 12), st.integers(0, 4))


@settings(max_examples=200, deadline=None)
@given(
    st.lists(st.tuples(ends, ends, st.sampled_from([0.0, 0.0, 0.0, 1.0, -1.0, 0.4, 3e-4])), max_size=12),
    st.sampled_from([0.004, 0.0099, 0.0101, 3.0]),
)
def test_spans_that_are_plainly_apart_are_no_doubles(drawn: list[tuple[Any, Any, float]], step: float) -> None:
    """The outcome is that of comparing every pair, on grids from under to far over the join."""
    spans = [
        Span((a[0] * step, a[1] * step), (b[0] * step, b[1] * step), bulge, 0.0, str(k))
        for k, (a, b, bulge) in enumerate(drawn)
        if math.dist(a, b) * step > JOIN
    ]
    with pytest.MonkeyPatch.context() as patch:
        number = len(spans)
        patch.setattr("fabplan.drawing.spans._near_pairs", lambda *_: np.stack(np.triu_indices(number, 1), axis=1))
        every = without_doubles(spans)
    assert without_doubles(spans) == every


@pytest.mark.parametrize(("shift", "twin"), [(0.05, True), (0.3, False)])
def test_an_outline_drawn_twice_a_little_apart_is_one(shift: float, twin: bool) -> None:
    """Two cuts nearer than a kerf are one, told as drawn twice; further apart they cross, which is told elsewhere."""
    corners = np.array([[0.0, 0.0], [400.0, 0.0], [400.0, 90.0], [360.0, 120.0], [0.0, 120.0]])
    found = chain([*lines_of(corners), *lines_of(corners + shift, 10)], 1.0)
    assert (len(found.loops), len(found.doubled)) == ((1, 1) if twin else (2, 0))


@pytest.mark.parametrize("turn", [(-1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)])
def test_a_mirrored_outline_is_no_twin(turn: tuple[float, float]) -> None:
    """Of the same box, length and area, but another line."""
    corners = np.array([[0.0, 0.0], [80.0, 0.0], [0.0, 80.0]]) - 40.0
    found = chain([*lines_of(corners + 500.0), *lines_of(corners * turn + 500.03, 10)], 1.0)
    assert (len(found.loops), len(found.doubled)) == (2, 0)
