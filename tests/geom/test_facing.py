"""Narrow slots and necks, boxes and open lines, held against shapely and a published formula."""

import numpy as np
import shapely
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from fabplan.geom.boxes import least_over, turned_boxes
from fabplan.geom.facing import narrows
from fabplan.geom.profile import chorded, circle, flattened, reversed_profile, spans
from fabplan.geom.segments import line_distance, meets
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.profile import Profile

boxes = st.lists(
    st.tuples(st.integers(0, 30), st.integers(0, 30), st.integers(2, 20), st.integers(2, 20)), min_size=2, max_size=6
)


def spun(points: FloatArray, turn: float) -> FloatArray:
    turned: FloatArray = points @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return turned


def corners_near(points: FloatArray, limit: float, *, askew: bool) -> bool:
    """True where two corners that turn the same way are nearer than the limit; if askew, beside no other."""
    into, out = points - np.roll(points, 1, axis=0), np.roll(points, -1, axis=0) - points
    turn = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0] > 0.0
    away = points[:, None] - points[None]
    near = (np.linalg.norm(away, axis=2) < limit) & ~np.eye(len(points), dtype=np.bool_)
    return bool(np.any(near & (turn[:, None] == turn[None]) & (not askew or np.all(np.abs(away) > 0.0, axis=2))))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(boxes, st.integers(3, 9), st.floats(0.0, 6.2))
def test_narrow_places_of_stepped_openings_against_shapely(
    corners: list[tuple[int, int, int, int]], limit: int, turn: float
) -> None:
    """Judge: shapely; an opening drawn in and out again by half the limit, corners kept, is itself or was narrow."""
    opening = shapely.unary_union([shapely.box(x, y, x + dx, y + dy) for x, y, dx, dy in corners])
    assume(isinstance(opening, shapely.Polygon) and not opening.interiors)
    assert isinstance(opening, shapely.Polygon)
    ring = opening.simplify(0.0)
    assert isinstance(ring, shapely.Polygon)
    step = (limit - 0.5) / 2.0  # all widths are whole numbers

    def kept(shape: BaseGeometry) -> bool:
        again = shape.buffer(-step, join_style="mitre", mitre_limit=9).buffer(step, join_style="mitre", mitre_limit=9)
        return bool(shape.symmetric_difference(again).area < 1e-3)

    # the judge's mitred corners move further than that
    assume(not corners_near(np.array(ring.exterior.coords)[:-1], limit - 0.5, askew=True))
    around = shapely.box(-100, -100, 200, 200).difference(ring)
    points = np.array(ring.exterior.coords)[:-1]
    cut = Profile(spun(points, turn), np.zeros(len(points)))
    cut = cut if not shapely.LinearRing(cut.vertices).is_ccw else reversed_profile(cut)
    found = narrows([cut], float(limit))
    narrow = found.width < limit - 0.5
    # two openings that meet between two corners are kept by the judge, and narrow there all the same
    told = bool((narrow & found.void).any())
    assert told == (not kept(ring)) or (told and corners_near(points, limit - 0.5, askew=False))
    assert bool((narrow & ~found.void).any()) == (not kept(around))


def test_the_width_is_exact_and_told_where_it_is() -> None:
    slot = Profile(np.array([[0.0, 0.0], [0.0, 6.0], [60.0, 6.0], [60.0, 0.0]]), np.zeros(4))
    (width,), (place,) = narrows([slot], 6.0).width, narrows([slot], 6.0).place
    assert width == 6.0
    assert place[1] == 3.0
    assert len(narrows([slot], 5.9).width) == 0
    assert len(narrows([], 5.9).width) == 0


notch = st.tuples(st.floats(30.0, 70.0), st.floats(25.0, 75.0), st.floats(4.0, 20.0), st.floats(5.0, 54.0))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(notch, notch, st.floats(0.0, 6.2))
def test_necks_before_the_tips_of_notches_against_shapely(
    lower: tuple[float, float, float, float], upper: tuple[float, float, float, float], turn: float
) -> None:
    """Judge: shapely's distance between two notches cut from either side of a plate, and of each from the far side.

    A notch is a triangle: where its mouth is, where its tip, half its mouth, its depth. Gone round the other way, the
    same line is an opening into which two corners of metal reach: a narrow slot between them.
    """
    (x, tip, half, depth), (x2, tip2, half2, depth2) = lower, upper
    one = shapely.Polygon([(x - half, 0.0), (tip, depth), (x + half, 0.0)])
    other = shapely.Polygon([(x2 + half2, 60.0), (tip2, 60.0 - depth2), (x2 - half2, 60.0)])
    necks = [one.distance(other), 60.0 - depth, 60.0 - depth2]
    assume(min(necks) > 0.1)
    points = np.array(
        [(0.0, 0.0), *one.exterior.coords[:3], (100.0, 0.0), (100.0, 60.0), *other.exterior.coords[:3], (0.0, 60.0)]
    )
    plate = Profile(spun(points, turn), np.zeros(len(points)))
    for limit in (5.0, 20.0):
        found, turned = narrows([plate], limit), narrows([reversed_profile(plate)], limit)
        metal, void = found.width[~found.void], turned.width[turned.void]
        assert np.allclose(metal.min(initial=limit), void.min(initial=limit), atol=1e-9)
        if min(necks) < limit - 0.01:
            assert abs(float(metal.min()) - min(necks)) < 1e-6
        else:
            assert not (metal < limit - 0.01).any()


def test_the_place_of_a_neck_before_a_tip_lies_halfway() -> None:
    points = np.array([(0.0, 0.0), (40.0, 0.0), (50.0, 37.0), (60.0, 0.0), (100.0, 0.0), (100.0, 40.0), (0.0, 40.0)])
    found = narrows([Profile(points, np.zeros(7))], 6.0)
    assert found.width.tolist() == [3.0]
    assert found.place.tolist() == [[50.0, 38.5]]
    assert found.void.tolist() == [False]


def test_a_curved_slot_is_as_wide_as_its_arcs_are_apart() -> None:
    """Two quarter arcs about one centre, 100 and 104 mm: 4 mm apart, but for the chords that stand in for them."""
    quarter = float(np.tan(np.pi / 8.0))
    banana = Profile(
        np.array([[100.0, 0.0], [0.0, 100.0], [0.0, 104.0], [104.0, 0.0]]), np.array([quarter, 0.0, -quarter, 0.0])
    )
    found = narrows([circle((500.0, 0.0), 40.0), banana], 6.0)
    assert set(found.owner.tolist()) == {1}
    assert set(found.void.tolist()) == {True}
    assert abs(found.width.min() - 4.0) <= 2.0 * SAGITTA
    assert (found.width + found.slack).min() >= 4.0 - 1e-9
    (worst,) = found.worst_of_each(np.arange(len(found.width))).tolist()
    assert found.width[worst] <= found.width.min() + 1e-6


def test_chords_are_counted_as_they_are_made() -> None:
    quarter = float(np.tan(np.pi / 8.0))
    mixed = Profile(np.array([[0.0, 0.0], [50.0, 0.0], [60.0, 10.0], [0.0, 40.0]]), np.array([0.0, quarter, 0.0, 0.2]))
    assert chorded(*spans(mixed), SAGITTA)[1].sum() == len(flattened(mixed, SAGITTA))
    assert chorded(*spans(mixed), SAGITTA)[1][[0, 2]].tolist() == [1, 1]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-50, 50), st.floats(-50, 50)), min_size=2, max_size=5), st.floats(-60, 60))
def test_open_lines_against_shapely(corners: list[tuple[float, float]], x: float) -> None:
    line = np.array(corners)
    assume(np.hypot(*np.diff(line, axis=0).T).min() > 0.1)
    points = np.array([[x, 3.0], [0.0, x], [x, -x]])
    judge = shapely.LineString(line)
    assert np.allclose(line_distance(points, line), [judge.distance(shapely.Point(point)) for point in points])
    ring = circle((x, 0.0), 12.0)
    disc = shapely.Polygon(flattened(ring, SAGITTA))
    if abs(judge.distance(disc)) > 0.02 or judge.intersects(disc.buffer(-0.02)):
        assert meets(ring, line) == judge.intersects(disc)


def test_a_place_that_is_no_number_is_no_distance() -> None:
    assert np.isnan(line_distance(np.array([[np.nan, 0.0]]), np.array([[0.0, 0.0], [1.0, 0.0]]))).all()


@settings(max_examples=80, deadline=None)
@given(st.floats(1.01, 1.3), st.floats(0.02, 0.25), st.floats(20, 300), st.floats(0, 6.2))
def test_a_rectangle_in_a_rectangle_by_the_published_condition(
    longer: float, slender: float, a: float, turn: float
) -> None:
    """J. E. Wetzel, Rectangles in Rectangles, Mathematics Magazine 73 (2000) 204-211 (from memory).

    A piece p x q, p over a, goes into a x b if b >= (2 p q a + (p2 - q2) sqrt(p2 + q2 - a2)) / (p2 + q2).
    """
    p, q = a * longer, a * slender
    least = (2.0 * p * q * a + (p * p - q * q) * np.sqrt(p * p + q * q - a * a)) / (p * p + q * q)
    assume(least < a)
    piece = spun(np.array([[0.0, 0.0], [p, 0.0], [p, q], [0.0, q]]), turn)
    for b, fits in ((least * 0.99, False), (least * 1.01, True)):
        long, short = least_over(piece, (a * 1.005 if fits else a * 0.995, b))
        assert (long <= a * 1.005 and short <= b) == fits


def test_boxes_of_a_round_piece_with_very_many_corners() -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 50_000, endpoint=False)
    sizes = turned_boxes(1000.0 * np.column_stack([np.cos(turn), np.sin(turn)]))
    assert np.allclose(sizes, 2000.0, atol=0.01)
