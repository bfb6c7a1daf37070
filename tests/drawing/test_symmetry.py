"""Patterns that can be turned or handed wrongly: told where they are nearly the same, neither quite nor plainly not."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment
from scipy.spatial.distance import cdist

from fabplan.drawing.check import check_drawing
from fabplan.drawing.symmetry import LIKE, same_turned_over
from fabplan.geom.profile import circle, rectangle
from fabplan.geom.symmetry import fit, ways
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing, Line
from fabplan.model.finding import Finding, Level
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile

GRID = np.array([(x, y) for x in (30.0, 100.0, 170.0, 240.0, 310.0, 370.0) for y in (30.0, 170.0)])
EVEN = np.column_stack([np.linspace(30.0, 370.0, 12), np.full(12, 100.0)])


def plate(xy: FloatArray, outline: Profile | None = None, diameter: float = 11.0) -> Drawing:
    count = len(xy)
    blank = ("",) * count
    holes = Holes(
        xy, np.full(count, diameter), ("lap",) * count, tuple(map(str, range(count))), ("rivet",) * count, blank
    )
    return Drawing("plate.dxf", outline=outline or rectangle(0.0, 0.0, 400.0, 200.0), holes=holes)


def told(drawing: Drawing) -> list[Finding]:
    return [finding for finding in check_drawing(drawing, None, None) if finding.check == "near-symmetric"]


def moved(xy: FloatArray, hole: int, by: float) -> FloatArray:
    other = xy.copy()
    other[hole, 0] += by
    return other


def test_the_limit_is_exact() -> None:
    for by, faulty in ((0.0, False), (LIKE, False), (LIKE + 2e-6, True), (3.9, True)):
        assert bool(told(plate(moved(EVEN, 3, by)))) == faulty, by


def test_what_is_plainly_another_way_is_not_told() -> None:
    assert not told(plate(moved(EVEN, 3, 20.0)[:6]))
    assert not told(plate(EVEN[[0, 1, 2, 4, 5]]))
    assert not told(
        plate(moved(EVEN, 3, 2.0), Profile(np.array([[0.0, 0], [400, 0], [400, 120], [0, 200]]), np.zeros(4)))
    )


def test_one_hole_too_many_among_many_is_told_with_its_number() -> None:
    (finding,) = told(plate(np.vstack([EVEN, [[200.0, 170.0]]])))
    assert (finding.level, finding.where.holes) == (Level.QUERY, ("12",))
    assert finding.measured == 1.0


def test_half_the_holes_out_is_a_note() -> None:
    """Such a plate is found out at its first bolts."""
    xy = np.vstack([EVEN, EVEN + np.array([0.0, 40.0]), EVEN - np.array([0.0, 40.0])])
    xy[24:, 0] += 1.5
    (finding,) = told(plate(xy))
    assert finding.level is Level.NOTE


def test_a_mark_an_opening_or_a_fold_tells_how_it_lies() -> None:
    near = plate(moved(EVEN, 3, 2.0))
    line = Line("MARK", np.array([[12.0, 10.0], [20.0, 14.0]]))
    middle = Line("MARK", np.array([[190.0, 150.0], [210.0, 150.0], [210.0, 50.0], [190.0, 50.0]]))
    assert told(near)
    assert not told(replace(near, marks=(line,)))
    assert not told(replace(near, folds=(line,)))
    assert not told(replace(near, cutouts=(rectangle(40.0, 130.0, 80.0, 150.0),)))
    assert told(replace(near, marks=(middle,)))
    assert told(replace(near, cutouts=(rectangle(190.0, 130.0, 210.0, 150.0), rectangle(190.0, 50.0, 210.0, 70.0))))


def test_pitches_are_read_from_both_ends() -> None:
    (finding,) = told(plate(moved(EVEN, 3, 2.0)))
    pitch = 340.0 / 11.0
    assert f"space 3: {pitch + 2.0:.1f} mm, from its other end {pitch:.1f} mm" in finding.what


@pytest.mark.parametrize("turn", range(0, 360, 37))
def test_turned_and_mirrored_plates_are_told_the_same(turn: int) -> None:
    angle = np.radians(turn)
    spin = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    for hand in (1.0, -1.0):
        spun = spin * [hand, 1.0]
        corners = rectangle(0.0, 0.0, 400.0, 200.0).vertices @ spun + [70.0, -900.0]
        outline = Profile(corners if hand > 0.0 else corners[::-1], np.zeros(4))
        for xy in (moved(EVEN, 3, 2.0), GRID, EVEN):
            there = told(plate(xy @ spun + [70.0, -900.0], outline))
            assert [finding.where.holes for finding in there] == [finding.where.holes for finding in told(plate(xy))]


def test_round_plates_are_turned_only() -> None:
    turn = np.radians(np.arange(12) * 30.0)
    ring = 80.0 * np.column_stack([np.cos(turn), np.sin(turn)])
    round_plate = circle((0.0, 0.0), 110.0)
    assert not told(plate(ring, round_plate))
    assert told(plate(moved(ring, 2, 2.0), round_plate))
    assert not any(way.over for way in ways(round_plate))


def test_a_pair_of_plates_that_are_the_same_turned_over() -> None:
    low = EVEN - np.array([0.0, 40.0])
    assert same_turned_over(plate(low))
    assert not same_turned_over(plate(moved(low, 3, 2.0)))


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(-1.5, 1.5), st.floats(-1.5, 1.5)), min_size=12, max_size=12))
def test_misses_against_scipys_assignment(shifts: list[tuple[float, float]]) -> None:
    """Judge: scipy's best pairing of the turned holes with the holes, after the same shift."""
    xy = GRID + np.array(shifts)
    for way in ways(rectangle(0.0, 0.0, 400.0, 200.0)):
        if way.words in ("turned a quarter round", "turned over about a diagonal"):
            continue
        found = fit(xy, np.full(12, 11.0), way, 4.0)
        turned = way.moved(xy)
        rows, columns = linear_sum_assignment(cdist(turned, xy))
        off = xy[columns] - turned[rows]
        if np.hypot(*off.T).max() > 3.9:
            continue
        drawn_on = turned + np.median(off, axis=0)
        rows, columns = linear_sum_assignment(cdist(drawn_on, xy))
        left = xy[columns] - drawn_on[rows]
        if np.abs(np.median(left, axis=0)).max() < 1e-9 and np.hypot(*left.T).max() < 3.9:
            assert np.allclose(found.miss, np.hypot(*left.T))


def test_holes_of_unlike_size_do_not_meet() -> None:
    drawing = plate(np.vstack([EVEN, EVEN + np.array([0.0, 40.0])]))
    size = np.full(24, 11.0)
    size[3] = 14.0
    (finding,) = told(replace(drawing, holes=replace(drawing.holes, diameter=size)))
    assert finding.where.holes == ("3", "8")


def test_a_sieve_or_a_place_that_is_no_number_is_not_compared() -> None:
    many = np.stack(np.meshgrid(np.arange(60.0), np.arange(60.0)), axis=-1).reshape(-1, 2) * 3.0
    assert not told(plate(many))
    assert not told(plate(np.vstack([EVEN, [[np.nan, 0.0]]])[:12]))
