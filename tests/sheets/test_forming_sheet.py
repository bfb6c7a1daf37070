"""The forming sheet of folded and rolled plates: what it tells the man at the press and the rolls."""

from pathlib import Path

import pytest

from fabplan.model.page import Stroke
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.isometric import DASH, DASHED, HEAVY
from fabplan.sheets.lint import lint
from tests.body.plates import bracket, joggled, shell
from tests.sheets.words import words


def test_a_fold(tmp_path: Path) -> None:
    """DIN 6935 for r 6 in 4 mm: k 0.738; legs of 100 and 60 mm outside are 8.26 mm more than the blank of 151.74."""
    (page,) = forming_sheets(bracket(tmp_path))
    assert lint(page) == ()
    told = words(page)
    for figure in ("90.0\N{DEGREE SIGN}", "0.738", "8.3", "100.0", "240.0", "60.0", "towards the marked face"):
        assert figure in told


def test_a_roll(tmp_path: Path) -> None:
    """A half shell of 400 mm inside radius and 6 mm: 812 mm over the outside, 406 mm high."""
    pages = forming_sheets(shell(tmp_path))
    assert [lint(page) for page in pages] == [(), ()]
    for figure in ("180.0\N{DEGREE SIGN}", "812.0", "406.0", "diameter inside", "800.0"):
        assert figure in words(pages[0])


@pytest.mark.parametrize("form", ["", 'folds = [{ line = "FOLD 2", angle = 90, inside_radius = 6 }]'])
def test_no_sheet_without_a_form(tmp_path: Path, form: str) -> None:
    assert forming_sheets(bracket(tmp_path, form)) == ()


def test_a_joggle(tmp_path: Path) -> None:
    (page,) = forming_sheets(joggled(tmp_path))
    assert lint(page) == ()
    for figure in ("set towards the marked face", "6.0", "run", "30.0", "over a piece as thick as its mate", "12.7"):
        assert figure in words(page)


def test_a_piece_is_shown_from_both_sides(tmp_path: Path) -> None:
    """A flange folded up is seen from above; from below the plate hides what of it stands behind, and dashes it."""
    (page,) = forming_sheets(bracket(tmp_path))
    told = words(page)
    assert "as formed, marked face up" in told
    assert "the same, seen from below" in told
    heavy = [item for item in page.items if isinstance(item, Stroke) and item.width == HEAVY]
    dashed = [item for item in page.items if isinstance(item, Stroke) and (item.width, item.dash) == (DASHED, DASH)]
    middle = (min(x for item in heavy for x, _ in item.points) + max(x for item in heavy for x, _ in item.points)) / 2.0
    assert {item.points[0][0] < middle for item in heavy} == {True, False}
    assert dashed


def test_each_line_is_placed_on_the_blank(tmp_path: Path) -> None:
    """DIN 6935: legs of 100 and 60 mm, r 6 in 4 mm: flat 151.74, bent zone 11.74 long from 90 on, its middle 95.87."""
    made = bracket(tmp_path)
    (record,) = made.forming
    assert record.bends[0].edges == pytest.approx((151.74 - 95.87, 95.87), abs=0.01)
    (page,) = forming_sheets(made)
    assert lint(page) == ()
    assert "55.9 and 95.9" in words(page)
