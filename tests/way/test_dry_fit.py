"""Sizes of the dry-fitted bowser: its top T1 is held back, and must close the body as it stands.

The opening is known: a rectangle of holes that was pulled, racked or left alone here, its sizes by Pythagoras.
"""

from dataclasses import replace
from itertools import combinations
from pathlib import Path
from shutil import copytree

import numpy as np
import pytest

from fabplan.errors import JobError
from fabplan.model.dry_fit import DryFitSpec
from fabplan.model.finding import Finding
from fabplan.model.measured import TapeSize
from fabplan.model.plan import Plan
from fabplan.sheets.dry_fit_sheet import dry_fit_sheets
from fabplan.sheets.lint import lint
from fabplan.sheets.record import plan_record
from fabplan.way.dry_fit import as_fitted
from fabplan.way.plan import plan
from tests.sheets.words import words_of

EXAMPLES = Path(__file__).parents[2] / "examples"
CORNERS = ("Ds 66", "Ds 1", "Dn 1", "Dn 66")
LONG, WIDE = 2314.0, 1156.0  # of the opening, from hole to hole, as the inspection sheet has it
OPENING = np.array([[0.0, 0.0], [LONG, 0.0], [LONG, WIDE], [0.0, WIDE]])
T1 = (2412.0, 1212.0)  # over all, as drawn in the demo
SIZES = tuple(combinations(range(4), 2))


def fitted(made: Plan, opening: np.ndarray, sizes: tuple[tuple[int, int], ...] = SIZES, **more: float) -> Plan:
    """The plan with the opening for T1 measured as `opening` (4, 2); `more` is too much of some sizes."""
    tape = tuple(
        TapeSize(CORNERS[a], CORNERS[b], float(np.linalg.norm(opening[b] - opening[a])) + more.get(f"of_{a}_{b}", 0.0))
        for a, b in sizes
    )
    job = replace(made.job, dry_fits=(DryFitSpec(tape, 0.5, "steel tape", "cold morning"),))
    assert made.body is not None
    assert made.stacks is not None
    dry_fit, closings, found = as_fitted(job, made.body, made.stacks, made.sequence)
    return replace(made, job=job, dry_fit=dry_fit, closings=closings, findings=found)


def told(made: Plan, check: str) -> list[Finding]:
    return [one for one in made.findings if one.check == check]


def test_a_body_as_drawn_asks_nothing(bowser_plan: Plan) -> None:
    made = fitted(bowser_plan, OPENING)
    assert [one.check for one in made.findings] == ["dry-fit"]
    assert [one.drawn for one in made.dry_fit] == pytest.approx([one.found for one in made.dry_fit], abs=0.01)
    (closing,) = made.closings
    assert closing.instance == "T1"
    assert closing.drawn == pytest.approx(T1)
    assert closing.must == pytest.approx(T1, abs=0.01)


def test_a_longer_body_wants_a_longer_top(bowser_plan: Plan) -> None:
    """Opening 2.4 mm longer, 1 mm narrower: the top is so too, its holes half of it at each corner."""
    made = fitted(bowser_plan, OPENING * [1.0 + 2.4 / LONG, 1.0 - 1.0 / WIDE])
    (closing,) = made.closings
    assert np.subtract(closing.must, closing.drawn) == pytest.approx([2.4, -1.0], abs=0.01)
    assert np.abs(closing.record.off) == pytest.approx(np.tile([1.2, 0.5], (4, 1)), abs=0.01)
    (one,) = told(made, "closing-size")
    assert "T1 must be 2414.4 x 1211.0 mm over all" in one.what
    assert "drawn are 2412.0 x 1212.0: +2.4 along x, -1.0 along y" in one.what
    assert one.measured == pytest.approx(np.hypot(1.2, 0.5), abs=0.01)
    assert told(made, "out-of-square") == []
    assert [side.found - side.drawn for side in closing.sides] == pytest.approx(
        [2.4, np.hypot(LONG + 2.4, WIDE - 1.0) - np.hypot(LONG, WIDE), -1.0, -1.0,
         np.hypot(LONG + 2.4, WIDE - 1.0) - np.hypot(LONG, WIDE), 2.4], abs=0.01
    )  # fmt: skip


def test_a_racked_body_is_out_of_square(bowser_plan: Plan) -> None:
    """Pushed over by 8 mm at its far side: one diagonal longer, the other shorter by 8 x 2314 / 2587 = 7.2 mm."""
    made = fitted(bowser_plan, OPENING + np.array([[0.0, 0.0], [0.0, 0.0], [8.0, 0.0], [8.0, 0.0]]))
    off = [one.measured for one in told(made, "out-of-square")]
    assert off == pytest.approx([7.2, -7.2], abs=0.05)
    assert len(told(made, "closing-size")) == 1


def test_sizes_that_contradict_make_no_top(bowser_plan: Plan) -> None:
    made = fitted(bowser_plan, OPENING, of_0_2=6.0)
    assert made.closings == ()
    (one,) = told(made, "tape-disagrees")
    assert one.what.startswith("opening for T1: its tape sizes disagree")
    assert one.blocks


def test_four_sides_without_a_diagonal_make_no_top(bowser_plan: Plan) -> None:
    made = fitted(bowser_plan, OPENING, ((0, 1), (1, 2), (2, 3), (0, 3)))
    assert made.closings == ()
    (one,) = told(made, "tape-loose")
    assert "free to hinge" in one.what


def test_its_sheet_gives_old_size_new_size_and_difference(bowser_plan: Plan) -> None:
    made = fitted(bowser_plan, OPENING * [1.0 + 2.4 / LONG, 1.0])
    pages = dry_fit_sheets(made)
    assert [problem for page in pages for problem in lint(page)] == []
    words = [word for page in pages for word in words_of(page)]
    for one in ("2412.0", "2414.4", "+2.4", "2314.0", "2316.4", "Ds 66"):
        assert one in words
    assert "steel tape, within 0.5 mm, doubt: cold morning" in " ".join(words)
    (record,) = plan_record(made)["closings"]
    assert record["must"] == pytest.approx([2414.4, 1212.0], abs=0.01)
    assert record["drawn"] == pytest.approx(list(T1), abs=1e-6)


def test_a_size_that_was_measured_twice_alike_is_taken(tmp_path: Path, lap_plan: Plan) -> None:
    """Each within 1 mm: 2 mm apart both may be right."""
    assert lap_plan.stacks is not None
    first, last = lap_plan.stacks.number[0], lap_plan.stacks.number[-1]
    apart = float(np.linalg.norm(lap_plan.stacks.point[-1] - lap_plan.stacks.point[0]))
    table = f"from,to,length\n{first},{last},{apart - 1.0:.3f}\n{last},{first},{apart + 1.0:.3f}\n"
    assert len(lap(tmp_path, table, "accuracy = 1").dry_fit) == 2


def lap(folder: Path, table: str, stated: str = "accuracy = 0.5") -> Plan:
    copytree(EXAMPLES / "first-lap", folder, dirs_exist_ok=True)
    (folder / "fit.csv").write_text(table, "utf-8")
    with (folder / "job.toml").open("a", encoding="utf-8") as job:
        job.write(f'\n[[dry_fit]]\nsizes = "fit.csv"\n{stated}\n')
    return plan(folder / "job.toml")


def test_a_job_reads_its_sizes_and_tells_unknown_rivets(tmp_path: Path, lap_plan: Plan) -> None:
    assert lap_plan.stacks is not None
    first, last = lap_plan.stacks.number[0], lap_plan.stacks.number[-1]
    apart = float(np.linalg.norm(lap_plan.stacks.point[-1] - lap_plan.stacks.point[0]))
    made = lap(tmp_path / "a", f"from,to,length\n{first},{last},{apart + 3.5:.2f}\n")
    (one,) = told(made, "out-of-square")
    assert one.measured == pytest.approx(3.5, abs=0.01)
    assert made.fingerprint != lap_plan.fingerprint
    made = lap(tmp_path / "b", f"from,to,length\n{first},Z 9,100\n")
    (unknown,) = told(made, "dry-fit-unknown")
    assert "name Z 9: no rivet bears this number" in unknown.what


@pytest.mark.parametrize(
    ("table", "stated", "fault"),
    [
        ("from,to,length\nA 1,A 1,40\n", "accuracy = 0.5", "unlike holes"),
        ("from,to\nA 1,A 2\n", "accuracy = 0.5", 'the key "length" is missing'),
        ("from,to,length\nA 1,A 2,40\n", 'source = "tape"', 'the key "accuracy" is missing'),
        ("from,to,length\nA 1,A 2,40\n", 'accuracy = 1\nsource = "photograph"', "without their `doubt`"),
        ("from,to,length\nA 1,A 2,40\n", 'accuracy = 1\nsource = "image IMG_2211.JPG"', "without their `doubt`"),
        ("from,to,length\nA 1,A 2,40\nA 2,A 1,42.1\n", "accuracy = 1", "A 1 to A 2 was measured as 40 and 42.1 mm"),
    ],
)
def test_faults_of_a_dry_fit_are_told(tmp_path: Path, table: str, stated: str, fault: str) -> None:
    with pytest.raises(JobError) as failed:
        lap(tmp_path, table, stated)
    assert any(fault in f"{one}" for one in failed.value.faults)
