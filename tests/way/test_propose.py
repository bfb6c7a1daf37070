"""`fabplan new` on a folder of bare drawings and tables: seams proposed, shown, written; what is open asked."""

from pathlib import Path

import pytest
from click.testing import CliRunner

from fabplan.cli import root
from fabplan.errors import FabplanError, OutputError
from fabplan.job.read import read_job
from fabplan.way.assembly import assembled
from fabplan.way.propose import begin
from tests.unseamed.folder import BARE, ROWS, write_folder
from tests.unseamed.judge import same_body
from tests.unseamed.kits import kit


def folder(at: Path, name: str, seed: int, layers: str = ROWS) -> Path:
    write_folder(kit(name, seed), at, layers)
    return at


def test_the_job_written_puts_the_true_body_together(tmp_path: Path) -> None:
    """The search that works from seams, in `fabplan.body`, places all pieces where they were built."""
    begun = begin(folder(tmp_path, "box", 1, BARE), {})
    assert begun.told.whole
    assert not begun.questions
    made = assembled(begun.path)
    body = made.placing.body
    assert None not in body.poses
    assert (made.placing.doubt, made.placing.faults) == (None, 0)
    assert same_body(kit("box", 1), body)
    assert len(made.job.seams) == len(kit("box", 1).seams)


def test_counts_reasons_and_a_picture_of_each_seam(tmp_path: Path) -> None:
    begun = begin(folder(tmp_path, "hopper", 0), {})
    page = (tmp_path / "seams.html").read_text("utf-8")
    assert page.count("<svg") == len(begun.told.seams) + sum(len(choice.ways) for choice in begun.told.choices)
    for seam in begun.told.seams:
        assert any(line.startswith(f"{seam.mark}: {len(seam.points)} holes meet") for line in begun.lines)
    assert {len(seam.points) for seam in begun.told.seams} == {len(seam.points) for seam in kit("hopper", 0).seams}


def test_what_holes_cannot_tell_is_asked_at_most_three_times_and_answered_by_options(tmp_path: Path) -> None:
    begun = begin(folder(tmp_path / "one", "plating", 2), {})
    assert 0 < sum(line.startswith("which way") for line in begun.questions) <= 3
    (choice,) = begun.told.choices
    answered = begin(folder(tmp_path / "two", "plating", 2), {1: 2})
    assert not answered.questions
    job = read_job(answered.path)
    assert len(job.places) == len(choice.pieces)
    with pytest.raises(FabplanError, match="to no open choice"):
        begin(folder(tmp_path / "three", "plating", 2), {7: 1})


def test_it_says_that_it_is_unsure_rather_than_guess(tmp_path: Path) -> None:
    begun = begin(folder(tmp_path, "box", 1), {}, work=60)
    assert not begun.told.whole
    assert any(line.startswith("Not sure") for line in begun.lines)
    assert read_job(begun.path).seams == ()


def test_a_job_that_is_there_is_left_alone(tmp_path: Path) -> None:
    (folder(tmp_path, "plating", 2) / "job.toml").write_text("", "utf-8")
    with pytest.raises(OutputError, match="already there"):
        begin(tmp_path, {})


def test_the_command_line_takes_answers_from_a_file(tmp_path: Path) -> None:
    folder(tmp_path / "kit", "plating", 2)
    (tmp_path / "answers").write_text("# ways\n1 = 1\n", "utf-8")
    ran = CliRunner().invoke(root, ["new", str(tmp_path / "kit"), "--answers", str(tmp_path / "answers")])
    assert ran.exit_code == 0, ran.output
    assert "which way" not in ran.output
    assert "job.toml: look at" in ran.output
    wrong = CliRunner().invoke(root, ["new", str(tmp_path / "kit"), "--answer", "left"])
    assert isinstance(wrong.exception, FabplanError)
