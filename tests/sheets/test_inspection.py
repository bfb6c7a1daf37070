"""The inspection and test plan: every check in it, figures held against the body as described in space, counts kept."""

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom.corners import corners
from fabplan.job import form
from fabplan.model.job import HoldSpec
from fabplan.model.plan import Plan
from fabplan.model.sequence import STEP_KINDS
from fabplan.sheets.inspection import closing_sizes, inspection_sheets, points, squares
from fabplan.sheets.lint import lint
from fabplan.sheets.step_tables import step_tables
from tests.kits.bowser import bowser
from tests.sheets.words import words, words_of


def truth(mark: str) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    """The rivets of a seam of the bowser as described in space."""
    (seam,) = (seam for seam in bowser().seams if seam.mark == mark)
    return np.asarray(seam.points)


def test_every_page_passes(bowser_plan: Plan, lap_plan: Plan) -> None:
    for plan in (bowser_plan, lap_plan):
        pages = inspection_sheets(plan)
        assert pages
        assert {page.items: lint(page) for page in pages if lint(page)} == {}


def test_every_check_of_every_step_is_in_the_plan(bowser_plan: Plan) -> None:
    assert bowser_plan.sequence is not None
    told = [(one.step.split(" ")[0], one.what) for one in points(bowser_plan)]
    for step in bowser_plan.sequence.steps:
        for check in step.checks:
            assert (str(step.number), check) in told
    steps = [int(number) for number, _ in told if number.isdigit()]
    assert steps == sorted(steps)


def test_diagonals_are_those_of_the_body(bowser_plan: Plan) -> None:
    """Ends named in the plan, sought among the rivets as described in space; 6 mm of plate may lie between them."""
    found = [(what, target) for what, target in squares(bowser_plan, whole(bowser_plan)) if "diagonal, hole" in what]
    assert len(found) == 4
    for what, target in found:
        ends = re.findall(r"(\w+) (\d+)", what.split("hole ")[1])
        apart = [np.linalg.norm(a - b) for a in truth(ends[0][0]) for b in truth(ends[1][0])]
        assert np.abs(np.array(apart) - float(target.split()[0])).min() < 12.0
        assert float(target.split()[0]) > 2300.0  # the floor is 2400 by 1200 mm: its diagonal is 2683 mm
    foot = [float(target.split()[0]) for what, target in found if what.startswith("foot")]
    assert foot[0] == pytest.approx(foot[1], abs=30.0)


def whole(plan: Plan) -> range:
    assert plan.body is not None
    return range(len(plan.body.instances))


def test_the_sheet_of_a_step_measures_what_the_plan_asks_of_it(bowser_plan: Plan) -> None:
    """All of its points stand on its own sheet too, with their figures and who releases it; foot and top by name."""
    holds = (HoldSpec("square", "J. Surveyor"),)
    plan = replace(bowser_plan, job=replace(bowser_plan.job, holds=holds))
    assert plan.sequence is not None
    asked: dict[int, list[str]] = {step.number: [] for step in plan.sequence.steps}
    for one in points(plan):
        if one.step[0].isdigit() and "by a second person" not in one.what:
            asked[int(one.step.split()[0])].append(f"{one.what}: {one.target}" if one.target else one.what)
    for step in plan.sequence.steps:
        (checks,) = [table for table in step_tables(plan, step, 180.0) if table.title == "Checks"]
        told = [row[1] for row in checks.rows]
        released = "work stops till J. Surveyor has signed: released for the next step"
        wanted = [released if line == "released for the next step" else line for line in asked[step.number]]
        assert [line for line in told if "by a second person" not in line] == wanted
        if step.kind == "square":
            assert [line.split(":")[0] for line in told].count("foot") == 4
            assert [line.split(":")[0] for line in told].count("top") == 4
            assert checks.rows[-1][0] == "HOLD"


def test_what_is_bolted_up_again_is_measured_where_it_stands(bowser_plan: Plan) -> None:
    """The top is off: its corners are then those of the walls, four holes whose pieces all stand."""
    assert bowser_plan.sequence is not None
    assert bowser_plan.body is not None
    assert bowser_plan.stacks is not None
    again = next(step for step in bowser_plan.sequence.steps if step.title.startswith("Bolt up again"))
    off = {bowser_plan.body.instances[i].mark for i in whole(bowser_plan)} - {
        bowser_plan.body.instances[i].mark for i in again.present
    }
    assert {"T1", "H1"} <= off
    told = [what for what, _ in squares(bowser_plan, again.present) if "diagonal, hole" in what]
    seams = {seam.mark: seam for seam in bowser_plan.job.seams}
    ends = [name for what in told for name, _ in re.findall(r"(\w+) (\d+)", what.split("hole ")[1])]
    assert len(told) == 4
    assert not any(ply.instance in off for name in ends for ply in seams[name].plies)


def test_wind_of_a_flat_body_is_none(lap_plan: Plan, bowser_plan: Plan) -> None:
    for what, target in squares(bowser_plan, whole(bowser_plan)):
        if "wind" in what:
            assert float(target.split()[0]) < 10.0
    assert [
        what for what, _ in squares(lap_plan, whole(lap_plan)) if "wind" in what
    ] == []  # one row of rivets has no four corners


def test_the_opening_for_the_closing_plate(bowser_plan: Plan) -> None:
    """E1 closes the end: the ends of its rows Bw and Ew in the body as described in space, drawn to 0.1 mm."""
    assert bowser_plan.body is not None
    marks = [one.mark for one in bowser_plan.body.instances]
    sizes = [float(target.split()[0]) for _, target in closing_sizes(bowser_plan, [marks.index("E1")])]
    low, high = truth("Bw"), truth("Ew")
    four = np.array([low[0], low[-1], high[0], high[-1]])
    wanted = [np.linalg.norm(a - b) for k, a in enumerate(four) for b in four[k + 1 :]]
    assert sorted(sizes) == pytest.approx(sorted(map(float, wanted)), abs=0.11)


def test_hold_points_go_to_whom_the_job_names(bowser_plan: Plan) -> None:
    holds = (HoldSpec("square", "J. Surveyor"), HoldSpec("test", "J. Surveyor", "water test witnessed"))
    named = replace(bowser_plan, job=replace(bowser_plan.job, holds=holds))
    held = [one for one in points(named) if one.by.startswith("HOLD")]
    assert [(one.step.split(" ", 1)[1], one.what) for one in held] == [
        ("Square and true the body", "released for the next step"),
        ("Caulk, then leak test with water", "water test witnessed"),
    ]
    assert not any(one.by.startswith("HOLD") for one in points(bowser_plan))
    assert "HOLD: J. Surveyor" in " ".join(" ".join(words_of(page)) for page in inspection_sheets(named))


def test_the_kinds_of_step_that_a_job_may_hold_are_those_of_an_order() -> None:
    kinds = form.HoldForm.model_fields["step"].annotation
    assert kinds is not None
    assert kinds.__args__ == STEP_KINDS


def test_the_leak_test_stands_before_paint_and_after_the_last_rivet(bowser_plan: Plan) -> None:
    every = list(points(bowser_plan))
    test = next(k for k, one in enumerate(every) if "leak test" in one.step)
    assert test > max(k for k, one in enumerate(every) if "hammer and finger" in one.what)
    assert "before paint" in every[-1].what


def test_the_balance_of_rivets_ends_with_the_spares(bowser_plan: Plan) -> None:
    """Counted here from the pages: of each size, what was ordered less what is driven is what is left."""
    pages = inspection_sheets(bowser_plan)
    every = [word for page in pages for word in words_of(page)]
    every = every[every.index("Rivet balance") :]
    for line in bowser_plan.supply.rivets:
        size = f"{line.diameter:g} x {line.length:g} round"
        rows = [(every[k + 1], every[k + 2]) for k, word in enumerate(every) if word == size]
        assert rows[0] == ("-", str(line.count + line.spares))
        driven = sum(int(count) for count, _ in rows[1:])
        assert (driven, int(rows[-1][1])) == (line.count, line.spares)


def test_every_seam_has_its_line_with_all_its_rivets(bowser_plan: Plan) -> None:
    text = " ".join(words(page) for page in inspection_sheets(bowser_plan))
    for seam in bowser().seams:
        assert f" {seam.mark} {len(seam.points)} " in text


def test_corners_go_round_and_a_line_has_two() -> None:
    grid = np.array([[x, y] for x in range(5) for y in range(4)], dtype=np.float64)
    assert grid[corners(grid)].tolist() == [[0, 0], [4, 0], [4, 3], [0, 3]]
    assert Counter(corners(np.column_stack([np.arange(4.0), np.zeros(4)])).tolist()) == {0: 1, 3: 1}


def test_a_closing_piece_is_measured_where_it_meets_what_stands(bowser_plan: Plan) -> None:
    """P1 comes with its angles riveted on, by Qs and Qn: its opening is between Ps and Pn, on the walls."""
    assert bowser_plan.body is not None
    marks = [one.mark for one in bowser_plan.body.instances]
    told = [what for what, _ in closing_sizes(bowser_plan, [marks.index(mark) for mark in ("P1", "G1R", "G1L")])]
    assert len(told) == 6
    assert {what.split("hole ")[1].split()[0] for what in told} <= {"Ps", "Pn"}
    both = [what for what, _ in closing_sizes(bowser_plan, [marks.index(mark) for mark in ("T1", "H1")])]
    assert len(both) == 6
    assert not any("H1" in what or " R " in what for what in both)


def test_a_closing_piece_with_one_row_is_measured_along_and_square_to_it(lap_plan: Plan) -> None:
    """The first lap: holes on y = 180, the edge of P1 on y = 200; eight pitches of 40 mm and one of 30."""
    assert lap_plan.body is not None
    sizes = dict(closing_sizes(lap_plan, [1]))
    assert sizes == {
        "opening for P2, on its mates: hole A 1 to A 10": "350.0 mm",
        "opening for P2: hole A 1 square to its row, to the edge of P1": "20.0 mm",
        "opening for P2: hole A 10 square to its row, to the edge of P1": "20.0 mm",
    }
