"""Heads on rounds and slopes: stand-off by the chord of a circle, flanges by the slopes of DIN 1026."""

from pathlib import Path

import numpy as np
import pytest

from fabplan.model.plan import Plan
from fabplan.model.tables import Section
from fabplan.rules.bearing import stands_off
from tests.body.plates import draw, planned, plate

AT = np.array([40.0, 90.0, 140.0, 200.0, 260.0])


def barred(folder: Path, section: str, leg: str, mark: float, plies: tuple[str, str]) -> Plan:
    """A bar of 300 mm riveted to a plate of 5 mm by one row."""
    draw(folder / "P.dxf", (300.0, 80.0), {"A": np.column_stack([AT, np.full(5, 40.0)])}, {})
    row = f'rows = [{{ row = "A", leg = "{leg}", back_mark = {mark}, at = {AT.tolist()}, diameter = 11 }}]'
    pieces = {"P": plate("P.dxf", 5), "B": f'section = "{section}"\nlength = 300\n{row}'}
    return planned(folder, pieces, A=plies)


def checks(made: Plan, check: str) -> list[float | None]:
    return [one.measured for one in made.findings if one.check == check]


@pytest.mark.parametrize(
    ("width", "high", "across", "off"),
    [(40.0, 10.0, 16.0, 1.3145), (25.0, 12.5, 16.0, 2.8953), (20.0, 10.0, 30.0, 10.0)],
)
def test_a_flat_head_on_a_round(width: float, high: float, across: float, off: float) -> None:
    """40 x 10 is cut from a circle of 25 mm: 25 - sqrt(625 - 64); a full one of 25: 12.5 - sqrt(156.25 - 64)."""
    section = Section("HR", "half-round", width, 0.0, high, 0.0, 0.0, 1.0, 1.0, "")
    assert stands_off(section, across) == pytest.approx(off, abs=1e-4)


@pytest.mark.parametrize(("plies", "asked"), [(("B/A", "P/A"), True), (("P/A", "B/A"), False)])
def test_made_heads_belong_on_the_flat_side_of_beading(tmp_path: Path, plies: tuple[str, str], asked: bool) -> None:
    """DIN 124: 16 mm across for 10; a point is driven on the round and takes its form."""
    found = checks(barred(tmp_path, "HR40x10", "a", 20.0, plies), "head-on-round")
    assert found == ([pytest.approx(1.3145, abs=1e-4)] if asked else [])


@pytest.mark.parametrize(("section", "slope"), [("UPN100", 0.08), ("UPE100", None)])
def test_heads_on_a_sloping_flange(tmp_path: Path, section: str, slope: float | None) -> None:
    """Inner faces of UPN slope by 8 % (DIN 1026-1), over 1 in 20; those of UPE are parallel."""
    made = barred(tmp_path, section, "a", 32.0, ("P/A", "B/A"))
    assert checks(made, "sloping-flange") == ([] if slope is None else [pytest.approx(slope)])


def test_legs_without_a_gauge_are_told_as_not_checked(tmp_path: Path) -> None:
    made = barred(tmp_path, "UPN100", "w", 50.0, ("P/A", "B/A"))
    assert any("without a gauge" in line and "leg w of UPN100" in line for line in made.not_checked)
    flange = barred(tmp_path, "L50x50x6", "a", 30.0, ("P/A", "B/A"))
    assert not any("without a gauge" in line for line in flange.not_checked)
