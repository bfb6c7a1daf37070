"""Where pieces come from: what is there is not bought, and the evidence is printed where somebody looks for it."""

from pathlib import Path
from shutil import copytree

import pytest

from fabplan.errors import JobError
from fabplan.model.plan import Plan
from fabplan.sheets.check_sheet import check_sheet
from fabplan.sheets.inspection import points
from fabplan.sheets.lint import lint
from fabplan.sheets.lists import list_pages, listings
from fabplan.sheets.record import plan_record
from fabplan.way.plan import plan
from tests.kits.draw import write_drawings
from tests.kits.job_file import job_text
from tests.kits.random_kits import box
from tests.sheets.words import words_of

LAP = Path(__file__).parents[2] / "examples" / "first-lap"
TOLD = 'evidence = "works stamp on the back", doubt = "stamp is of a series"'


def lap(folder: Path, provenance: str) -> Plan:
    """The first lap with a line more in its plate P1."""
    copytree(LAP, folder, dirs_exist_ok=True)
    job = folder / "job.toml"
    text = job.read_text("utf-8")
    assert text.count('mark = "P1"\n') == 1
    job.write_text(text.replace('mark = "P1"\n', f'mark = "P1"\nprovenance = {provenance}\n'), "utf-8")
    return plan(job)


@pytest.mark.parametrize(
    ("origin", "cut"), [("new", True), ("copied", True), ("original", False), ("repaired", False), ("recovered", False)]
)
def test_what_is_there_is_not_cut(tmp_path: Path, lap_plan: Plan, origin: str, cut: bool) -> None:
    """New pieces and copies are made now; the others are there. Rivets and the mass of the body are the same."""
    found = lap(tmp_path, f'{{ origin = "{origin}", {TOLD} }}')
    assert [line.mark for line in found.supply.plates] == (["P1", "P2"] if cut else ["P2"])
    assert found.supply.rivets == lap_plan.supply.rivets
    assert found.supply.total_mass == pytest.approx(lap_plan.supply.total_mass)
    lists = {one.name: one for one in listings(found)}
    said = any("neither cut nor bought: P1" in line for line in lists["cut-list"].after)
    assert said is not cut
    (row,) = lists["provenance"].rows
    assert row[:2] == ("P1", 1)
    assert row[3:7] == (origin, "yes" if cut else "no", "works stamp on the back", "stamp is of a series")
    assert [problem for page in list_pages(found, lists["provenance"]) for problem in lint(page)] == []


def test_evidence_and_doubt_stand_where_inspector_and_storeman_look(tmp_path: Path) -> None:
    found = lap(tmp_path, f'{{ origin = "recovered", {TOLD} }}')
    words = "recovered; evidence: works stamp on the back; doubt: stamp is of a series"
    sheet = next(one for one in found.checked if one.part is not None and one.part.mark == "P1")
    assert words in " ".join(words_of(check_sheet(sheet, found.job)[0]))
    goods_in = [one.what for one in points(found) if one.step == "goods in"]
    assert f"old piece P1: {words}" in goods_in
    one, other = plan_record(found)["parts"]
    told = {"origin": "recovered", "evidence": "works stamp on the back", "doubt": "stamp is of a series"}
    assert (one["provenance"], other["provenance"]) == (told, None)


def test_a_job_of_new_pieces_has_no_list_of_origins(lap_plan: Plan) -> None:
    assert "provenance" not in [one.name for one in listings(lap_plan)]


@pytest.mark.parametrize(
    ("stated", "fault"),
    [
        ('{ origin = "old" }', 'Expected "new", "original", "repaired", "recovered" or "copied"'),
        ('{ evidence = "stamp" }', 'the key "origin" is missing'),
        ('{ origin = "original", evidence = "stamp" }', "`evidence` and `doubt`"),
        ('{ origin = "copied", doubt = "none known" }', "`evidence` and `doubt`"),
        ('{ origin = "new", proof = "stamp" }', 'unknown key "proof"'),
    ],
)
def test_unknown_words_and_missing_evidence_are_faults(tmp_path: Path, stated: str, fault: str) -> None:
    with pytest.raises(JobError) as failed:
        lap(tmp_path, stated)
    assert any(fault in f"{one}" for one in failed.value.faults)


def test_an_old_bar_is_not_sawn(tmp_path: Path) -> None:
    """Of the box's bars the corner angle C2 was kept: the bar list has one less."""
    kit = box(1)
    write_drawings(kit, tmp_path)
    text, job = job_text(kit), tmp_path / "job.toml"
    job.write_text(text, "utf-8")
    before = plan(job)
    old = f'mark = "C2"\nprovenance = {{ origin = "original", {TOLD} }}\n'
    job.write_text(text.replace('mark = "C2"\n', old), "utf-8")
    after = plan(job)
    assert {one.mark for one in before.supply.bars} - {one.mark for one in after.supply.bars} == {"C2"}
    bars = next(one for one in listings(after) if one.name == "bar-list")
    assert "There already, neither cut nor bought: C2; see the provenance list." in bars.after
