"""Each faulty drawing has its one fault and no other, its twin none, whatever its name and however it lies."""

import subprocess
import sys
from pathlib import Path

import pytest
from ezdxf.math import Matrix44

from fabplan.drawing.find import find_drawings
from fabplan.job.read import read_job
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Level
from fabplan.rules.sets import rule_set_names
from fabplan.way.check import check_with_job
from tests.drawing.faults import FAULTS
from tests.drawing.register import CLEAR, FAULTY, Folder, job_text, text_of, write

TURNED = Matrix44.chain(Matrix44.z_rotate(0.6457718232379019), Matrix44.translate(1000.0, 1000.0, 0.0))  # 37 degrees
FOLDERS = pytest.mark.parametrize("folder", [FAULTY, CLEAR], ids=["faulty", "clear"])


def found(folder: Path, *, notes: bool) -> dict[str, list[str]]:
    """Checks of all stops and queries of each drawing of a folder, and of its notes where asked."""
    job = read_job(folder / "job.toml", rule_set_names())
    return {
        one.drawing.name: [finding.check for finding in one.findings if notes or finding.level != Level.NOTE]
        for one in check_with_job(find_drawings(folder), job)
    }


@FOLDERS
def test_committed_files_are_what_the_generator_gives(folder: Folder) -> None:
    assert {path.name for path in folder.path.iterdir()} == {"job.toml", *(f"{name}.dxf" for name in folder.kept)}
    assert (folder.path / "job.toml").read_text("utf-8") == job_text(folder)
    for name, fault in folder.kept.items():
        assert (folder.path / f"{name}.dxf").read_text("utf-8") == text_of(fault), name


def test_every_fault_has_its_twin_and_bears_the_name_of_a_check() -> None:
    assert set(FAULTS) - {"beyond-bed.sheet"} == set(CLEAR.kept)
    assert {fault.check for fault in FAULTS.values()} <= set(CHECKS)


def test_each_drawing_has_its_one_fault_and_no_other() -> None:
    assert found(FAULTY.path, notes=True) == {f"{name}.dxf": [fault.check] for name, fault in sorted(FAULTS.items())}


def test_and_the_same_when_renamed_turned_and_shifted(tmp_path: Path) -> None:
    numbers = {name: f"sheet-{number:02d}" for number, name in enumerate(sorted(FAULTS), start=1)}
    write(FAULTY, tmp_path, TURNED, numbers.__getitem__)
    assert found(tmp_path, notes=True) == {f"{numbers[name]}.dxf": [FAULTS[name].check] for name in sorted(FAULTS)}


@FOLDERS
def test_and_the_same_when_mirrored(folder: Folder, tmp_path: Path) -> None:
    write(folder, tmp_path, Matrix44.scale(-1.0, 1.0, 1.0))
    wanted = {f"{name}.dxf": [one.check] * (folder is FAULTY) for name, one in sorted(folder.kept.items())}
    assert found(tmp_path, notes=folder is FAULTY) == wanted


def test_each_twin_has_no_stop_and_no_query() -> None:
    assert found(CLEAR.path, notes=False) == {f"{name}.dxf": [] for name in sorted(CLEAR.kept)}


def test_nor_when_turned_and_shifted(tmp_path: Path) -> None:
    write(CLEAR, tmp_path, TURNED)
    assert found(tmp_path, notes=False) == {f"{name}.dxf": [] for name in sorted(CLEAR.kept)}


@FOLDERS
def test_the_command_tells_them_apart(folder: Folder) -> None:
    """Not even a note of the check whose name a twin bears, and exit status 0."""
    command = [sys.executable, "-m", "fabplan", "check", str(folder.path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == (1 if folder is FAULTY else 0), done.stderr
    for name, fault in folder.kept.items():
        assert (f" {fault.check}: {name}.dxf" in done.stdout) == (folder is FAULTY), name


PLACELESS = {
    "unreadable-drawing", "damaged-drawing", "empty-drawing", "units-in-doubt", "size-differs", "no-profile",
    "dxf-version", "supplier-unit",
}  # fmt: skip


def test_every_fault_is_told_with_place_and_remedy() -> None:
    job = read_job(FAULTY.path / "job.toml", rule_set_names())
    for one in check_with_job(find_drawings(FAULTY.path), job):
        (finding,) = one.findings
        assert finding.mend, finding
        assert finding.source, finding
        if finding.check not in PLACELESS:
            assert finding.where.handles, finding
            handles = {entry.handle for entry in one.drawing.account}
            assert set(finding.where.handles) <= handles, finding
