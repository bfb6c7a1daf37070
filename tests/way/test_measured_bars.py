"""An old angle on a new plate, its holes measured from its marked end and its heel: they are where they are."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.errors import JobError
from fabplan.model.page import Arc
from fabplan.model.plan import Plan
from fabplan.sheets.lint import lint
from fabplan.sheets.measured_sheet import measured_sheets
from fabplan.sheets.record import plan_record
from fabplan.way.plan import plan
from tests.body.plates import along, draw, planned
from tests.sheets.words import words_of

PLACES = (20.0, 50.0, 80.0, 110.0, 140.0, 170.0, 215.0)
ROWS = 'rows = [{{ row = "A", leg = "a", back_mark = 30, at = [{}], diameter = 11 }}]'


def measured(folder: Path, holes: dict[int, str], stated: str = "accuracy = 0.3", more: str = "") -> Plan:
    """A plate with seven holes, and an angle with the same, measured where they are drawn but for `holes`."""
    draw(folder / "base.dxf", (100.0, 240.0), {"A": along(50.0)}, {})
    rows = [holes.get(k, f"A {k},{at},30,,") for k, at in enumerate(PLACES, start=1)]
    (folder / "angle.csv").write_text("\n".join(["hole,x,y,diameter,least_diameter", *rows]), "utf-8")
    angle = [
        'section = "L50x50x6"',
        "length = 240",
        ROWS.format(", ".join(map(str, PLACES))),
        'provenance = { origin = "recovered", evidence = "stamp", doubt = "none known" }',
        f'measured = {{ holes = "angle.csv", source = "rule", {stated} }}',
    ]
    return planned(
        folder, {"BASE": 'drawing = "base.dxf"\nthickness = 6', "L": "\n".join(angle)}, more, A=("L/A", "BASE/A")
    )


def told(found: Plan, check: str) -> list[str]:
    return [one.what for one in found.findings if one.check == check]


def test_a_hole_of_a_bar_is_where_it_was_measured(tmp_path: Path) -> None:
    """A 4 lies 1.5 mm farther along and 0.4 mm farther from the heel: the bar has it there, the others as stated."""
    found = measured(tmp_path, {4: "A 4,111.5,30.4,,"})
    assert found.body is not None
    part = next(part for part in found.body.parts if part.mark == "L")
    xy = part.holes.holes.xy
    assert part.holes.holes.number == tuple(f"A {k}" for k in range(1, 8))
    assert xy[:, 0] == pytest.approx([20.0, 50.0, 80.0, 111.5, 140.0, 170.0, 215.0])
    assert np.abs(xy[:, 1]) == pytest.approx([30.0, 30.0, 30.0, 30.4, 30.0, 30.0, 30.0])
    assert told(found, "measured-holes") == [
        "L: 7 holes are taken as measured (rule), from its marked end and heel; 1 off its rows by more than the "
        "accuracy of 0.3 mm, the worst A 4 by +1.50 along it, +0.40 from its heel"
    ]
    assert found.stacks is not None
    out = dict(zip(found.stacks.number, found.stacks.misfit.tolist(), strict=True))
    assert out["A 4"] == pytest.approx(np.hypot(1.5, 0.4), abs=0.05)


def test_an_oval_hole_of_a_bar_is_told_and_its_least_is_the_bodys(tmp_path: Path) -> None:
    found = measured(tmp_path, {2: "A 2,50,30,12.6,11.6"})
    assert told(found, "oval-hole") == ["L: hole A 2 is oval, 12.6 by 11.6 mm, diameters within 0.2 mm"]
    assert found.body is not None
    part = next(part for part in found.body.parts if part.mark == "L")
    assert part.holes.holes.diameter[1] == 11.6


def test_a_bar_measured_from_its_other_end_is_not_taken(tmp_path: Path) -> None:
    """240 mm long: A 1 at 20 from the marked end lies at 220 from the other."""
    found = measured(tmp_path, {k: f"A {k},{240.0 - at},30,," for k, at in enumerate(PLACES, start=1)})
    (what,) = told(found, "measured-mirrored")
    assert "fit from its other end" in what
    assert told(found, "misfit") == []
    assert [one.taken for one in found.measured] == [False]


def test_a_hole_that_no_row_has_is_told(tmp_path: Path) -> None:
    (what,) = told(measured(tmp_path, {7: "B 1,215,30,,"}), "measured-unknown")
    assert what == "L: 1 measured holes are in none of its rows: B 1"


def test_its_sheet_and_record(tmp_path: Path) -> None:
    found = measured(tmp_path, {4: "A 4,111.5,30.4,,"})
    pages = measured_sheets(found)
    assert [problem for page in pages for problem in lint(page)] == []
    words = " ".join(word for page in pages for word in words_of(page))
    assert "L, L50x50x6" in words
    assert "along the bar from its marked end" in words
    assert len({item.centre for item in pages[0].items if isinstance(item, Arc)}) == 7  # every hole is drawn
    assert "leg a: marked end left, heel below; arrow: from drawn to measured" in words
    (record,) = plan_record(found)["measured"]
    assert (record["part"], record["taken"], len(record["holes"])) == ("L", True, 7)


def test_a_tape_of_a_bar_is_refused(tmp_path: Path) -> None:
    (tmp_path / "tape.csv").write_text("from,to,length\nA 1,A 2,30\n", "utf-8")
    with pytest.raises(JobError) as failed:
        measured(tmp_path, {}, 'tape = "tape.csv", accuracy = 0.3')
    assert any("sizes by tape of a bar" in f"{one}" for one in failed.value.faults)
    text = (tmp_path / "job.toml").read_text("utf-8")
    (tmp_path / "job.toml").write_text(text.replace('tape = "tape.csv", ', ""), "utf-8")
    assert plan(tmp_path / "job.toml").measured
