"""A plate that came thinner or thicker than ordered: what follows it, what does not, and what the standard forbids."""

import math
from dataclasses import replace
from pathlib import Path
from shutil import copytree

import pytest

from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.model.tolerances import thickness_off
from fabplan.rules.tolerances import read_tolerances
from fabplan.way.plan import plan
from tests.body.plates import along, draw, planned, plate

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


STRIP = {  # EN 10051 category A, widths over 1800 (up to 2 mm: over 1500): more or less, by the greatest of each range
    2.0: 0.21, 2.5: 0.25, 3.0: 0.26, 4.0: 0.27, 5.0: 0.29, 6.0: 0.31, 8.0: 0.35, 10.0: 0.40, 12.5: 0.43, 15.0: 0.46
}  # fmt: skip
PLATE = {  # EN 10029:2010 class A, from memory: less, more, by the least of each range
    3.0: (0.3, 0.7), 5.0: (0.4, 0.8), 8.0: (0.5, 0.9), 15.0: (0.6, 1.0), 25.0: (0.7, 1.3)
}  # fmt: skip


@pytest.mark.parametrize("stated", STRIP)
def test_limits_of_plate_rolled_from_strip(stated: float) -> None:
    for standard in ("", "EN 10051"):
        off = thickness_off(read_tolerances(), stated, standard)
        assert off is not None
        assert off[:2] == (STRIP[stated], STRIP[stated])
        assert "EN 10051" in off[2]


@pytest.mark.parametrize("stated", PLATE)
def test_limits_of_plate_rolled_as_plate(stated: float) -> None:
    """Ranges run from their least up to, not including, the next one's."""
    for thick in (stated, min([one for one in PLATE if one > stated], default=40.0) - 0.1):
        off = thickness_off(read_tolerances(), thick, "EN 10029")
        assert off is not None
        assert off[:2] == PLATE[stated]
        assert "EN 10029" in off[2]


def test_beyond_strip_plate_is_taken_and_beyond_both_nothing() -> None:
    beyond = thickness_off(read_tolerances(), 20.0)
    assert beyond is not None
    assert beyond[:2] == PLATE[15.0]
    assert thickness_off(read_tolerances(), 20.0, "EN 10051") is None
    assert thickness_off(read_tolerances(), 40.0) is None


@pytest.mark.parametrize(("standard", "forbidden"), [("", True), ("EN 10051", True), ("EN 10029", False)])
def test_5_6_mm_for_6_is_forbidden_by_the_one_standard_alone(tmp_path: Path, standard: str, forbidden: bool) -> None:
    """EN 10051 lets 6 mm be 5.69 at least; EN 10029 class A lets it be 5.6, which is at its limit."""
    line = f'plate_standard = "{standard}"\nmeasured = {{ thickness = 5.6 }}'
    found = measured(tmp_path, "first-lap", "P1", line)
    assert any(one.check == "thickness-off" for one in found.findings) == forbidden


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


def four_plates(folder: Path, measured: str = "", more: str = "") -> Plan:
    """P1 under Q1 (5 mm) and under R1, which lies on S1 too; all but Q1 are of 6 mm."""
    sizes = {
        "P1": (260.0, {"A": along(30.0), "B": along(230.0)}),
        "Q1": (60.0, {"A": along(30.0)}),
        "R1": (260.0, {"B": along(30.0), "C": along(150.0)}),
        "S1": (100.0, {"C": along(50.0)}),
    }
    folder.mkdir(exist_ok=True)
    for mark, (wide, rows) in sizes.items():
        draw(folder / f"{mark}.dxf", (wide, 240.0), rows, {})
    pieces = {mark: plate(f"{mark}.dxf", 5.0 if mark == "Q1" else 6.0) for mark in sizes}
    pieces["P1"] += f"\n{measured}"
    return planned(folder, pieces, more, A=("Q1/A", "P1/A"), B=("R1/B", "P1/B"), C=("R1/C", "S1/C"))


def lengths(found: Plan) -> dict[str, set[float]]:
    """Lengths of the rivets of each seam, mm."""
    assert found.stacks is not None
    told: dict[str, set[float]] = {}
    for seam, line in zip(found.stacks.seam.tolist(), found.supply.rivet_line, strict=True):
        told.setdefault(found.job.seams[seam].mark, set()).add(found.supply.rivets[line].length)
    return told


def needed(grip: float) -> float:
    """Length of a hot rivet of 10 mm in a hole of 11 mm, mm, by hand.

    Grip x (11 / 10)^2 for the hole, 797 mm3 of a DIN 124 point over 78.54 mm2 of shank, 3 % for scale; steps of 2 mm.
    """
    return 2.0 * math.ceil((grip * 1.21 + 797.0 / 78.54) * 1.03 / 2.0)


def test_the_rivet_lengths_that_should_change_do_and_no_other(tmp_path: Path) -> None:
    """P1 measures 5.6 mm: its rivets hold 10.6 and 11.6 mm for 11 and 12. Only the shorter pass to another length."""
    before, after = four_plates(tmp_path / "a"), four_plates(tmp_path / "b", "measured = { thickness = 5.6 }")
    assert lengths(before) == {"A": {needed(11.0)}, "B": {needed(12.0)}, "C": {needed(12.0)}}
    assert lengths(after) == {"A": {needed(10.6)}, "B": {needed(11.6)}, "C": {needed(12.0)}}
    assert needed(10.6) < needed(11.0)
    assert needed(11.6) == needed(12.0)


def test_a_plate_that_its_standard_forbids_wants_somebody_to_accept_it(tmp_path: Path) -> None:
    """A stop until the job names who accepts it and why; and a stop again when another thickness is measured."""
    thin = "measured = { thickness = 5.6 }"
    found = four_plates(tmp_path, thin)
    (stop,) = [one for one in found.findings if one.check == "thickness-off"]
    assert stop.blocks
    taken = (
        f'[[accept]]\ncheck = "thickness-off"\npart = "P1"\nfingerprint = "{found.fingerprint[:8]}"\n'
        'by = "works engineer"\ndate = 2026-11-02\nreason = "no caulked edge, load reckoned anew"\n'
    )
    (now,) = [one for one in four_plates(tmp_path, thin, taken).findings if one.check == "thickness-off"]
    assert now.accepted == "accepted by works engineer, 2026-11-02: no caulked edge, load reckoned anew"
    again = four_plates(tmp_path, "measured = { thickness = 5.5 }", taken)
    assert [one.blocks for one in again.findings if one.check == "thickness-off"] == [True]
    assert [one.check for one in again.findings if one.check.startswith("acceptance")] == ["acceptance-lapsed"]


def test_a_measured_thickness_wants_a_stated_one(tmp_path: Path) -> None:
    from fabplan.errors import JobError

    with pytest.raises(JobError, match="`measured` thickness"):
        measured(tmp_path, "bowser", "A2", "measured = { thickness = 5.6 }")


def test_the_fingerprint_of_the_kit_tells_it(tmp_path: Path, lap_plan: Plan) -> None:
    found = measured(tmp_path, "first-lap", "P1", "measured = { thickness = 5.8 }")
    assert found.fingerprint != lap_plan.fingerprint
    assert replace(found.job.parts[0], measured=None, place="") == replace(lap_plan.job.parts[0], place="")


OLD = 'provenance = { origin = "original", evidence = "works stamp", doubt = "none known" }'


def test_an_old_plate_was_not_ordered_and_is_not_sent_back(tmp_path: Path) -> None:
    found = measured(tmp_path, "first-lap", "P1", f"{OLD}\nmeasured = {{ thickness = 5.6 }}")
    (note,) = [one for one in found.findings if one.check == "as-built"]
    assert note.what == "P1 is built of 5.6 mm as measured, drawn as 6 mm"
    (stop,) = [one for one in found.findings if one.check == "thickness-off"]
    assert stop.blocks
    assert stop.what == "P1, an old piece, drawn as 6 mm, measures 5.6 mm: thinner than the standard lets new plate be"
    assert "end it back" not in stop.mend
    assert "have it accepted in the job file" in stop.mend


@pytest.mark.parametrize(("line", "told"), [("", ["P1"]), (OLD, [])])
def test_how_a_piece_would_be_made_is_not_asked_of_one_that_is_there(
    tmp_path: Path, line: str, told: list[str]
) -> None:
    """A plate of 1/4 in is not told to be ordered in metric stock where nobody orders it; that is said."""
    copytree(EXAMPLES / "first-lap", tmp_path, dirs_exist_ok=True)
    job = tmp_path / "job.toml"
    text = job.read_text("utf-8").replace("thickness = 6", "thickness = 6.35")
    job.write_text(text.replace('mark = "P1"\n', f'mark = "P1"\n{line}\n'), "utf-8")
    found = plan(job)
    parts = {one.where.part for one in found.findings if one.check == "inch-size"}
    assert sorted(parts & {"P1"}) == told
    assert any("since it is there already: small-hole" in one for one in found.not_checked) == (not told)


def test_the_cut_list_keeps_the_mass_of_the_plate_that_is_ordered(tmp_path: Path) -> None:
    """400 x 200 less ten holes of 11 mm, 6 mm thick, 7850 kg/m3: 3.723 kg; 5.6 mm came, and the body weighs it."""
    made = measured(tmp_path, "first-lap", "P1", "measured = { thickness = 5.6 }")
    ordered = (400.0 * 200.0 - 10.0 * math.pi / 4.0 * 11.0**2) * 6.0 * 7850e-9
    assert made.supply is not None
    assert {line.mark: line.mass_each for line in made.supply.plates}["P1"] == pytest.approx(ordered, abs=1e-6)
    assert made.body is not None
    assert min(part.mass for part in made.body.parts) == pytest.approx(ordered * 5.6 / 6.0, abs=1e-6)
