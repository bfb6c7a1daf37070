"""Rows put into a job file as text: every sign that was there stays, and what comes out reads as what was meant."""

import tomllib

import pytest

from fabplan.job.with_rows import Keys, with_rows

ROW: Keys = {"row": "A", "leg": "b", "back_mark": 22.0, "first": 20.0, "last": 995.0, "count": 26, "diameter": 11.0}
HEAD = '# a tank\n[job]\ntitle = "x"   # kept\ndrawings = "../d"  # old\n\n'
PARTS = [
    '[[part]]\nmark = "B1"\nsection = "L40x40x6"\nlength = 1000\n',
    '[[part]]\nmark = "B1"\nsection = "L40x6"\nrows = [\n  { row = "x", leg = "a", at = [1, 2] }, # ]\n]\nlength = 9\n',
    '[[part]]\nrows = [{ row = "x]", leg = "a", at = [1] }]\nmark = "B1"\n\n# a note\n[[seam]]\nmark = "A"\n',
    '[[part]]\nmark = "P0"\n\n[[part]]\nmark = "B1"\n[part.ring]\ninside_radius = 3\n',
    '[[part]]\nmark = "B1"\nrows = []\n',
]


@pytest.mark.parametrize("part", PARTS)
def test_all_else_is_kept(part: str) -> None:
    text = with_rows(HEAD + part, {"B1": [ROW]}, ".")
    assert text is not None
    old, new = tomllib.loads(HEAD + part), tomllib.loads(text)
    own = next(one for one in new["part"] if one["mark"] == "B1")
    assert own["rows"][-1] == {**ROW, "back_mark": 22, "first": 20, "last": 995, "diameter": 11}
    own["rows"] = own["rows"][:-1]
    for one in (old, new):
        one["job"].pop("drawings")
        next(some for some in one["part"] if some["mark"] == "B1").setdefault("rows", [])
    assert old == new
    assert all(line in text for line in ("# a tank", "# kept"))


def test_what_stands_in_a_sheet_is_not_touched() -> None:
    """Parts of a spreadsheet have no table in the file: the rows are given to be put in by hand."""
    assert with_rows('parts = "parts.csv"\n[job]\ntitle = "x"\n', {"B1": [ROW]}, ".") is None


def test_no_row_and_no_folder_stated() -> None:
    text = with_rows('[job]\ntitle = "x"\n', {}, "new")
    assert text is not None
    assert tomllib.loads(text)["job"] == {"title": "x", "drawings": "new"}
