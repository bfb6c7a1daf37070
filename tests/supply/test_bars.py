"""The bar list: sentences that a man can drill from."""

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.model.job import RowSpec
from fabplan.supply.bars import bar_lines, row_sentence
from tests.supply.stacked import bar, body, plate, row_of_holes


def test_a_bar_and_its_rows() -> None:
    at = tuple(np.linspace(20.0, 2340.0, 59).tolist())
    (line,) = bar_lines(body(plate("P1", row_of_holes(2)), bar("A1", at), quantity=2))
    assert (line.mark, line.quantity, line.section, line.length, line.holes) == ("A1", 2, "L50x50x5", 2360.0, 59)
    assert line.mass_each == 8.9
    # 2320 / 58 = 40
    assert line.rows == (
        "Row floor, leg a, back mark 28 from the heel: 59 holes 11 diameter, "
        "from marked end 20, then 58 @ 40 = 2320 to 2340.",
    )


def test_a_pitch_that_adds_up_wrongly_is_divided_not_stepped() -> None:
    at = tuple(np.linspace(20.0, 2340.0, 60).tolist())
    sentence = row_sentence(RowSpec("B", "b", 30.0, at, 13.0), "angle", opposite=False)
    assert "59 @ 39.32 = 2320 to 2340; set out both ends first, then divide." in sentence


def test_uneven_rows_are_listed_hole_by_hole() -> None:
    row = RowSpec("C", "a", 25.0, (20.0, 60.0, 140.5), 11.0, "bolt")
    sentence = row_sentence(row, "flat", opposite=False)
    assert sentence == "Row C, 25 from the edge: 3 holes 11 diameter (bolt), from marked end 20, 60, 140.5."


def test_one_hole() -> None:
    assert "1 hole 11 diameter, from marked end 20." in row_sentence(
        RowSpec("D", "a", 25.0, (20.0,), 11.0), "flat", False
    )


@pytest.mark.parametrize(
    ("kind", "leg", "line"),
    [
        ("channel", "w", "web, 50 from the outer face of flange a"),
        ("channel", "b", "flange b, back mark 50 from the back of the web"),
        ("tee", "a", "flange, 50 from the edge"),
        ("tee", "b", "stem, back mark 50 from the face of the flange"),
        ("half-round", "a", "50 from the edge"),
    ],
)
def test_each_section_says_where_its_rows_are_measured_from(kind: str, leg: str, line: str) -> None:
    sentence = row_sentence(RowSpec("E", leg, 50.0, (20.0,), 11.0), kind, opposite=False)
    assert sentence == f"Row E, {line}: 1 hole 11 diameter, from marked end 20."


def test_the_other_hand_is_measured_from_the_far_end() -> None:
    right, left = bar_lines(body(bar("A1", (20.0, 60.0), "R"), bar("A1", (20.0, 60.0), "L")))
    assert "from marked end 20" in right.rows[0]
    assert "from far end 20" in left.rows[0]
    assert "opposite hand" in left.note


@given(st.floats(5.0, 100.0), st.floats(10.0, 150.0), st.integers(2, 200))
def test_a_man_who_follows_the_sentence_hits_the_last_hole(first: float, pitch: float, count: int) -> None:
    at = tuple(first + pitch * i for i in range(count))
    sentence = row_sentence(RowSpec("A", "a", 28.0, at, 11.0), "angle", opposite=False)
    told = re.search(r"end ([\d.]+), then (\d+) @ ([\d.]+) = ([\d.]+) to ([\d.]+?)[.;]?( set|$)", sentence)
    assert told is not None
    start, spaces, run, last = float(told[1]), int(told[2]), float(told[4]), float(told[5])
    assert spaces == count - 1
    assert start + run == pytest.approx(last, abs=0.016)  # three figures rounded to 0.01
    assert last == pytest.approx(at[-1], abs=0.0051)
