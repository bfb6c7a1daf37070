"""One drawing of a folder that cannot be read, or that nobody foresaw, is one finding; folders within are named."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fabplan.drawing import read, source
from fabplan.errors import DrawingError
from fabplan.model.finding import Level
from fabplan.way import check
from fabplan.way.look import Outcome, Wanted, look, record
from fabplan.way.plan import plan
from tests.drawing.plates import Draft, strip

JOB = """
[job]
rules = "en1993-1-8-2005"
[[part]]
mark = "P1"
drawing = "b.dxf"
thickness = 6
"""


def folder(path: Path) -> Path:
    for name in ("a", "b", "c"):
        strip(Draft()).doc.saveas(path / f"{name}.dxf")
    return path


def failing(real: Callable[..., Any], error: BaseException) -> Callable[..., Any]:
    """A function that fails on the drawing b.dxf."""

    def put(*given: Any) -> Any:
        if any(getattr(one, "name", "") == "b.dxf" for one in given):
            raise error
        return real(*given)

    return put


def of(outcome: Outcome, name: str) -> Any:
    (one,) = [one for one in outcome.checked if one.drawing.name == name]
    return one


@pytest.mark.parametrize("error", [ZeroDivisionError("by nought"), MemoryError(), RecursionError("too deep")])
@pytest.mark.parametrize(("room", "step"), [(read, "open_source"), (check, "check_drawing"), (check, "judge")])
def test_what_nobody_foresaw_is_one_finding(
    room: Any, step: str, error: Exception, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(room, step, failing(getattr(room, step), error))
    outcome = look(Wanted(folder(tmp_path), thickness=6.0))
    assert [one.drawing.name for one in outcome.checked] == ["a.dxf", "b.dxf", "c.dxf"]
    (finding,) = [one for one in of(outcome, "b.dxf").findings if one.check == "unreadable-drawing"]
    assert (finding.level, finding.blocks) == (Level.STOP, True)
    assert f"fabplan itself failed on this drawing: {type(error).__name__}" in finding.what
    assert str(error) in finding.what
    for name in ("a.dxf", "c.dxf"):
        assert len(of(outcome, name).drawing.holes) == 13
        assert "unreadable-drawing" not in [one.check for one in of(outcome, name).findings]
    assert of(outcome, "b.dxf").not_checked or step == "open_source"
    json.dumps(record(outcome))


def test_a_stop_from_outside_goes_through(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever stops the program stops it."""
    monkeypatch.setattr(read, "open_source", failing(source.open_source, KeyboardInterrupt()))
    with pytest.raises(KeyboardInterrupt):
        look(Wanted(folder(tmp_path)))


def test_the_whole_way_goes_on_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (folder(tmp_path) / "job.toml").write_text(JOB, "utf-8")
    monkeypatch.setattr(read, "open_source", failing(source.open_source, ZeroDivisionError("by nought")))
    found = plan(tmp_path / "job.toml").findings
    assert any("ZeroDivisionError: by nought" in one.what for one in found if one.check == "unreadable-drawing")


def test_a_drawing_that_may_not_be_read_is_a_finding_of_its_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Named by itself it is an error of one sentence: then nothing is left to look at."""
    real = Path.open

    def refused(self: Path, *given: Any, **more: Any) -> Any:
        if self.name == "b.dxf":
            raise PermissionError(13, "Permission denied")
        return real(self, *given, **more)

    monkeypatch.setattr(Path, "open", refused)
    outcome = look(Wanted(folder(tmp_path)))
    (finding,) = of(outcome, "b.dxf").findings
    assert (finding.check, finding.mend) == ("unreadable-drawing", "Look at its permissions.")
    assert "Permission denied" in finding.what
    with pytest.raises(DrawingError, match="Permission denied"):
        look(Wanted(tmp_path / "b.dxf"))


def test_folders_within_are_named_and_not_read(tmp_path: Path) -> None:
    folder(tmp_path)
    for place in ("old/rev A", "sub", "empty", "words"):
        (tmp_path / place).mkdir(parents=True)
    (tmp_path / "words" / "readme.txt").write_text("none", "utf-8")
    for place in ("old/rev A", "sub"):
        strip(Draft()).doc.saveas(tmp_path / place / "d.DXF")
    (tmp_path / "round").symlink_to(tmp_path, target_is_directory=True)
    outcome = look(Wanted(tmp_path))
    assert (len(outcome.checked), outcome.folders) == (3, ("old", "sub"))
    assert record(outcome)["folders_passed_over"] == ["old", "sub"]
    assert outcome.not_checked[0].endswith("each to be checked by itself: old, sub")
    command = [sys.executable, "-m", "fabplan", "check", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=dict(os.environ))
    assert "drawings in folders within this one, each to be checked by itself: old, sub" in done.stdout
    for name in ("a", "b", "c"):
        (tmp_path / f"{name}.dxf").unlink()
    with pytest.raises(DrawingError, match=r"holds no DXF file.*Name one of its folders that do: old, sub"):
        look(Wanted(tmp_path))


def test_a_folder_without_others_says_nothing_of_them(tmp_path: Path) -> None:
    outcome = look(Wanted(folder(tmp_path)))
    assert outcome.folders == ()
    assert "folders_passed_over" not in record(outcome)
