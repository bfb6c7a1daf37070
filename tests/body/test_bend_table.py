"""A bender's own table of bends takes the place of DIN 6935, and is printed by name.

The bracket of `plates` has a blank of 151.743 mm for legs of 100 and 60 mm by DIN 6935 (s 4, r 6, 90 degrees:
v -8.257).
"""

from math import pi
from pathlib import Path

import pytest

from fabplan.body.bend_table import table_factor
from fabplan.model.bends import BendRow, FoldSpec
from fabplan.model.plan import Plan
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.lint import lint
from tests.body.plates import bracket
from tests.sheets.words import words

FORM = """bender = "press shop"
formed_size = [{x}, 240, {z}]
folds = [{{ line = "FOLD 1", angle = 90, inside_radius = {radius}{k} }}]
[[supplier]]
name = "press shop"
limits_dated = 2026-03-01
bends = [{{ thickness = 4, inside_radius = 6, angle = 90, deduction = {deduction} }}]"""


def made(
    folder: Path, deduction: float = 8.257, radius: float = 6.0, size: tuple[float, float] = (100.0, 60.0), k: str = ""
) -> Plan:
    form = FORM.format(deduction=deduction, radius=radius, x=size[0], z=size[1], k=k)
    return bracket(folder, form)


def of(plan: Plan, check: str) -> list[str]:
    return [finding.what for finding in plan.findings if finding.check == check]


def test_a_row_that_says_what_din_says_changes_nothing(tmp_path: Path) -> None:
    plan = made(tmp_path)
    assert of(plan, "formed-size-differs") == []
    assert of(plan, "bend-table") == []
    (page,) = forming_sheets(plan)
    assert lint(page) == ()
    assert "1: table of press shop, 2026-03-01" in words(page)
    assert "DIN 6935" not in words(page)


def test_another_deduction_moves_both_legs(tmp_path: Path) -> None:
    """With 9.5 mm the legs together are 151.743 + 9.5 = 161.243: each 0.62 mm longer, and row B as much higher."""
    plan = made(tmp_path, 9.5)
    told = [finding.measured for finding in plan.findings if finding.check == "formed-size-differs"]
    assert told == pytest.approx([100.6215, 60.6215], abs=1e-3)
    assert of(made(tmp_path, 9.5, size=(100.62, 60.62)), "formed-size-differs") == []


def test_a_fold_beyond_the_table_is_asked_and_made_by_din(tmp_path: Path) -> None:
    plan = made(tmp_path, 9.5, radius=6.5)
    (told,) = of(plan, "bend-table")
    assert "6.5 mm inside in 4 mm (FOLD 1); DIN 6935 was taken" in told
    assert "1: DIN 6935" in words(forming_sheets(plan)[0])


def test_a_stated_factor_stands_above_the_table(tmp_path: Path) -> None:
    plan = made(tmp_path, 9.5, k=", k = 0.738")
    assert of(plan, "formed-size-differs") == []
    assert "1: as the job states" in words(forming_sheets(plan)[0])


def test_between_rows_and_never_beyond() -> None:
    """Zones of the middle line at 30 and 90 degrees (k = 1), of a third of the plate at 60 (k = 2 / 3)."""
    rows = [
        BendRow(4.0, 6.0, angle, angle * pi / 180.0 * (6.0 + 4.0 * share))
        for angle, share in ((90.0, 0.5), (30.0, 0.5), (60.0, 1.0 / 3.0))
    ]
    for angle, k in ((30.0, 1.0), (-60.0, 2.0 / 3.0), (45.0, 5.0 / 6.0), (75.0, 5.0 / 6.0), (90.0, 1.0)):
        assert table_factor(rows, 4.0, FoldSpec("F", angle, 6.0)) == pytest.approx(k)
    for angle, thickness, radius in ((29.0, 4.0, 6.0), (91.0, 4.0, 6.0), (60.0, 5.0, 6.0), (60.0, 4.0, 8.0)):
        assert table_factor(rows, thickness, FoldSpec("F", angle, radius)) is None
