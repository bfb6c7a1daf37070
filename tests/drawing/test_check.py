"""Holes against edges and one another, held against shapely; limits exact; numbers that do not depend on order."""

from itertools import pairwise
from pathlib import Path
from random import Random

import ezdxf.filemanagement
import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.drawing.check import check_drawing
from fabplan.drawing.read import read_drawing
from fabplan.geom.profile import circle, flattened, rectangle
from fabplan.geom.rows import along_row, found_rounds, found_rows, numbered, rows_shown
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.holes import Holes
from fabplan.model.job import Supplier
from fabplan.model.profile import Profile


def plate(xy: FloatArray, diameter: FloatArray, cutouts: tuple[Profile, ...] = ()) -> Drawing:
    count = len(xy)
    blank = ("",) * count
    numbers = tuple(str(k + 1) for k in range(count))
    holes = Holes(xy, diameter, blank, numbers, ("bolt",) * count, blank)
    return Drawing("plate.dxf", outline=rectangle(0.0, 0.0, 200.0, 100.0), cutouts=cutouts, holes=holes)


def named(drawing: Drawing, check: str, thickness: float | None = None, supplier: Supplier | None = None) -> set[str]:
    """Numbers of the holes that one check names."""
    found = check_drawing(drawing, supplier, thickness)
    return {hole for finding in found if finding.check == check for hole in finding.where.holes}


places = st.lists(st.tuples(st.floats(-20, 220), st.floats(-20, 120), st.floats(3, 30)), min_size=1, max_size=8)


@settings(max_examples=80, deadline=None)
@given(places)
def test_holes_outside_against_shapely(holes: list[tuple[float, float, float]]) -> None:
    """Judge: shapely, the hole's disc within the plate less its round opening."""
    table = np.array(holes)
    opening = circle((60.0, 50.0), 20.0)
    drawing = plate(table[:, :2], table[:, 2], (opening,))
    metal = shapely.Polygon(rectangle(0, 0, 200, 100).vertices, [flattened(opening, 1e-5)])
    outside = set()
    for number, (x, y, size) in enumerate(holes, start=1):
        margin = shapely.Point(x, y).distance(metal.boundary) - size / 2.0
        if abs(margin) < 1e-4:
            return
        if not (metal.contains(shapely.Point(x, y)) and margin > 0.0):
            outside.add(str(number))
    assert named(drawing, "hole-outside") == outside


@settings(max_examples=80, deadline=None)
@given(places)
def test_overlapping_holes_against_a_double_loop(holes: list[tuple[float, float, float]]) -> None:
    table = np.array(holes)
    pairs = {
        name
        for i in range(len(holes))
        for j in range(i)
        if np.hypot(*(table[i, :2] - table[j, :2])) <= (table[i, 2] + table[j, 2]) / 2.0
        for name in (str(i + 1), str(j + 1))
    }
    assert named(plate(table[:, :2], table[:, 2]), "holes-overlap") == pairs


def test_limits_are_exact() -> None:
    """A web, a hole at the limit passes; one nanometre and a bit under it does not."""
    web, hole = "thin-web", "small-hole"
    for below, fault in ((0.0, False), (2e-6, True)):
        near_edge = plate(np.array([[11.5 - below, 50.0]]), np.array([11.0]))
        assert bool(named(near_edge, web, 6.0)) == fault
        two = plate(np.array([[50.0, 50.0], [67.0 - below, 50.0]]), np.array([11.0, 11.0]))
        assert bool(named(two, web, 6.0)) == fault
        small = plate(np.array([[50.0, 50.0]]), np.array([6.0 - below]))
        assert bool(named(small, hole, 6.0)) == fault


def test_a_suppliers_own_limits_stand_and_are_named() -> None:
    drawing = plate(np.array([[50.0, 50.0]]), np.array([5.0]))
    supplier = Supplier("cutter", "2026-03-01", smallest_hole=(0.0, 0.8))
    assert named(drawing, "small-hole", 6.0) == {"1"}
    assert named(drawing, "small-hole", 6.0, supplier) == set()
    (finding,) = check_drawing(drawing, supplier, 7.0)
    assert (finding.check, round(finding.required or 0.0, 9), "cutter, 2026-03-01" in finding.source) == (
        "small-hole",
        5.6,
        True,
    )
    assert check_drawing(drawing, None, None) == ()


def test_a_hole_without_a_number_fails() -> None:
    """NaN must fail, not slip through a comparison."""
    drawing = plate(np.array([[50.0, 50.0]]), np.array([np.nan]))
    checks = {finding.check for finding in check_drawing(drawing, None, 6.0)}
    assert {"hole-outside", "small-hole"} <= checks


@settings(max_examples=40, deadline=None)
@given(st.floats(-60, 60), st.floats(-20, 20))
def test_web_between_cut_outs_against_shapely(x: float, y: float) -> None:
    """Judge: shapely's distance between the two outlines."""
    one, other = rectangle(90.0, 40.0, 110.0, 60.0), circle((100.0 + x, 50.0 + y), 12.0)
    apart = shapely.LinearRing(one.vertices).distance(shapely.LinearRing(flattened(other, 1e-5)))
    rings_apart = not shapely.Polygon(one.vertices).intersects(shapely.Polygon(flattened(other, 1e-5)))
    drawing = plate(np.zeros((0, 2)), np.zeros(0), (one, other))
    found = [finding for finding in check_drawing(drawing, None, 6.0) if finding.check == "thin-web"]
    if rings_apart and abs(apart - 6.0) > 0.01 and apart > 0.01:
        between = [
            finding for finding in found if finding.measured is not None and abs(finding.measured - apart) < 0.01
        ]
        assert bool(between) == (apart < 6.0)


ROW = np.column_stack([np.linspace(10.0, 190.0, 7), np.full(7, 30.0)])


@pytest.mark.parametrize("turn", range(0, 360, 37))
def test_numbers_run_from_the_low_end_whatever_the_order(turn: int) -> None:
    angle = np.radians(turn)
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    xy = ROW @ spin
    order = list(range(7))
    Random(turn).shuffle(order)
    placed = xy[order][along_row(xy[order])]
    ends = sorted((xy[0], xy[-1]), key=lambda end: (round(float(end[1]), 3), round(float(end[0]), 3)))
    assert np.allclose(placed[0], ends[0])
    assert np.allclose(np.linalg.norm(np.diff(placed, axis=0), axis=1), 30.0)


def test_numbers_of_a_zigzag_and_of_a_ring() -> None:
    zigzag = np.array([[0.0, 0.0], [20.0, 15.0], [40.0, 0.0], [60.0, 15.0], [80.0, 0.0], [100.0, 15.0]])
    assert along_row(zigzag).tolist() == [0, 2, 4, 1, 3, 5]
    turn = np.radians(np.arange(0, 360, 30) - 90.0)
    ring = np.column_stack([100.0 * np.cos(turn), 100.0 * np.sin(turn)])
    assert along_row(ring[::-1]).tolist() == list(range(12))[::-1]
    order, numbers = numbered(np.vstack([ring, [[0.0, 0.0]]]), ["ring"] * 12 + [""])
    assert numbers[0] == "ring 1"
    assert (numbers[-1], order[-1]) == ("1", 12)


@settings(max_examples=30, deadline=None)
@given(st.randoms(use_true_random=False), st.floats(0.0, 6.2))
def test_rows_are_found_turned_and_shuffled(random: Random, turn: float) -> None:
    """Three rows on three sides of a plate: found as drawn, whatever the order and the turn."""
    sides = [
        [(30.0 + 40.0 * k, 20.0) for k in range(9)],
        [(15.0, 80.0 + 35.0 * k) for k in range(6)],
        [(30.0 + 25.0 * k, 310.0) for k in range(14)],
    ]
    xy = np.array([place for side in sides for place in side])
    order = list(range(len(xy)))
    random.shuffle(order)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    rows = found_rows((xy @ spin)[order])
    found = sorted(sorted(order[i] for i in row.tolist()) for row in rows)
    assert found == [list(range(9)), list(range(9, 15)), list(range(15, 29))]


@settings(max_examples=30, deadline=None)
@given(st.randoms(use_true_random=False), st.floats(0.0, 6.2))
def test_rounds_are_found_turned_and_shuffled(random: Random, turn: float) -> None:
    """Two circles 30 mm one within the other, the outer one open by 40 degrees; a hole in the middle is of neither."""
    inner = [np.radians(360.0 / 24 * k) for k in range(24)]
    outer = [np.radians(320.0 / 28 * k) for k in range(29)]
    xy = np.array(
        [(150.0 * np.cos(a), 150.0 * np.sin(a)) for a in inner]
        + [(180.0 * np.cos(a), 180.0 * np.sin(a)) for a in outer]
        + [(0.0, 0.0)]
    )
    order = list(range(len(xy)))
    random.shuffle(order)
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    rounds = found_rounds(((xy + 400.0) @ spin)[order])
    assert sorted(sorted(order[i] for i in row.tolist()) for row in rounds) == [list(range(24)), list(range(24, 53))]


def test_five_holes_on_a_circle_and_a_circle_with_two_wide_gaps_are_no_rounds() -> None:
    """Of eighteen places twenty degrees apart six and six are there, and two spaces of 80 degrees between them."""
    for degrees in (range(0, 360, 72), [*range(0, 101, 20), *range(180, 281, 20)]):
        turn = np.radians(np.array(degrees, dtype=np.float64))
        assert found_rounds(100.0 * np.column_stack([np.cos(turn), np.sin(turn)])) == []


def round_row(radius: float, count: int, start: float) -> list[tuple[float, float]]:
    turn = np.radians(start + 360.0 / count * np.arange(count))
    return [(radius * x, radius * y) for x, y in zip(np.cos(turn), np.sin(turn), strict=True)]


@pytest.mark.parametrize(("radius", "count"), [(200.0, 24), (600.0, 94), (1500.0, 156)])
def test_a_large_circle_is_one_row_though_its_places_are_rounded(radius: float, count: int) -> None:
    """Rounded to 0.1 mm three neighbours tell a radius of 1500 mm to some hundred mm, all of them to a few hundredths.

    Over two spaces of 60.4 mm the arc rises 60.4 ^ 2 / 2 / 1500 = 1.2 mm.
    """
    (row,) = rows_shown(np.round(round_row(radius, count, 1.7), 1))
    assert len(row) == count


@pytest.mark.parametrize("start", range(0, 10))
def test_a_circle_in_another_is_not_torn_by_lines_of_three(start: int) -> None:
    """24 holes on 200 mm, 36 on 230 mm: many a line through two of the inner ones meets an outer one by chance."""
    xy = np.array([*round_row(200.0, 24, 0.0), *round_row(230.0, 36, float(start))])
    assert sorted(sorted(row.tolist()) for row in rows_shown(xy)) == [list(range(24)), list(range(24, 60))]


def beside(ring: list[tuple[float, float]], x: float) -> list[tuple[float, float]]:
    return [(one + x, two) for one, two in ring]


PATTERNS = {
    "three circles on the same spokes": [round_row(radius, 16, 0.0) for radius in (100.0, 130.0, 160.0)],
    "two circles, each with two holes on the line of their centres": [
        round_row(60.0, 8, 0.0),
        beside(round_row(60.0, 8, 0.0), 200.0),
    ],
    "a short row that runs towards the middle of a circle": [
        [(x, 0.0) for x in (-180.0, -140.0, -100.0)],
        round_row(60.0, 8, 0.0),
    ],
    "a line with a hole left out beside a circle": [
        [(x, 0.0) for x in (200.0, 240.0, 320.0)],
        round_row(60.0, 8, 10.0),
    ],
    "three on each side of a square, eight of them on a circle": [
        [(40.0 * k, -80.0) for k in (-1, 0, 1)],
        [(40.0 * k, 80.0) for k in (-1, 0, 1)],
        [(-80.0, 40.0 * k) for k in (-1, 0, 1)],
        [(80.0, 40.0 * k) for k in (-1, 0, 1)],
    ],
    "four chain rows nearer to one another than their pitch": [
        [(51.0 * k, 27.0 * row) for k in range(8)] for row in range(4)
    ],
}


@pytest.mark.parametrize("rows", PATTERNS.values(), ids=PATTERNS)
def test_lines_and_circles_are_told_apart(rows: list[list[tuple[float, float]]]) -> None:
    xy = np.array([place for row in rows for place in row])
    ends = np.cumsum([0, *map(len, rows)]).tolist()
    assert sorted(sorted(row.tolist()) for row in rows_shown(xy)) == [list(range(*pair)) for pair in pairwise(ends)]


def test_a_full_row_with_a_wide_space_keeps_its_holes_from_a_circle_of_fewer() -> None:
    """A strap of a shell: two rows with a wide space where a ring lies across, and pairs of holes over the rings."""
    along = [130.0, 170.0, 210.0, 330.0, 370.0, 410.0, 450.0, 490.0, 530.0]
    pairs = [(x, y) for x in (54.0, 267.0, 606.0) for y in (21.726, 67.043)]
    xy = np.array([*((x, 22.192) for x in along), *((x, 66.577) for x in along), *pairs])
    assert sorted(sorted(row.tolist()) for row in rows_shown(xy)) == [list(range(9)), list(range(9, 18))]


def test_rows_want_three_holes_apart() -> None:
    assert found_rows(np.array([[0.0, 0.0], [10.0, 0.0]])) == []
    assert found_rows(np.array([[0.0, 0.0], [80.0, 0.0], [80.0, 60.0], [0.0, 60.0]])) == []
    assert found_rows(np.zeros((0, 2))) == []


def test_a_heap_of_holes_is_one_finding(tmp_path: Path) -> None:
    """Forty circles about one centre and two others on their own: two heaps, not eight hundred pairs."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    space.add_lwpolyline([(0, 0), (400, 0), (400, 200), (0, 200)], close=True, dxfattribs={"layer": "CUT"})
    for k in range(40):
        space.add_circle((100.0, 100.0), 5.0 + 0.1 * k, dxfattribs={"layer": "RIVET A"})
    for x in (300.0, 305.0):
        space.add_circle((x, 100.0), 5.5, dxfattribs={"layer": "RIVET B"})
    document.saveas(tmp_path / "plate.dxf")
    drawing = read_drawing(tmp_path / "plate.dxf")
    found = [one for one in check_drawing(drawing, None, 6.0) if one.check == "holes-overlap"]
    assert sorted(len(one.where.holes) for one in found) == [2, 40]
