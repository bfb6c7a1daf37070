"""How findings are told: once for a row, gravest first, with the remedy; what is not known is left alone."""

import warnings
from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.profile import rectangle
from fabplan.model.finding import Level
from fabplan.rules.sets import read_rule_set
from fabplan.rules.spacing import spacing_figures
from tests.rules.plate import checks, findings, grid, plate

EN, PRACTICE, TIGHT = "en1993-1-8-2005", "practice", "tight-seam"
SMALL = rectangle(-20.0, -20.0, 500.0, 20.0)


def test_a_row_of_like_faults_is_one_finding_at_its_worst() -> None:
    xy = np.array([[x, 0.0] for x in (0, 40, 88.4, 136.8, 170, 218.4)])
    (found,) = findings(plate(xy), EN)  # 2.2 x 22 = 48.4
    assert found.what.startswith(
        "pitch 33.20 mm between holes A 4 and A 5 and at 1 more place: least 48.40 mm (2.2 d0)"
    )
    assert found.where.holes == ("A 4", "A 5", "A 1", "A 2")
    assert found.where.xy == pytest.approx((153.4, 0.0))
    assert (found.where.drawing, found.where.part) == ("plate.dxf", "P1")
    assert found.where.handles == ("3", "4", "0", "1")
    assert found.mend == "Space the rivets at 48.4 mm or more."


def test_two_rows_are_two_findings() -> None:
    xy = [*grid(3, 40.0), *np.add(grid(3, 40.0), [0.0, 500.0])]
    found = findings(plate(xy, ["A"] * 3 + ["B"] * 3), EN)
    assert [finding.where.holes[0] for finding in found] == ["A 1", "B 4"]


def test_what_a_code_forbids_is_not_told_again_as_hard_to_drive() -> None:
    assert checks(plate(grid(3, 40.0)), EN, PRACTICE) == ["least-pitch"]
    (note,) = findings(plate(grid(3, 50.0)), EN, PRACTICE)  # between 2.2 d0 = 48.4 and 3 d = 60
    assert (note.check, note.level, note.required) == ("drivable-pitch", Level.NOTE, 60.0)
    assert checks(plate(grid(3, 60.0)), EN, PRACTICE) == []


def test_the_remedy_satisfies_every_rule_that_is_broken() -> None:
    (found,) = findings(plate(grid(3, 40.0)), EN, PRACTICE)
    assert found.required == pytest.approx(48.4)
    assert "60.0 mm" in found.mend


def test_a_grip_far_too_long_is_a_stop_and_not_a_query_as_well() -> None:
    ask = findings(plate(grid(3, 100.0), grip=100.0, hand_driven=np.ones(3, dtype=np.bool_)), PRACTICE)
    stop = findings(plate(grid(3, 100.0), grip=131.0, hand_driven=np.ones(3, dtype=np.bool_)), PRACTICE)
    assert [(one.check, one.level) for one in ask] == [("grip", Level.QUERY)]
    assert [(one.check, one.level) for one in stop] == [("grip", Level.STOP)]
    assert "from memory" in stop[0].source


def test_of_two_unlike_holes_the_larger_sets_the_least_pitch() -> None:
    (found,) = findings(plate(grid(3, 50.0), hole=np.array([22.0, 22.0, 26.0])), EN)
    assert found.where.holes == ("A 2", "A 3")
    assert found.required == pytest.approx(2.2 * 26.0)


def test_lines_under_one_name_far_apart_are_seams_of_their_own() -> None:
    assert checks(plate(grid(6, 60.0, 2, 290.0)), EN) == ["greatest-row-distance"]  # under 5 pitches, over 14 t = 140
    assert checks(plate(grid(6, 60.0, 2, 310.0)), EN) == []


def test_only_holes_with_others_beside_them_are_too_close_to_a_row() -> None:
    xy = [*grid(10, 60.0), [240.0, 40.0], [300.0, 40.0], [360.0, 40.0]]
    (found,) = findings(plate(xy), EN)
    assert found.check == "least-row-distance"
    assert set(found.where.holes) == {f"A {number}" for number in (4, 5, 6, 7, 8, 11, 12, 13)}


def test_holes_of_two_rows_that_meet_too_close() -> None:
    xy = [*grid(4, 60.0), [180.0, 40.0], [180.0, 100.0], [180.0, 160.0]]
    (found,) = findings(plate(xy, ["A"] * 4 + ["B"] * 3), EN)
    assert (found.check, set(found.where.holes)) == ("least-pitch", {"A 4", "B 5"})


def test_holes_without_a_row_too_close() -> None:
    (found,) = findings(plate([[0.0, 0.0], [30.0, 0.0], [300.0, 0.0]], ["", "", ""]), EN)
    assert found.check == "least-pitch"
    assert found.measured == pytest.approx(30.0)


def test_bolts_are_held_to_the_least_and_not_to_the_greatest() -> None:
    def bolted(pitch: float, edge: float) -> list[str]:
        layout = plate(grid(4, pitch), "A", rectangle(-edge, -edge, 3 * pitch + edge, edge), exposed=True)
        return checks(replace(layout, holes=replace(layout.holes, purpose=("bolt",) * 4)), EN)

    assert bolted(150.0, 90.0) == []  # 14 t = 140, 4 t + 40 = 80 for rivets
    assert bolted(40.0, 90.0) == ["least-pitch"]
    assert bolted(150.0, 26.0) == ["least-edge-distance"]


def test_a_row_in_the_field_is_held_to_no_greatest_edge() -> None:
    def at(edge: float) -> list[str]:
        return checks(plate(grid(4, 60.0), outline=rectangle(-60.0, -edge, 240.0, 900.0), exposed=True), EN)

    assert at(80.0) == []  # 4 t + 40 = 80
    assert at(81.0) == ["greatest-edge-distance"]
    assert at(161.0) == []  # over twice as far: a stiffener in the field, not a lap


def test_the_second_line_of_a_seam_is_not_far_from_the_edge() -> None:
    lap = rectangle(-60.0, -70.0, 240.0, 900.0)
    assert checks(plate(grid(4, 60.0, 2, 55.0), outline=lap, exposed=True), EN) == []


def test_a_rivet_of_another_row_holds_the_plate_past_the_end_of_a_row() -> None:
    corner = rectangle(-100.0, -300.0, 900.0, 300.0)  # greatest end distance 4 t + 40 = 80
    row, crossing = grid(5, 50.0).tolist(), [[-70.0, y] for y in (-75.0, -25.0, 25.0, 75.0)]
    assert checks(plate(row, outline=corner, exposed=True), EN) == ["greatest-end-distance"]
    assert checks(plate([*row, *crossing], ["A"] * 5 + ["B"] * 4, corner, exposed=True), EN) == []


def test_the_far_end_of_a_short_row_is_not_its_near_end() -> None:
    ends = rectangle(-30.0, -30.0, 900.0, 30.0)
    assert checks(plate(grid(3, 50.0), outline=ends, exposed=True), EN) == []


def test_unknown_sizes_are_left_alone() -> None:
    nan = np.full(4, np.nan)
    bare = plate(
        grid(4, 400.0), "A", SMALL, rivet_diameter=nan, thinner_outer=nan, thickest=nan, grip=nan, thickness=np.nan
    )
    assert checks(replace(bare, outline=rectangle(-50.0, -50.0, 1300.0, 50.0)), EN, TIGHT, PRACTICE) == []


def test_a_place_that_is_no_number_fails() -> None:
    xy = grid(4, 60.0)
    xy[1, 0] = np.nan
    found = checks(plate(xy), EN)
    assert "least-pitch" in found
    assert "least-edge-distance" in found


def test_a_countersink_of_unknown_depth_fails() -> None:
    sunk = plate(grid(3, 100.0), countersunk=np.ones(3, dtype=np.bool_))
    (found,) = findings(sunk, PRACTICE)
    assert found.check == "countersink-depth"
    assert "not known" in found.what


def test_a_tight_seam_asks_for_an_edge_that_can_be_caulked() -> None:
    near = rectangle(-200.0, -28.0, 300.0, 200.0)  # over 1.2 d0 = 26.4, under 1.5 d = 30
    assert checks(plate(grid(4, 54.0), outline=near, tight=True), EN, TIGHT) == ["least-edge-distance"]
    assert checks(plate(grid(4, 54.0), outline=near), EN, TIGHT) == []


def test_a_plate_without_holes() -> None:
    empty = plate(np.zeros((0, 2)), [])
    assert checks(empty, EN, TIGHT, PRACTICE) == []
    assert spacing_figures(empty, (read_rule_set(EN),)) == ()


def test_figures_show_the_code_and_beside_it_what_can_be_driven() -> None:
    sets = tuple(read_rule_set(name) for name in (EN, PRACTICE))
    outline = rectangle(-35.0, -40.0, 245.0, 95.0)
    figures = {figure.what: figure for figure in spacing_figures(plate(grid(4, 70.0, 2, 55.0), "A", outline), sets)}
    pitch, row, end, edge = (figures[name] for name in ("pitch", "row distance", "end distance", "edge distance"))
    assert (pitch.least, pitch.greatest) == pytest.approx((70.0, 70.0))
    assert (pitch.code_least, pitch.code_greatest, pitch.practice) == pytest.approx((48.4, 140.0, 60.0))
    assert (row.least, row.code_least) == pytest.approx((55.0, 52.8))
    assert (end.least, end.code_least) == pytest.approx((35.0, 26.4))
    assert (edge.least, edge.code_least) == pytest.approx((40.0, 26.4))
    assert np.isnan(edge.code_greatest)  # sheltered: none
    assert pitch.source == "EN 1993-1-8:2005, Table 3.3"


def test_figures_say_why_a_larger_one_is_no_fault() -> None:
    """Exposed, 4 t + 40 = 80 mm at most; the inner two of four lines lie 170 mm from the edge, behind outer rivets."""
    outline = rectangle(-40.0, -60.0, 250.0, 390.0)
    lines = grid(4, 70.0, 4, 110.0)
    rows = [f"r{j}" for j in range(4) for _ in range(4)]
    (edge,) = [
        figure
        for figure in spacing_figures(plate(lines, rows, outline, exposed=True), (read_rule_set(EN),))
        if figure.what == "edge distance"
    ]
    assert edge.greatest > edge.code_greatest
    assert edge.why == "larger ones: another rivet is nearer to that edge"
    (near,) = [
        figure
        for figure in spacing_figures(
            plate(grid(4, 70.0), "A", rectangle(-40.0, -60.0, 250.0, 60.0), exposed=True), (read_rule_set(EN),)
        )
        if figure.what == "edge distance"
    ]
    assert near.why == ""


def test_a_hole_within_another_makes_no_noise() -> None:
    """Two holes on one place have no line; they are too near one another, and nothing is divided by nothing."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = checks(plate([(0.0, 0.0), (0.0, 0.0)]), EN)
    assert "least-pitch" in found


def test_findings_come_gravest_first() -> None:
    layout = plate(grid(4, 50.0), "A", rectangle(-20.0, -20.0, 170.0, 20.0), grip=100.0, hand_driven=True)
    levels = [finding.level for finding in findings(layout, PRACTICE, EN)]
    assert levels == sorted(levels)
    assert {Level.STOP, Level.QUERY, Level.NOTE} == set(levels)
