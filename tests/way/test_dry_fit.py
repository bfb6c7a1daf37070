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
from fabplan.sheets.inspection import closing_sizes
from fabplan.sheets.lint import lint
from fabplan.sheets.record import plan_record
from fabplan.way.dry_fit import as_fitted
from fabplan.way.plan import plan
from tests.body.plates import BEND, along, draw, planned, plate
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
    assert [one.check for one in made.findings] == ["dry-fit", "dry-fit"]
    assert made.findings[1].what == (
        "no size is told of H1, P1, held back to close the body: none between two of their holes was measured"
    )
    assert [one.drawn for one in made.dry_fit] == pytest.approx([one.found for one in made.dry_fit], abs=0.01)
    (closing,) = made.closings
    assert closing.instance == "T1"
    assert closing.drawn == pytest.approx(T1)
    assert closing.must == pytest.approx(T1, abs=0.01)


def test_a_longer_body_wants_a_longer_top(bowser_plan: Plan) -> None:
    """Opening 2.4 mm longer, 1 mm narrower: the top is so too, its holes half of it at each corner."""
    made = fitted(bowser_plan, OPENING * [1.0 + 2.4 / LONG, 1.0 - 1.0 / WIDE])
    (closing,) = made.closings
    assert closing.record is not None
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


def test_an_opening_that_bars_of_its_plate_span_is_held_against_the_inspection_sheet(bowser_plan: Plan) -> None:
    """Plate P1 goes on by its bars G1R and G1L: their holes are 1200 mm apart on the faces of the sides, its width."""
    tape = (TapeSize("Pn 1", "Ps 1", 1200.5), TapeSize("Pn 23", "Ps 23", 1200.0))
    job = replace(bowser_plan.job, dry_fits=(DryFitSpec(tape, 0.5, "steel tape", "none known"),))
    assert bowser_plan.body is not None
    assert bowser_plan.stacks is not None
    assert bowser_plan.sequence is not None
    (step,) = [one for one in bowser_plan.sequence.steps if one.kind == "close" and "P1" in one.title]
    targets = dict(closing_sizes(bowser_plan, step.parts))
    sizes, _, found = as_fitted(job, bowser_plan.body, bowser_plan.stacks, bowser_plan.sequence)
    assert [one.drawn for one in sizes] == pytest.approx([1200.0, 1200.0])
    assert targets["opening for P1, on its mates: hole Pn 1 to Ps 1"] == "1200.0 mm"
    assert [one.what for one in found if one.check == "out-of-square"] == []
    assert any(
        one.what == "no size is told of P1: what was measured lies between holes of G1R, G1L, which come in with it"
        for one in found
    )


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


def closing_lap(folder: Path, table: str) -> Plan:
    """The first lap, its second plate held back: one row of ten holes."""
    folder.mkdir(exist_ok=True)
    copytree(EXAMPLES / "first-lap", folder, dirs_exist_ok=True)
    job = folder / "job.toml"
    job.write_text(job.read_text("utf-8").replace('mark = "P2"\n', 'mark = "P2"\nclosing = true\n'), "utf-8")
    return lap_again(folder, table)


def lap_again(folder: Path, table: str) -> Plan:
    (folder / "fit.csv").write_text(table, "utf-8")
    with (folder / "job.toml").open("a", encoding="utf-8") as job:
        job.write('\n[[dry_fit]]\nsizes = "fit.csv"\naccuracy = 0.5\n')
    return plan(folder / "job.toml")


def row_of(made: Plan) -> float:
    """Length of the row of the first lap, mm."""
    assert made.stacks is not None
    return float(np.linalg.norm(made.stacks.point[-1] - made.stacks.point[0]))


def test_a_piece_with_one_row_is_as_long_as_its_row_and_as_wide_as_drawn(tmp_path: Path, lap_plan: Plan) -> None:
    """The row 3 mm longer than drawn: 1.5 mm at either end, the plate 3 mm longer; nothing tells its width."""
    long = row_of(lap_plan) + 3.0
    made = closing_lap(tmp_path, f"from,to,length\nA 1,A 10,{long:.3f}\n")
    (closing,) = made.closings
    assert np.subtract(closing.must, closing.drawn) == pytest.approx([3.0, 0.0], abs=0.01)
    assert "nothing on the body says how wide" in closing.note
    assert closing.record is not None
    assert np.abs(closing.record.off) == pytest.approx(np.tile([1.5, 0.0], (2, 1)), abs=0.01)
    assert len(told(made, "closing-size")) == 1
    words = " ".join(word for page in dry_fit_sheets(made) for word in words_of(page))
    assert "it stays as drawn" in words


def test_sizes_along_one_row_that_disagree_make_no_piece(tmp_path: Path, lap_plan: Plan) -> None:
    """A 1 to A 5 to A 10 add up to 4 mm more than A 1 to A 10: each of the three is 4/3 mm off the best places."""
    assert lap_plan.stacks is not None
    place = lap_plan.stacks.point
    first, second = (float(np.linalg.norm(place[b] - place[a])) for a, b in ((0, 4), (4, 9)))
    table = f"from,to,length\nA 1,A 5,{first + 4.0:.3f}\nA 5,A 10,{second:.3f}\nA 1,A 10,{first + second:.3f}\n"
    made = closing_lap(tmp_path, table)
    assert made.closings == ()
    (one,) = told(made, "tape-disagrees")
    assert one.measured == pytest.approx(4.0 / 3.0, abs=0.01)


def channel(folder: Path) -> Plan:
    """A plate folded to a channel, 200 by 60 mm outside, between two walls riveted to the outside of its legs."""
    web = 200.0 - 20.0
    blank = 50.0 + BEND + web + BEND + 50.0
    rows = {"B": along(20.0), "C": along(blank - 20.0)}  # 40 mm over the outside of the web
    middles = (50.0 + BEND / 2.0, blank - 50.0 - BEND / 2.0)
    folds: dict[str, tuple[float, ...]] = {f"FOLD {k}": (x, 0.0, x, 240.0) for k, x in enumerate(middles, start=1)}
    draw(folder / "u.dxf", (blank, 240.0), rows, folds)
    for mark, size in (("W1", (150.0, 240.0)), ("W2", (140.0, 240.0))):
        draw(folder / f"{mark}.dxf", size, {"B" if mark == "W1" else "C": along(25.0)}, {})
    form = "folds = [" + ", ".join(
        f'{{ line = "FOLD {k}", angle = 90, inside_radius = 6 }}' for k in (1, 2)
    ) + "]"  # fmt: skip
    pieces = {
        "U": plate("u.dxf", 4, "closing = true", f"fixed = [{blank / 2:.1f}, 120]", form),
        "W1": plate("W1.dxf", 5),
        "W2": plate("W2.dxf", 5),
    }
    return planned(folder, pieces, B=("U/B", "W1/B"), C=("U/C", "W2/C"))


def opened(made: Plan, sizes: list[tuple[str, str]], wider: float, racked: float = 0.0) -> Plan:
    """The plan with sizes of the channel's opening measured, which is wider along x, or racked along y."""
    assert made.stacks is not None
    assert made.body is not None
    at = {number: k for k, number in enumerate(made.stacks.number)}
    place = made.stacks.point.copy()
    other = [at[f"C {k}"] for k in range(1, 8)]
    place[other] += [wider * np.sign(place[other[0], 0] - place[at["B 1"], 0]), racked, 0.0]
    tape = tuple(TapeSize(a, b, float(np.linalg.norm(place[at[b]] - place[at[a]]))) for a, b in sizes)
    job = replace(made.job, dry_fits=(DryFitSpec(tape, 0.5, "steel tape"),))
    dry_fit, closings, found = as_fitted(job, made.body, made.stacks, made.sequence)
    return replace(made, job=job, dry_fit=dry_fit, closings=closings, findings=found)


ACROSS = [("B 1", "C 1"), ("B 7", "C 7"), ("B 1", "C 7"), ("B 1", "B 7")]


def test_a_folded_piece_is_as_wide_over_its_folds_as_the_opening_asks(tmp_path: Path) -> None:
    """2 mm wider from leg to leg: 202 mm over its outside, and as high and as long as drawn."""
    made = opened(channel(tmp_path), ACROSS, 2.0)
    (closing,) = made.closings
    assert closing.drawn == pytest.approx([200.0, 240.0, 60.0], abs=0.01)
    assert closing.must == pytest.approx([202.0, 240.0, 60.0], abs=0.05)
    (one,) = told(made, "closing-size")
    assert "U must be 202.0 x 240.0 x 60.0 mm over all" in one.what
    pages = dry_fit_sheets(made)
    assert [problem for page in pages for problem in lint(page)] == []
    assert plan_record(made)["closings"][0]["must"] == pytest.approx([202.0, 240.0, 60.0], abs=0.05)


def test_a_racked_opening_makes_no_folded_piece(tmp_path: Path) -> None:
    """Legs shifted by 6 mm along the folds: the one diagonal that was measured is longer, and no side of it."""
    made = opened(channel(tmp_path), ACROSS, 0.0, racked=6.0)
    assert made.closings == ()
    assert len(told(made, "tape-disagrees")) == 1


def test_a_diagonal_alone_tells_no_width(tmp_path: Path) -> None:
    made = opened(channel(tmp_path), [("B 1", "C 7")], 2.0)
    assert made.closings == ()
    assert "sizes along its axes leave" in told(made, "tape-disagrees")[0].what
