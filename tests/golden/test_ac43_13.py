"""FAA AC 43.13-1B chapter 4, light alloy sheet: the splice of 4-58g, and US Army TM 10-5410-229-13&P 5-6."""

from typing import Any

import pytest

from fabplan.geom.profile import rectangle
from fabplan.model.finding import Level
from tests.rules.plate import checks, findings, grid, plate

AC, INCH = "ac43-13-1b", 25.4
ALLOY: dict[str, Any] = {"material": "light alloy", "rivet_diameter": INCH / 8, "hole": 3.3, "thickest": 1.6}


def test_forty_rivets_of_an_eighth_in_two_rows_of_ten_inches() -> None:
    """Least spacing in two rows, 4 d = 0.5 in: 20 rivets a row in 10 in, 40 in all; 21 a row are too many."""
    rows_apart = 2.5 * INCH / 8
    assert checks(plate(grid(20, 10 * INCH / 20, 2, rows_apart), **ALLOY), AC) == []
    assert checks(plate(grid(21, 10 * INCH / 21, 2, rows_apart), **ALLOY), AC) == ["least-pitch"]


def test_edge_two_pitch_three_rows_two_and_a_half() -> None:
    """The same three figures in the Army manual: edge 2 d, pitch 3 d, rows 2.5 d."""
    d = INCH / 8

    def single(pitch: float, edge: float) -> list[str]:
        return checks(plate(grid(5, pitch * d), outline=rectangle(-50.0, -edge * d, 500.0, 500.0), **ALLOY), AC)

    assert single(3.0, 2.0) == []
    assert single(2.99, 2.0) == ["least-pitch"]
    assert single(3.0, 1.99) == ["least-edge-distance"]
    assert checks(plate(grid(5, 4 * d, 2, 2.49 * d), **ALLOY), AC) == ["least-row-distance"]


def test_steel_plate_is_refused() -> None:
    (found,) = findings(plate(grid(5, 20.0)), AC)
    assert (found.check, found.level) == ("rules-refused", Level.STOP)
    assert "light alloy" in found.what


def test_steel_rules_are_refused_for_light_alloy() -> None:
    assert checks(plate(grid(5, 20.0), **ALLOY), "en1993-1-8-2005") == ["rules-refused"]


@pytest.mark.parametrize(
    ("d", "sheet", "limit"),
    [
        (30.0, 1.5, "4.5"),  # what no shop would drive
        (4.5, 1.5, ""),
        (4.51, 1.5, "4.5"),
        (10.0, 3.0, "9.0"),
        (12.0, 4.0, ""),
        (12.1, 4.0, "12.0"),
        (14.0, 5.0, ""),  # plate: the manual speaks of sheet
        (30.0, 10.0, ""),
    ],
)
def test_a_rivet_too_thick_for_steel_sheet_is_asked_for(d: float, sheet: float, limit: str) -> None:
    """NAVEDTRA 14018: not over 3 t of the thickest sheet; of steel under 5 mm it is asked, above it says nothing."""
    layout = plate(grid(3, 200.0), rivet_diameter=d, hole=d + 1.0, thickest=sheet, grip=2.0 * sheet)
    told = findings(layout, "practice")
    assert [one.check for one in told] == ["diameter-for-thickness"] * bool(limit)
    assert all(one.level is Level.QUERY and f"a rivet of {limit} mm or less" in one.mend for one in told)


@pytest.mark.parametrize(("sheet", "expected"), [(INCH / 8, []), (3.3, ["diameter-for-thickness"]), (1.0, ["d"])])
def test_diameter_between_one_and_three_sheets(sheet: float, expected: list[str]) -> None:
    """NAVEDTRA 14018: between t and 3 t of the thickest sheet: 3.175 in 3.3 is thin, in 1.0 (3 t = 3.0) thick."""
    found = checks(plate(grid(5, 40.0), **{**ALLOY, "thickest": sheet}), AC)
    assert len(found) == len(expected)
    assert set(found) <= {"diameter-for-thickness"}
