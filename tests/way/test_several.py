"""Files that hold several pieces: each judged as its own part, on the short way and the whole; what is left is told."""

from pathlib import Path

import pytest
from ezdxf.filemanagement import new

from fabplan.model.checked import Checked
from fabplan.way.look import Wanted, look
from fabplan.way.plan import plan

JOB = """
[job]
title = "Two in one"
number = "K8"
datum = "P1"
drawings = "."

[[rivet]]
mark = "R10"
diameter = 10
hole = 11

[[part]]
mark = "P1"
drawing = "two.dxf"
thickness = 6

[[part]]
mark = "P2"
drawing = "two.dxf"
thickness = 12

[[seam]]
mark = "A"
parts = ["P1", "P2"]
rivet = "R10"
"""


def drawn(folder: Path, stray: bool = False, third: bool = False) -> int:
    """Two plates 200 x 100 in one file, each with its mark and a row A; how many entities stand in it."""
    document = new("R2010", setup=True)
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    for number, low in enumerate((0.0, 400.0, *((800.0,) if third else ())), start=1):
        corners = [(low, 0.0), (low + 200.0, 0.0), (low + 200.0, 100.0), (low, 100.0)]
        space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "CUT"})
        space.add_text(f"P{number}", height=5.0, dxfattribs={"layer": "NOTE"}).set_placement((low + 90.0, 50.0))
        for x in (40.0, 80.0, 125.0, 160.0):
            space.add_circle((low + x, 25.0), 5.5, dxfattribs={"layer": "RIVET A"})
    if stray:
        space.add_line((300.0, 10.0), (300.0, 90.0), dxfattribs={"layer": "FOLD"})
    document.saveas(folder / "two.dxf")
    (folder / "job.toml").write_text(JOB, "utf-8")
    return len(space)


def entities(checked: tuple[Checked, ...]) -> int:
    return sum(len(one.drawing.account) for one in checked)


@pytest.mark.parametrize(("stray", "third"), [(False, False), (True, False), (False, True), (True, True)])
def test_the_short_way_judges_each_piece_as_its_own_part(tmp_path: Path, stray: bool, third: bool) -> None:
    """Entities are counted by ezdxf; the rest of the file, texts and all, stands in a line of its own."""
    count = drawn(tmp_path, stray, third)
    outcome = look(Wanted(tmp_path))
    names = [one.drawing.name for one in outcome.checked]
    assert names == ["two.dxf (P1)", "two.dxf (P2)", "two.dxf (the rest)"]
    assert entities(outcome.checked) == count
    assert sum(one.drawing.scanned for one in outcome.checked) == count
    checks = {one.check for one in outcome.findings}
    assert "more-than-one-profile" not in checks
    assert ("fold-cut" in checks) == stray
    assert [len(one.drawing.holes) for one in outcome.checked] == [4, 4, 4 if third else 0]


def test_the_whole_way_tells_a_fold_in_no_piece(tmp_path: Path) -> None:
    count = drawn(tmp_path, stray=True)
    found = plan(tmp_path / "job.toml")
    assert [one.where.drawing for one in found.findings if one.check == "fold-cut"] == ["two.dxf (the rest)"]
    account = next(one for one in found.accounts if one.what == "entities of the drawings")
    assert account.total == count
    assert sum(number for _, number in account.shares) == count


def test_the_whole_way_counts_what_no_part_takes(tmp_path: Path) -> None:
    count = drawn(tmp_path)
    found = plan(tmp_path / "job.toml")
    assert [one.drawing.name for one in found.checked] == ["two.dxf (P1)", "two.dxf (P2)"]
    account = next(one for one in found.accounts if one.what == "entities of the drawings")
    assert account.total == count
