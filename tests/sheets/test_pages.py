"""Every sheet of both demos passes the linter; the linter finds what it is for; lists stay text."""

import csv
from dataclasses import replace
from pathlib import Path

import openpyxl
import pypdf
import pytest

from fabplan.model.finding import Level
from fabplan.model.page import Arc, Page, Ring, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.sheets.check_sheet import check_sheet, check_sheets
from fabplan.sheets.lint import lint
from fabplan.sheets.lists import Listing, list_pages, listings
from fabplan.sheets.pdf import write_pdf
from fabplan.sheets.pen import box
from fabplan.sheets.schedule import runs
from fabplan.sheets.sequence_sheet import sequence_sheets
from fabplan.sheets.svg import page_svg
from fabplan.sheets.workbook import write_csv, write_workbook
from fabplan.way.look import Outcome, Wanted, look
from tests.sheets.words import words_of

DRAWINGS = Path(__file__).parents[2] / "drawings"


def pages(plan: Plan) -> list[Page]:
    lists = [page for listing in listings(plan) for page in list_pages(plan, listing)]
    return [*check_sheets(plan), *sequence_sheets(plan), *lists]


def test_all_pages_of_the_bowser_pass(bowser_plan: Plan) -> None:
    found = pages(bowser_plan)
    assert len(found) > 35
    assert {page.name: lint(page) for page in found if lint(page)} == {}


def test_each_drawing_of_the_demo_has_a_check_sheet_of_one_page(bowser_plan: Plan) -> None:
    assert len(check_sheets(bowser_plan)) == len(bowser_plan.checked) == 12


def test_all_pages_of_the_first_lap_pass(lap_plan: Plan) -> None:
    assert {page.name: lint(page) for page in pages(lap_plan) if lint(page)} == {}


@pytest.fixture(scope="module")
def faulty() -> Outcome:
    return look(Wanted(DRAWINGS / "faulty"))


def test_all_check_sheets_of_faulty_drawings_pass(faulty: Outcome) -> None:
    found = [page for one in faulty.checked for page in check_sheet(one, faulty.job)]
    assert len(found) >= 30
    assert {page.items: lint(page) for page in found if lint(page)} == {}


def test_every_sheet_with_a_stop_says_that_it_is_not_for_issue(faulty: Outcome) -> None:
    struck = 0
    for one in faulty.checked:
        stops = sum(finding.level is Level.STOP for finding in one.findings)
        for page in check_sheet(one, faulty.job):
            level = [word for word in words_of(page, turn=0.0) if word.startswith("Not for issue")]
            assert level == ([f"Not for issue: {stops} stop{'' if stops == 1 else 's'}"] if stops else [])
            struck += bool(stops)
    assert struck > 10


def test_a_stop_that_somebody_answers_for_strikes_no_sheet(faulty: Outcome) -> None:
    one = next(one for one in faulty.checked if sum(finding.blocks for finding in one.findings) == 1)
    answered = tuple(replace(finding, accepted="accepted: tried on the bench") for finding in one.findings)
    words = words_of(check_sheet(replace(one, findings=answered), faulty.job)[0])
    assert not any(word.startswith("Not for issue") for word in words)
    assert "tried on the bench" in " ".join(words)


def test_every_finding_with_a_place_is_ringed_and_listed(faulty: Outcome) -> None:
    for one in faulty.checked:
        first = check_sheet(one, faulty.job)[0]
        placed = {n for n, finding in enumerate(one.findings, start=1) if finding.where.xy is not None}
        assert {ring.number for ring in first.rings} == placed
        assert all(any(finding.check in word for word in words_of(first)) for finding in one.findings)


def test_a_plate_without_findings_reads_as_a_pass(bowser_plan: Plan) -> None:
    clear = [one for one in bowser_plan.checked if not one.findings and not one.of_body]
    assert clear
    for one in clear:
        words = words_of(check_sheet(one, bowser_plan.job)[0])
        assert "No fault found by these checks with these data." in words
        assert "Not checked" in words


def test_no_head_of_a_column_is_split_inside_a_word(bowser_plan: Plan, lap_plan: Plan) -> None:
    for plan in (bowser_plan, lap_plan):
        for listing in listings(plan):
            heads = {word for head in listing.heads for word in head.split()} if listing.rows else set()
            for page in list_pages(plan, listing)[:1]:
                shown = {part for word in words_of(page, bold=True) for part in word.split()}
                assert heads <= shown


def test_no_name_hides_a_hole_and_every_row_is_named(bowser_plan: Plan, faulty: Outcome) -> None:
    """Names of rows lie on white; a hole's circle must stand clear of it (worked out here from both figures)."""
    for one in [*bowser_plan.checked, *faulty.checked]:
        page = check_sheet(one, bowser_plan.job)[0]
        names = [item for item in page.items if isinstance(item, Text) and item.size == 2.5 and item.halo]
        circles = [item for item in page.items if isinstance(item, Arc) and item.fill == 1.0]
        for name in names:
            x0, y0, x1, y1 = box(name)
            for circle in circles:
                (x, y), r = circle.centre, min(circle.radius, 3.0)
                assert not (x0 < x + r and x - r < x1 and y0 < y + r and y - r < y1), (one.drawing.name, name.text)
        if one in bowser_plan.checked:
            words = words_of(page)
            assert all(f"{row}: 1" in words for row in set(one.drawing.holes.row) - {""})


def test_lists_carry_their_totals_and_drawings(bowser_plan: Plan) -> None:
    """Totals summed here from the plan's own lines; every drawing by its fingerprint."""
    supply = bowser_plan.supply
    cut, bar, rivet, bolts, findings = (
        " ".join(word for page in list_pages(bowser_plan, listing) for word in words_of(page))
        for listing in listings(bowser_plan)
    )
    assert f"{sum(line.mass_each * line.quantity for line in supply.plates):.1f} kg" in cut
    assert f"{sum(line.mass_each * line.quantity for line in supply.bars):.1f} kg" in bar
    assert f"with spares: {sum(line.count + line.spares for line in supply.rivets)}," in rivet
    assert f"washers: {sum(line.washers for line in supply.bolts)}." in bolts
    assert all(words in rivet for words in ("Store balance", "received", "issued", "scrapped", "left"))
    assert "Store balance" not in cut
    for words in (cut, bar, rivet, bolts, findings):
        assert all(one.drawing.fingerprint[:8] in words for one in bowser_plan.checked)


GOOD = Page("x", 210.0, 297.0, (Text((20.0, 20.0), "one"), Text((60.0, 20.0), "two")))


@pytest.mark.parametrize(
    ("page", "told"),
    [
        (replace(GOOD, items=(Text((20.0, 20.0), "one", 2.4),)), "2.4 mm high"),
        (replace(GOOD, items=(Text((20.0, 20.0), "one"), Text((22.0, 20.5), "two"))), "lies over"),
        (replace(GOOD, items=(Stroke(((5.0, 20.0), (20.0, 20.0))),)), "beyond the margin"),
        (replace(GOOD, rings=(Ring((50.0, 50.0), 3.0, 7),), listed=(1,)), "ring 7"),
    ],
)
def test_the_linter_finds_each_fault(page: Page, told: str) -> None:
    assert lint(GOOD) == ()
    (fault,) = lint(page)
    assert told in fault


def test_pdf_has_its_pages_and_words(lap_plan: Plan, tmp_path: Path) -> None:
    """Read back by pypdf."""
    sheet = check_sheet(lap_plan.checked[0], lap_plan.job)
    write_pdf(sheet, tmp_path / "a.pdf", "title")
    reader = pypdf.PdfReader(tmp_path / "a.pdf")
    assert len(reader.pages) == len(sheet)
    assert "Check sheet" in reader.pages[0].extract_text()


def test_svg_escapes_what_a_drawing_says() -> None:
    assert "<script>" not in page_svg(replace(GOOD, items=(Text((20.0, 20.0), "<script>"),)))


def test_a_text_never_becomes_a_formula(tmp_path: Path) -> None:
    """Read back by openpyxl and csv."""
    listing = Listing("x", "X", ("a",), (1.0,), (), (("=1+1",),))
    write_workbook([listing], tmp_path / "x.xlsx", "x")
    cell = openpyxl.load_workbook(tmp_path / "x.xlsx")["X"]["A2"]
    assert (cell.value, cell.data_type) == ("=1+1", "s")
    write_csv(listing, tmp_path / "x.csv")
    with (tmp_path / "x.csv").open(encoding="utf-8-sig", newline="") as file:
        assert list(csv.reader(file))[1] == ["'=1+1"]


def test_runs_are_written_as_the_trade_writes_them() -> None:
    """Seven spaces of 40 are 280 (arithmetic); a ring is measured from hole to hole, not across."""
    import numpy as np

    row = np.column_stack([np.arange(8) * 40.0, np.zeros(8)])
    assert runs(row) == "7 @ 40 = 280"
    turn = np.arange(6) * np.pi / 3.0
    assert runs(100.0 * np.column_stack([np.cos(turn), np.sin(turn)])) == "5 @ 100 = 500"
