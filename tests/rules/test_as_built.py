"""A plate that came thinner or thicker than ordered: what follows it, what does not, and what the standard forbids."""

from dataclasses import replace
from pathlib import Path
from shutil import copytree

import pytest

from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.rules.tolerances import read_tolerances
from fabplan.way.plan import plan

EXAMPLES = Path(__file__).parents[2] / "examples"


def measured(folder: Path, name: str, mark: str, line: str) -> Plan:
    """A demo with one line more in one part."""
    if name == "bowser":
        copytree(EXAMPLES.parent / "drawings" / name, folder / "drawings" / name)
    copytree(EXAMPLES / name, folder / "examples" / name)
    job = folder / "examples" / name / "job.toml"
    text = job.read_text("utf-8")
    assert text.count(f'mark = "{mark}"\n') == 1
    job.write_text(text.replace(f'mark = "{mark}"\n', f'mark = "{mark}"\n{line}\n'), "utf-8")
    return plan(job)


def lengths(found: Plan) -> dict[str, float]:
    """Length of the rivet of each seam's every grip, by seam and grip as drawn."""
    return {seam: line.length for line in found.supply.rivets for seam in line.seams}


@pytest.mark.parametrize(
    ("stated", "least", "most"),
    [(6.0, 5.69, 6.31), (8.0, 7.65, 8.35), (10.0, 9.6, 10.4)],
)
def test_limits_of_strip_rolled_plate(stated: float, least: float, most: float) -> None:
    """EN 10051 category A, widths over 1800 mm: 0.31 to 6 mm, 0.35 to 8 mm, 0.40 to 10 mm, more or less."""
    from fabplan.model.tolerances import thickness_limits

    assert thickness_limits(read_tolerances(), stated) == pytest.approx((least, most))


def test_a_plate_of_5_6_mm_for_6_changes_the_grips_that_it_lies_in_and_no_other(tmp_path: Path, lap_plan: Plan) -> None:
    """Two plates of 6 mm, one measured 5.6: every grip is 11.6 where it was 12; EN 10051 lets it be 5.69 at least."""
    found = measured(tmp_path, "first-lap", "P1", "measured = { thickness = 5.6 }")
    assert lap_plan.stacks is not None
    assert found.stacks is not None
    assert lap_plan.stacks.grip == pytest.approx(12.0)
    assert found.stacks.grip == pytest.approx(11.6)
    stops = {one.check for one in found.findings if one.level is Level.STOP}
    assert stops == {"thickness-off"}
    (told,) = [one for one in found.findings if one.check == "thickness-off"]
    assert told.where.part == "P1"
    assert told.required == pytest.approx(5.69)
    assert [line.thickness for line in found.supply.plates] == [6.0, 6.0]


def test_within_the_standard_it_is_a_note(tmp_path: Path) -> None:
    found = measured(tmp_path, "first-lap", "P1", "measured = { thickness = 5.8 }")
    assert found.stacks is not None
    assert found.stacks.grip == pytest.approx(11.8)
    assert not any(one.level is Level.STOP for one in found.findings)
    assert [one.where.part for one in found.findings if one.check == "as-built"] == ["P1"]


def test_on_the_bowser_the_seams_of_one_plate_follow_it(tmp_path: Path, bowser_plan: Plan) -> None:
    """End E1 is ordered 6 mm: measured 5.6, rivets through it have 0.4 mm less grip, and all others their old one."""
    found = measured(tmp_path, "bowser", "E1", "measured = { thickness = 5.6 }")
    before, after, body = bowser_plan.stacks, found.stacks, bowser_plan.body
    assert before is not None
    assert after is not None
    assert body is not None
    assert before.number == after.number
    piece = [one.mark for one in body.instances].index("E1")
    through = {i for i in range(len(before)) if piece in before.ply_instance[before.first[i] : before.first[i + 1]]}
    for i in range(len(before)):
        assert after.grip[i] == pytest.approx(before.grip[i] - (0.4 if i in through else 0.0), abs=1e-6)
    changed = {seam for seam, length in lengths(found).items() if length != lengths(bowser_plan)[seam]}
    of_piece = {bowser_plan.job.seams[int(before.seam[i])].mark for i in through}
    assert changed <= of_piece


def test_a_measured_thickness_wants_a_stated_one(tmp_path: Path) -> None:
    from fabplan.errors import JobError

    with pytest.raises(JobError, match="`measured` thickness"):
        measured(tmp_path, "bowser", "A2", "measured = { thickness = 5.6 }")


def test_the_fingerprint_of_the_kit_tells_it(tmp_path: Path, lap_plan: Plan) -> None:
    found = measured(tmp_path, "first-lap", "P1", "measured = { thickness = 5.8 }")
    assert found.fingerprint != lap_plan.fingerprint
    assert replace(found.job.parts[0], measured=None, place="") == replace(lap_plan.job.parts[0], place="")
