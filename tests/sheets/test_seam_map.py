"""The seam map and the index: every seam told where it is, every page's number true."""

import re

import pytest

from fabplan.model.page import Page, Text
from fabplan.model.plan import Plan
from fabplan.sheets.sequence_sheet import sequence_sheets
from tests.kits.bowser import bowser
from tests.sheets.words import words, words_of


@pytest.fixture(scope="module")
def sheets(bowser_plan: Plan) -> tuple[Page, ...]:
    return sequence_sheets(bowser_plan)


def named(sheets: tuple[Page, ...], subject: str) -> list[Page]:
    return [page for page in sheets if f"Order of work: {subject}" in " ".join(words_of(page, bold=True))]


def test_every_seam_is_on_the_map_or_told_to_be_inside(sheets: tuple[Page, ...]) -> None:
    maps = named(sheets, "seam map")
    letters = {word for page in maps for word in words_of(page, halo=True)}
    inside = re.findall(r"none of these sides: ([\w, ]+)\.", " ".join(words(page) for page in maps))
    hidden = set(inside[0].split(", "))
    assert letters | hidden == {seam.mark for seam in bowser().seams}
    assert hidden == {"Qs", "Qn"}  # the surge plate stands inside


def test_a_letter_stands_beside_rivets_of_its_seam(sheets: tuple[Page, ...]) -> None:
    """E1's seams Bw, Ew, Lws, Lwn are only on the views from its end."""
    for page in named(sheets, "seam map"):
        seen_from = next(word for word in words_of(page) if word.startswith("Seam map"))
        ends = set(words_of(page, halo=True)) & {"Bw", "Ew"}
        assert bool(ends) == ("E1 end" in seen_from)


def test_the_index_leads_to_each_step(sheets: tuple[Page, ...], bowser_plan: Plan) -> None:
    index = named(sheets, "index")
    assert bowser_plan.sequence is not None
    for step in bowser_plan.sequence.steps:
        title = f"Step {step.number}: "
        number = next(k for k, page in enumerate(sheets, 1) if any(w.startswith(title) for w in words_of(page)))
        for work in step.work:
            mark = bowser_plan.job.seams[work.seam].mark
            (row,) = (found for page in index for found in rows(page) if found[0] == mark)
            assert row[-2:] == [str(step.number), str(number)]


def rows(page: Page) -> list[list[str]]:
    """The rows of the first table of a page, cell by cell."""
    lines: dict[float, list[Text]] = {}
    for item in page.items:
        if isinstance(item, Text) and not item.bold:
            lines.setdefault(round(item.at[1], 2), []).append(item)
    return [[item.text for item in sorted(line, key=lambda one: one.at[0])] for line in lines.values()]


def test_the_order_in_pictures_tells_every_step(sheets: tuple[Page, ...], bowser_plan: Plan) -> None:
    pages = named(sheets, "in pictures")
    assert bowser_plan.sequence is not None
    text = " ".join(word for page in pages for word in words_of(page))
    assert all(f"{step.number}: " in text for step in bowser_plan.sequence.steps)
    first = next(step.number for step in bowser_plan.sequence.steps if step.kind == "rivet")
    assert f"{first}: bench: F1, A1R, A1L, A2, A3; rivet As, An, Aw, Ae" in text
