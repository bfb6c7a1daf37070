"""Measures against slower judges: a double loop for pairs, shapely for edges; and in any turn of the plate."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely

from fabplan.geom.profile import circle, flattened, rectangle, reversed_profile
from fabplan.model.arrays import FloatArray
from fabplan.model.holes import Holes
from fabplan.model.layout import HoleLayout
from fabplan.model.profile import Profile
from fabplan.rules.measure import between_rows, crowded, lines_of, margins, nearer_rivet, pitches
from fabplan.rules.sets import read_rule_set
from fabplan.rules.spacing import check_layout, spacing_figures
from tests.rules.plate import grid, plate

SETS = tuple(read_rule_set(name) for name in ("en1993-1-8-2005", "tight-seam", "practice"))
ROUNDED = Profile(  # a plate with two round corners of 60 mm
    np.array([[0, 0], [440, 0], [500, 60], [500, 240], [440, 300], [0, 300]], dtype=float),
    np.array([0, math.tan(math.pi / 8), 0, math.tan(math.pi / 8), 0, 0]),
)


def scattered(seed: int) -> HoleLayout:
    xy = np.random.default_rng(seed).uniform([30.0, 30.0], [430.0, 270.0], (80, 2))
    return plate(xy, [""] * 80, ROUNDED, rivet_diameter=10.0, hole=11.0)


@pytest.mark.parametrize("seed", range(3))
def test_crowded_pairs_against_a_double_loop(seed: int) -> None:
    layout = scattered(seed)
    found = crowded(layout, lines_of(layout), 24.2)
    expected = []
    for i in range(80):
        for j in range(i + 1, 80):
            apart = math.dist(layout.holes.xy[i], layout.holes.xy[j])
            if apart <= 24.2:
                expected.append((i, j, apart))
    assert expected
    assert found.holes.tolist() == [[i, j] for i, j, _ in expected]
    assert found.value.tolist() == pytest.approx([apart for _, _, apart in expected])


@pytest.mark.parametrize("seed", range(3))
def test_edges_all_round_against_shapely(seed: int) -> None:
    """Chords within 0.1 micrometre of the arcs."""
    layout = replace(scattered(seed), cutouts=(reversed_profile(circle((250.0, 150.0), 40.0)),))
    edges = [shapely.LinearRing(flattened(profile, 1e-7)) for profile in (layout.outline, *layout.cutouts)]
    points = shapely.points(layout.holes.xy)
    expected = np.min([shapely.distance(points, edge) for edge in edges], axis=0)
    assert margins(layout, lines_of(layout)).beside.value == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_rivets_before_an_edge_against_a_double_loop(seed: int) -> None:
    """Another rivet within 45 degrees of the way to a place, and nearer along it than that place."""
    layout, rng = scattered(seed), np.random.default_rng(seed)
    holes = np.arange(len(layout.holes))
    foot = rng.uniform(-400.0, 400.0, (len(holes), 2))
    xy = layout.holes.xy
    naive = [
        any(
            1e-6 < (xy[j] - xy[i]) @ foot[i] / math.hypot(*foot[i]) < math.hypot(*foot[i]) - 1e-6
            and (xy[j] - xy[i]) @ foot[i] >= math.sqrt(0.5) * math.hypot(*foot[i]) * math.dist(xy[i], xy[j])
            for j in holes
            if j != i
        )
        for i in holes
    ]
    assert nearer_rivet(layout, holes, foot).tolist() == naive
    assert 0 < sum(naive) < len(naive)


def test_past_along_and_beside_of_a_row() -> None:
    """A row 50 mm over the lower edge of a 500 x 300 plate, from x = 40 to 400, with an opening round (250, 110)."""
    opening = reversed_profile(circle((250.0, 110.0), 30.0))
    row = np.array([[x, 50.0] for x in range(40, 401, 40)], dtype=float)
    layout = plate(row, "A", rectangle(0.0, 0.0, 500.0, 300.0), cutouts=(opening,))
    found = margins(layout, lines_of(layout))
    assert found.past.holes[:, 0].tolist() == [0, 9]
    assert found.past.value.tolist() == pytest.approx([40.0, 100.0])
    # holes at 200, 240 and 280 have the opening nearest across their line, sqrt(dx^2 + 60^2) - 30 away
    near = [math.hypot(50.0, 60.0) - 30.0, math.hypot(10.0, 60.0) - 30.0, math.hypot(30.0, 60.0) - 30.0]
    assert found.beside.value.tolist() == pytest.approx([50.0] * 4 + near + [50.0] * 3)


def test_pitches_of_a_row_and_round_a_ring() -> None:
    layout = plate([*grid(5, 40.0), *np.add(grid(4, 40.0), [0.0, 500.0])], ["A"] * 5 + ["B"] * 4)
    assert pitches(layout, lines_of(layout)).value.tolist() == pytest.approx([40.0] * 7)
    angle = np.arange(12) * np.pi / 6.0
    ring = plate(200.0 * np.column_stack([np.cos(angle), np.sin(angle)]))
    assert pitches(ring, lines_of(ring)).value.tolist() == pytest.approx([400.0 * math.sin(math.pi / 12)] * 12)


def test_a_gap_over_an_opening_is_no_pitch_and_a_gap_in_the_metal_is() -> None:
    row = np.array([[x, 0.0] for x in (0, 40, 80, 240, 280, 320)], dtype=float)
    whole = plate(row)
    assert pitches(whole, lines_of(whole)).value.max() == pytest.approx(160.0)
    opened = plate(row, cutouts=(reversed_profile(circle((160.0, 0.0), 60.0)),))
    assert pitches(opened, lines_of(opened)).value.max() == pytest.approx(40.0)


def test_holes_at_the_corners_of_a_strap_are_no_pitch_unless_a_seam_lists_them() -> None:
    xy = [[0.0, 0.0], [0.0, 30.0], [1000.0, 0.0], [1000.0, 30.0]]
    listed, by_position = plate(xy), plate(xy, seamed=np.zeros(4, dtype=np.bool_))
    assert pitches(by_position, lines_of(by_position)).value.tolist() == pytest.approx([30.0, 30.0])
    assert sorted(pitches(listed, lines_of(listed)).value.tolist()) == pytest.approx([30.0, 30.0, 1000.0])


@pytest.mark.parametrize("gap", [60.0, 240.0, 241.0, 335.0, 2000.0])
def test_no_gap_of_a_row_is_too_wide_to_be_told(gap: float) -> None:
    """EN 1993-1-8:2005, Table 3.3: at most 14 t in compression, 84 mm in plates of 6 mm; in line and in a bend."""
    row = np.array([0.0, 40.0, 80.0, 120.0, 120.0 + gap, 160.0 + gap, 200.0 + gap])
    straight = np.column_stack([row, np.zeros(7)])
    bent = np.vstack([straight, [[200.0 + gap, 40.0], [200.0 + gap, 80.0]]])
    for xy in (straight, bent):
        layout = plate(xy, rivet_diameter=10.0, hole=11.0, thinner_outer=6.0)
        found = [one.measured for one in check_layout(layout, SETS) if one.check == "greatest-pitch"]
        assert found == ([pytest.approx(gap)] if gap > 14.0 * 6.0 else [])


@pytest.mark.parametrize("left_out", [0, 1, 2, 3])
def test_a_ring_with_rivets_left_out_has_a_wide_pitch(left_out: int) -> None:
    """A ring of 48 rivets on a radius of 302 mm; the chord over the gap by hand."""
    angle = 2.0 * np.pi * np.arange(48 - left_out) / 48
    ring = 302.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    layout = plate(ring, rivet_diameter=10.0, hole=11.0)
    assert len(pitches(layout, lines_of(layout)).value) == 48 - left_out
    widest = 2.0 * 302.0 * math.sin((left_out + 1) * math.pi / 48)
    assert pitches(layout, lines_of(layout)).value.max() == pytest.approx(widest)


def test_three_sides_of_a_plate_and_half_a_ring_do_not_close() -> None:
    half = np.pi * np.arange(13) / 12
    three = [[x, 0.0] for x in range(0, 161, 40)] + [[160.0, y] for y in (40, 80)] + [[0.0, y] for y in (40, 80)]
    for xy in (200.0 * np.column_stack([np.cos(half), np.sin(half)]), np.array(three)):
        layout = plate(xy)
        assert len(pitches(layout, lines_of(layout)).value) == len(xy) - 1


def open_holes(layout: HoleLayout, circles: list[tuple[float, float, float]]) -> HoleLayout:
    """The same plate with round openings (x, y, diameter) as its drawing has them: open holes on the cut layer."""
    holes, more = layout.holes, len(circles)
    every = Holes(
        np.vstack([holes.xy, [circle[:2] for circle in circles]]),
        np.append(holes.diameter, [circle[2] for circle in circles]),
        (*holes.row, *[""] * more),
        (*holes.number, *[str(k + 1) for k in range(more)]),
        (*holes.purpose, *["open"] * more),
        (*holes.handle, *[""] * more),
    )
    columns: dict[str, Any] = {
        name: np.append(getattr(layout, name), [fill] * more)
        for name, fill in (
            *((name, np.nan) for name in ("rivet_diameter", "stated_hole", "thinner_outer", "thickest", "grip")),
            *((name, False) for name in ("tight", "countersunk", "hand_driven", "opened_later")),
            ("riveted", True),
            *((name, True) for name in ("tension", "compression", "seamed")),
            ("sink_depth", np.nan),
        )
    }
    return replace(layout, holes=every, **columns)


@pytest.mark.parametrize("seed", range(3))
def test_edges_of_round_openings_against_shapely(seed: int) -> None:
    """Chords within 0.1 micrometre of the arcs."""
    circles = [(150.0, 150.0, 120.0), (330.0, 90.0, 24.0), (400.0, 240.0, 60.0)]
    layout = open_holes(scattered(seed), circles)
    rings = [shapely.LinearRing(flattened(layout.outline, 1e-7))]
    rings += [shapely.LinearRing(flattened(circle((x, y), d / 2.0), 1e-7)) for x, y, d in circles]
    expected = np.min([shapely.distance(shapely.points(layout.holes.xy[:80]), ring) for ring in rings], axis=0)
    assert margins(layout, lines_of(layout)).beside.value == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("near", "found"), [(13.2, False), (13.19, True), (11.9, True), (9.0, True)])
def test_a_round_hatch_has_an_edge_like_a_square_one(near: float, found: bool) -> None:
    """EN 1993-1-8:2005, Table 3.3: at least 1.2 d0 = 13.2 mm; no outer edge 118 mm off is told of a hatch's ring."""
    angle = 2.0 * np.pi * np.arange(48) / 48
    ring = (290.0 + near) * np.column_stack([np.cos(angle), np.sin(angle)])
    outer = rectangle(-418.0 - near, -418.0 - near, 418.0 + near, 418.0 + near)
    layout = plate(ring, "A", outer, rivet_diameter=10.0, hole=11.0, thinner_outer=6.0, thickest=6.0)
    told = [one for one in check_layout(open_holes(layout, [(0.0, 0.0, 580.0)]), SETS) if "edge" in one.check]
    assert [one.check for one in told] == ["least-edge-distance"] * found
    assert [one.measured for one in told] == ([pytest.approx(near)] if found else [])
    assert [len(one.where.holes) for one in told] == [48] * found


def test_a_row_is_parted_by_a_round_opening_and_ends_at_its_edge() -> None:
    """Two groups either side of a hole of 120 mm: no pitch between them, 20 mm of plate past each, by hand."""
    row = np.array([[x, 0.0] for x in (0, 40, 80, 240, 280, 320)], dtype=float)
    opened = open_holes(plate(row), [(160.0, 0.0, 120.0)])
    assert pitches(opened, lines_of(opened)).value.max() == pytest.approx(40.0)
    past = margins(opened, lines_of(opened)).past
    assert dict(zip(past.holes[:, 0].tolist(), past.value.tolist(), strict=True))[2] == pytest.approx(20.0)
    assert dict(zip(past.holes[:, 0].tolist(), past.value.tolist(), strict=True))[3] == pytest.approx(20.0)
    vented = open_holes(plate(row), [(160.0, 0.0, 30.0)])
    assert pitches(vented, lines_of(vented)).value.max() == pytest.approx(160.0)


def test_rows_are_measured_to_their_neighbours_only() -> None:
    layout = plate(grid(6, 80.0, 3, 55.0))
    rows, slants = between_rows(layout, lines_of(layout))
    assert rows.value.tolist() == pytest.approx([55.0] * 12)
    assert len(slants.value) == 0


@pytest.mark.parametrize(("shift", "staggered"), [(0.0, False), (20.0, True)])
def test_an_outer_line_of_half_the_rivets_in_step_or_staggered(shift: float, staggered: bool) -> None:
    layout = plate([*grid(12, 40.0), *np.add(grid(5, 80.0), [shift, 50.0])])
    rows, slants = between_rows(layout, lines_of(layout))
    assert rows.value == pytest.approx(50.0)
    assert set(rows.staggered.tolist()) == {staggered}
    assert (len(slants.value) > 0) == staggered


def test_open_holes_are_in_no_row() -> None:
    layout = plate(grid(5, 40.0))
    purpose = ("rivet", "rivet", "open", "rivet", "rivet")
    holes = Holes(layout.holes.xy, layout.holes.diameter, layout.holes.row, layout.holes.number, purpose, ("",) * 5)
    layout = replace(layout, holes=holes)
    assert sorted(pitches(layout, lines_of(layout)).value.tolist()) == pytest.approx([40.0, 40.0, 80.0])


def turned(layout: HoleLayout, degrees: float, shift: FloatArray) -> HoleLayout:
    """The same plate, turned and shifted."""
    angle = math.radians(degrees)
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    outline = Profile(layout.outline.vertices @ turn + shift, layout.outline.bulges)
    return replace(layout, outline=outline, holes=replace(layout.holes, xy=layout.holes.xy @ turn + shift))


def faulty() -> HoleLayout:
    """A plate with a close pair, a row near its edge, a gap, staggered rows, a bent row."""
    bent = [[x, 620.0] for x in range(30, 471, 40)] + [[470.0, y] for y in range(580, 299, -40)]
    zigzag = np.add(grid(10, 40.0, 2, 11.0, 20.0), [40.0, 120.0])
    straight = [[30.0, 12.0], [70.0, 12.0], [92.0, 12.0], [132.0, 12.0], [290.0, 12.0]]
    xy = np.array([*straight, *zigzag.tolist(), *bent])
    rows = ["edge"] * 5 + ["zigzag"] * 20 + ["bent"] * len(bent)
    return plate(xy, rows, rectangle(0.0, 0.0, 500.0, 650.0), rivet_diameter=10.0, hole=11.0, thinner_outer=6.0)


@pytest.mark.parametrize("degrees", [37.0, 90.0, 143.0, 270.0])
def test_findings_are_the_same_in_any_turn(degrees: float) -> None:
    layout = faulty()
    straight = check_layout(layout, SETS)
    again = check_layout(turned(layout, degrees, np.array([1000.0, -250.0])), SETS)
    assert {"least-pitch", "greatest-pitch", "least-edge-distance", "stagger-diagonal"} <= {
        finding.check for finding in straight
    }
    for one, other in zip(straight, again, strict=True):
        assert replace(one, where=other.where, measured=other.measured, required=other.required) == other
        assert one.where.holes == other.where.holes
        assert one.measured == pytest.approx(other.measured, abs=1e-9)
    figures = [spacing_figures(one, SETS) for one in (layout, turned(layout, degrees, np.zeros(2)))]
    for mine, theirs in zip(*figures, strict=True):
        assert (mine.what, mine.source) == (theirs.what, theirs.source)
        assert (mine.least, mine.greatest) == pytest.approx((theirs.least, theirs.greatest))


def test_findings_do_not_depend_on_the_order_of_holes() -> None:
    layout = faulty()
    order = np.random.default_rng(3).permutation(len(layout.holes))
    holes = layout.holes
    shuffled = Holes(
        holes.xy[order],
        holes.diameter[order],
        *(tuple(column[i] for i in order) for column in (holes.row, holes.number, holes.purpose, holes.handle)),
    )
    told = [
        sorted((one.check, round(one.measured or 0.0, 6), tuple(sorted(one.where.holes))) for one in found)
        for found in (check_layout(layout, SETS), check_layout(replace(layout, holes=shuffled), SETS))
    ]
    assert told[0] == told[1]
