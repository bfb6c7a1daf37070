"""Plates formed to template: their holes are taken from the mates, rivets counted, nothing else forecast of them.

Their nominal thickness counts in the grip, as that of any ply.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.lint import lint
from tests.body.plates import INSIDE, along, draw, planned, plate
from tests.sheets.words import words

TRIMMED = 'formed = "template"\ntrim = 20'


def tank(folder: Path, template: str = TRIMMED, rows: dict[str, np.ndarray] | None = None, more: str = "") -> Plan:
    """Two plates lapped, and a dished one that is riveted to a row of each."""
    draw(folder / "P.dxf", (300.0, 240.0), {"A": along(275.0), "B": along(25.0)}, {})
    draw(folder / "Q.dxf", (300.0, 240.0), {"A": along(25.0), "C": along(275.0)[:5]}, {})
    draw(folder / "T.dxf", (400.0, 300.0), rows or {}, {})
    pieces = {"P": plate("P.dxf", 6), "Q": plate("Q.dxf", 6, INSIDE), "T": plate("T.dxf", 5, template)}
    return planned(folder, pieces, more, A=("Q/A", "P/A"), B=("T/B", "P/B"), C=("T", "Q"))


def test_no_stop_for_what_is_taken_from_the_mates(tmp_path: Path) -> None:
    made = tank(tmp_path)
    assert [finding.check for finding in made.findings if finding.level is Level.STOP] == []
    (told,) = [finding for finding in made.findings if finding.check == "formed-to-template"]
    assert told.level is Level.NOTE
    assert "12 holes taken from its mates (7 of seam B from P/B, 5 of seam C from Q/C)" in told.what
    assert any("formed to template" in line and line.endswith(": T") for line in made.not_checked)
    holes = next(account for account in made.accounts if account.what == "holes of all pieces")
    assert dict(holes.shares)["to be taken into pieces formed to template"] == 12
    assert sum(many for _, many in holes.shares) == holes.total == 26
    pieces = next(account for account in made.accounts if account.what == "pieces")
    assert dict(pieces.shares) == {"placed": 2, "not placed": 0, "without a known form": 1}


def test_its_rivets_are_ordered_by_its_nominal_thickness(tmp_path: Path) -> None:
    """7 rivets of 12 mm grip, and 12 through 6 + 5 mm."""
    made = tank(tmp_path)
    assert sum(line.count for line in made.supply.rivets) == 19
    assert {grip for line in made.supply.rivets for grip in line.grips} == {11.0, 12.0}
    bolted = dict(made.supply.seam_bolts)
    assert bolted["B"] > 0
    assert bolted["C"] > 0
    assert made.stacks is not None
    assert len(made.stacks) == len(made.supply.rivet_line) == 7


def test_the_step_that_fits_it(tmp_path: Path) -> None:
    made = tank(tmp_path)
    assert made.sequence is not None
    kinds = [step.kind for step in made.sequence.steps]
    (step,) = [step for step in made.sequence.steps if step.kind == "template"]
    assert kinds.index("square") + 1 == kinds.index("template")
    assert step.title == "Fit what is formed to template: T"
    assert any("seam B: holes marked through from P" in check for check in step.checks)


def test_its_sheet(tmp_path: Path) -> None:
    (page,) = forming_sheets(tank(tmp_path))
    assert lint(page) == ()
    for told in ("to template", "20 mm on all edges", "P/B", "Q/C", "First-off", "template number"):
        assert told in words(page)


def test_seams_that_one_sheet_cannot_hold_go_on_the_next(tmp_path: Path) -> None:
    made = tank(tmp_path)
    (record,) = made.forming
    assert record.template is not None
    holes = tuple((f"S{number}", "P/B", "R10", 11.0, 7) for number in range(80))
    many = replace(record, template=replace(record.template, holes=holes))
    first, *more = forming_sheets(replace(made, forming=(many,)))
    assert more
    assert all(lint(page) == () for page in (first, *more))
    told = [text for page in (first, *more) for text in words(page).split()]
    assert all(f"S{number}" in told for number in range(80))


def test_without_trim_one_asks(tmp_path: Path) -> None:
    made = tank(tmp_path, 'formed = "template"')
    (told,) = [finding for finding in made.findings if finding.check == "formed-to-template"]
    assert told.level is Level.QUERY
    assert "trim" in told.mend
    assert "NOT STATED" in words(forming_sheets(made)[0])


def test_holes_cut_in_it_are_asked(tmp_path: Path) -> None:
    made = tank(tmp_path, rows={"B": along(25.0)})
    (told,) = [finding for finding in made.findings if finding.check == "template-holes"]
    assert "7 holes for rivets or bolts" in told.what
    assert told.where.handles
    assert [finding.check for finding in made.findings if finding.level is Level.STOP] == []


def test_one_that_is_placed_stays_without_metal(tmp_path: Path) -> None:
    place = '[[place]]\npart = "T"\norigin = [0, 0, 50]\nx = [1, 0, 0]\ny = [0, 1, 0]'
    made = tank(tmp_path, more=place)
    assert made.body is not None
    pose = made.body.poses[2]
    assert pose is not None
    assert pose.origin == pytest.approx([0.0, 0.0, 50.0])
    assert [finding.check for finding in made.findings if finding.level is Level.STOP] == []


def test_a_flat_plate_in_its_place_is_a_stop(tmp_path: Path) -> None:
    """Unless it is stated to be formed to template, a piece without its rows is told as before."""
    made = tank(tmp_path, "")
    assert {"no-such-row", "not-placed", "no-mate"} <= {finding.check for finding in made.findings}
