"""Each faulty drawing has its one fault and no other, whatever the file is called and however the plate lies."""

from pathlib import Path

from ezdxf.math import Matrix44

from fabplan.drawing.find import find_drawings
from fabplan.job.read import read_job
from fabplan.model.finding import Level
from fabplan.rules.sets import rule_set_names
from fabplan.way.check import check_with_job
from tests.drawing.faults import FAULTS, FOLDER, job_text, text_of, write

TURNED = Matrix44.chain(Matrix44.z_rotate(0.6457718232379019), Matrix44.translate(1000.0, 1000.0, 0.0))  # 37 degrees


def found(folder: Path) -> dict[str, list[str]]:
    """Checks of all stops and queries of each drawing of a folder."""
    job = read_job(folder / "job.toml", rule_set_names())
    return {
        one.drawing.name: [finding.check for finding in one.findings if finding.level != Level.NOTE]
        for one in check_with_job(find_drawings(folder), job)
    }


def test_committed_files_are_what_the_generator_gives() -> None:
    assert {path.name for path in FOLDER.iterdir()} == {"job.toml", *(f"{name}.dxf" for name in FAULTS)}
    assert (FOLDER / "job.toml").read_text("utf-8") == job_text()
    for name, fault in FAULTS.items():
        assert (FOLDER / f"{name}.dxf").read_text("utf-8") == text_of(fault), name


def test_each_drawing_has_its_one_fault_and_no_other() -> None:
    assert found(FOLDER) == {f"{name}.dxf": [name] for name in sorted(FAULTS)}


def test_and_the_same_when_renamed_turned_and_shifted(tmp_path: Path) -> None:
    numbers = {name: f"sheet-{number:02d}" for number, name in enumerate(sorted(FAULTS), start=1)}
    write(tmp_path, TURNED, numbers.__getitem__)
    assert found(tmp_path) == {f"{numbers[name]}.dxf": [name] for name in sorted(FAULTS)}


PLACELESS = {"unreadable-drawing", "damaged-drawing", "empty-drawing", "units-in-doubt", "size-differs", "no-profile"}


def test_every_fault_is_told_with_place_and_remedy() -> None:
    job = read_job(FOLDER / "job.toml", rule_set_names())
    for one in check_with_job(find_drawings(FOLDER), job):
        (finding,) = [finding for finding in one.findings if finding.level != Level.NOTE]
        assert finding.mend, finding
        assert finding.source, finding
        if finding.check not in PLACELESS:
            assert finding.where.handles, finding
            handles = {entry.handle for entry in one.drawing.account}
            assert set(finding.where.handles) <= handles, finding
