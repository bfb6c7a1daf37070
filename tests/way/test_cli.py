"""The command line as a user meets it: exit status, one clear sentence, nothing half-written, the same bytes."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LAP = ROOT / "examples" / "first-lap" / "job.toml"


def run(*words: str | Path, **env: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "fabplan", *map(str, words)]
    return subprocess.run(command, capture_output=True, text=True, env={**os.environ, **env}, check=False, cwd=ROOT)


def sentence(done: subprocess.CompletedProcess[str]) -> str:
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    return done.stderr


def test_faulty_drawings_stop_and_the_demo_does_not() -> None:
    assert run("check", ROOT / "drawings" / "faulty").returncode == 1
    assert run("check", ROOT / "drawings" / "bowser").returncode == 0


@pytest.mark.parametrize("words", ["10/11", "10 / 11", "R10/11", "10"])
def test_the_rivet_taken_is_told(words: str) -> None:
    """However it is written; a hole not stated is 1 mm over, as README says."""
    done = run("check", ROOT / "examples" / "first-lap" / "P1.dxf", "--thickness", "6", "--rivet", words)
    assert done.stdout.startswith("by a rivet of 10 mm in a hole of 11 mm\n")


@pytest.mark.parametrize("module", ["fabplan", "fabplan.cli"])
def test_both_modules_run(module: str) -> None:
    """With nothing asked for: how to ask, and exit status 2."""
    done = subprocess.run([sys.executable, "-m", module], capture_output=True, text=True, check=False, cwd=ROOT)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Usage:" in done.stderr


def test_what_has_no_place_is_told_by_its_handle(tmp_path: Path) -> None:
    region = "0\nREGION\n5\n{}\n100\nAcDbEntity\n8\nCUT\n100\nAcDbModelerGeometry\n70\n1\n"
    head = "0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1015\n0\nENDSEC\n0\nSECTION\n2\nENTITIES\n"
    held = "".join(region.format(handle) for handle in ("A1", "A2", "A3", "A4", "A5"))
    (tmp_path / "plate.dxf").write_text(head + held + "0\nENDSEC\n0\nEOF\n")
    told = "unsupported-entity: plate.dxf handle A1, A2, A3 and 2 more: 5 REGION on layer CUT"
    assert told in run("check", tmp_path / "plate.dxf").stdout


def test_json_is_json() -> None:
    done = run("check", ROOT / "drawings" / "bowser" / "F1.dxf", "--thickness", "6", "--rivet", "10/11", "--json")
    record = json.loads(done.stdout)
    assert done.returncode == 0
    assert record["drawings"][0]["holes"] == 194


def test_the_job_beside_a_drawing_judges_it_unless_stated_otherwise() -> None:
    """The drawing of a plate that its job makes 11 mm thick: too much for a 10 mm rivet; 6 mm would do."""
    drawing = ROOT / "drawings" / "faulty" / "diameter-for-thickness.dxf"
    assert "QUERY  diameter-for-thickness" in run("check", drawing).stdout
    assert "diameter-for-thickness:" not in run("check", drawing, "--thickness", "6", "--rivet", "10/11").stdout


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("check", "nowhere.dxf"), "there is no drawing nowhere.dxf"),
        (("check", "tests"), "holds no DXF file"),
        (("plan", "nowhere.toml", "--out", "{out}"), "there is no job file"),
        (("check", "README.md"), "neither a DXF drawing nor a job file"),
        (("check", "drawings/bowser", "--rivet", "ten"), "is no rivet"),
        (("check", "drawings/bowser", "--rivet", "10/11/12"), "Write 10 or 10/11"),
        (("check", "drawings/bowser", "--rivet", "10,5/11"), "Write 10.5/11, with a decimal point."),
        (("check", "drawings/bowser", "--thickness", "6,0"), "Write 6.0, with a decimal point."),
        (("check", "drawings/bowser", "--thickness", "six"), "State it in mm"),
        (("check", "drawings/bowser", "--thickness", "nan"), "no plate for riveting"),
        (("check", "drawings/bowser", "--thickness", "-3"), "no plate for riveting"),
        (("check", "examples/first-lap/job.toml", "--thickness", "6"), "Leave these options out"),
    ],
)
def test_what_cannot_run_is_one_sentence(words: tuple[str, ...], told: str, tmp_path: Path) -> None:
    done = run(*(word.format(out=tmp_path / "out") for word in words))
    assert told in sentence(done)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ('"P2.dxf"', '"P3.dxf"', 'there is no drawing "P3.dxf"'),
        ('parts = ["P2", "P1"]', 'parts = ["P9", "P1"]', '"P9" is no piece'),
        ("[job]", "[job", "not valid TOML"),
        (
            "[[seam]]",
            '[[part]]\nmark = "A1"\nsection = "L51x50x6"\nlength = 300\n[[seam]]',
            '"A1": section: the section',
        ),
    ],
)
def test_a_faulty_job_writes_nothing(old: str, new: str, told: str, tmp_path: Path) -> None:
    folder = tmp_path / "job"
    folder.mkdir()
    for name in ("P1.dxf", "P2.dxf"):
        (folder / name).write_bytes((LAP.parent / name).read_bytes())
    text = LAP.read_text("utf-8")
    assert old in text
    (folder / "job.toml").write_text(text.replace(old, new), "utf-8")
    assert told in sentence(run("plan", folder / "job.toml", "--out", tmp_path / "out"))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job"]


def test_a_folder_of_another_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("keep", "utf-8")
    assert "did not write" in sentence(run("plan", LAP, "--out", tmp_path))
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


@pytest.mark.parametrize("sign", ['{"my": "own"}', '{"schema": 1, "papers": ["plan.json"]}', "no json"])
def test_nothing_of_anybody_else_is_lost(sign: str, tmp_path: Path) -> None:
    """A folder with a job, drawings and a plan.json of another program, or of ours with a file beside it."""
    for path in LAP.parent.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    (tmp_path / "plan.json").write_text(sign, "utf-8")
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert "which fabplan did not write" in sentence(run("plan", tmp_path / "job.toml", "--out", tmp_path))
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_lists_of_a_plan_with_stops_are_struck(tmp_path: Path) -> None:
    """The file that a supplier gets says itself that it must not be used."""
    for name in ("P1.dxf", "P2.dxf"):
        (tmp_path / name).write_bytes((LAP.parent / name).read_bytes())
    (tmp_path / "job.toml").write_text(LAP.read_text("utf-8").split("[[seam]]")[0], "utf-8")
    assert run("plan", tmp_path / "job.toml", "--out", tmp_path / "out").returncode == 1
    text = (tmp_path / "out" / "cut-list.csv").read_text("utf-8-sig").splitlines()
    assert text[0].endswith(",issue")
    assert all("Not for issue:" in line for line in text[1:])


def test_same_input_same_bytes(tmp_path: Path) -> None:
    """Two folders, two hash seeds, two time zones; the second folder is replaced whole."""
    run("plan", LAP, "--out", tmp_path / "a", PYTHONHASHSEED="1", TZ="UTC")
    run("plan", LAP, "--out", tmp_path / "b", PYTHONHASHSEED="2", TZ="Asia/Tokyo")
    done = run("plan", LAP, "--out", tmp_path / "b", PYTHONHASHSEED="3", TZ="Asia/Tokyo")
    assert done.returncode == 0, done.stdout
    one, other = ({p.name: p.read_bytes() for p in (tmp_path / name).iterdir()} for name in "ab")
    assert sorted(one) == sorted(other)
    assert [name for name in one if one[name] != other[name]] == []
    assert "lists.xlsx" in one
    assert "sequence.pdf" in one


@pytest.mark.parametrize("fault", ["empty-drawing", "unreadable-drawing", "no-profile", "open-profile"])
def test_a_datum_without_a_form_is_told_not_thrown(fault: str, tmp_path: Path) -> None:
    """A datum that cannot be read, or does not close: stops, all papers, no figure that is none."""
    (tmp_path / "P1.dxf").write_bytes((ROOT / "drawings" / "faulty" / f"{fault}.dxf").read_bytes())
    (tmp_path / "P2.dxf").write_bytes((LAP.parent / "P2.dxf").read_bytes())
    (tmp_path / "job.toml").write_text(LAP.read_text("utf-8"), "utf-8")
    done = run("plan", tmp_path / "job.toml", "--out", tmp_path / "out")
    assert done.returncode == 1
    assert done.stderr == ""
    assert f"STOP   {fault}" in done.stdout
    assert "nan" not in (tmp_path / "out" / "cut-list.csv").read_text("utf-8-sig")


def test_what_new_writes_can_be_checked(tmp_path: Path) -> None:
    """A fresh job has neither thickness nor seams: all of that is listed as not checked, and every piece not placed."""
    for name in ("P1.dxf", "P2.dxf"):
        (tmp_path / name).write_bytes((LAP.parent / name).read_bytes())
    assert run("new", tmp_path).returncode == 0
    done = run("check", tmp_path / "job.toml")
    assert done.stderr == ""
    assert "for want of a thickness" in done.stdout
    assert "form not known, so nothing about the body: P1, P2" in done.stdout


def test_no_name_commands_the_terminal(tmp_path: Path) -> None:
    """ECMA-48: a control sequence starts with ESC; a name may hold it, and bytes that are no text."""
    plate = (ROOT / "drawings" / "clear" / "near-fold.dxf").read_bytes()
    for name in (b"a\x1b[31m.dxf", b"b\xff.dxf", b"[bold]c.dxf"):
        Path(os.fsdecode(bytes(tmp_path) + b"/" + name)).write_bytes(plate)
    for words in (("new", tmp_path), ("check", tmp_path), ("check", tmp_path, "--thickness", "6")):
        done = run(*words)
        assert "Traceback" not in done.stderr
        assert "\x1b" not in done.stdout + done.stderr
    assert "a\\x1b[31m.dxf" in done.stdout
    assert "b\\udcff.dxf" in done.stdout
