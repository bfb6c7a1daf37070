"""The page of questions to a supplier."""

from pathlib import Path

import pytest
from pypdf import PdfReader

from fabplan.errors import FabplanError
from fabplan.model.job import Supplier
from fabplan.model.page import Text
from fabplan.sheets.lint import lint
from fabplan.sheets.questionnaire import questionnaire
from fabplan.way.begin import ask

JOB = """
[job]
title = "Hopper"
[[supplier]]
name = "cutter one"
limits_dated = 2026-03-01
process = "plasma"
smallest_hole = "1.5 t"
smallest_web = 6
sheet = [2980, 1480]
bed = [3000, 1500]
layers = { CUT = "0", MARK = "1" }
[[part]]
mark = "P1"
section = "FL50x6"
length = 400
"""


def test_one_page_that_passes_the_linter() -> None:
    for supplier in (Supplier("cutter"), Supplier("a cutter with a very long name " * 4, process="water jet")):
        pages = questionnaire(supplier, None)
        assert len(pages) == 1
        assert lint(pages[0]) == ()


def test_what_the_job_knows_is_filled_in_with_its_date(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    path = ask(tmp_path, "cutter one")
    assert path.name == "questions-to-cutter-one.pdf"
    text = PdfReader(path).pages[0].extract_text()
    for words in (
        "plasma (2026-03-01)",
        "1.5 t (2026-03-01)",
        "6 mm (2026-03-01)",
        "3000 x 1500",
        "2980 x 1480 (2026-03-01)",
        "CUT on 0, MARK on 1",
    ):
        assert words in " ".join(text.split())


@pytest.mark.parametrize(
    ("process", "least"), [("plasma", "1.5 t, 6 mm at least"), ("oxy-fuel", "2 t, 20 mm at least"), ("laser", "1 t")]
)
def test_the_smallest_hole_is_that_of_his_process(process: str, least: str) -> None:
    """Smallest holes by process, from memory: those that a check takes too, so that he is not asked of others."""
    (page,) = questionnaire(Supplier("cutter", process=process), None)
    assert least in [item.text for item in page.items if isinstance(item, Text)]


def test_a_name_becomes_no_path(tmp_path: Path) -> None:
    assert ask(tmp_path, "../../etc/<b>").parent == tmp_path


def test_before_anything_is_drawn(tmp_path: Path) -> None:
    """A job with a supplier and nothing else yet: what he stated is filled in all the same."""
    text = '[job]\ntitle = "Hopper"\n[[supplier]]\nname = "cutter"\nlimits_dated = 2026-03-01\nprocess = "plasma"\n'
    (tmp_path / "job.toml").write_text(text, "utf-8")
    assert "plasma (2026-03-01)" in PdfReader(ask(tmp_path, "cutter")).pages[0].extract_text()


def test_unlike_names_are_unlike_files(tmp_path: Path) -> None:
    """Signs of file names as Windows and POSIX both allow them."""
    names = (
        "Kesselschmied",
        "a b",
        "a-b",
        "a/b",
        "\u041f\u043b\u0430\u0437\u043c\u0430",
        "\u5207\u65ad",
        "!!",
        "??",
        "x" * 300,
        "x" * 301,
    )
    paths = {ask(tmp_path, name) for name in names}
    assert len(paths) == len(names)
    assert not any(set(path.name) & set('<>:"/\\|?* ') for path in paths)
    with pytest.raises(FabplanError, match="no name"):
        ask(tmp_path, " ")
