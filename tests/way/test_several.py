"""Files that hold several pieces: each judged as its own part, on the short way and the whole; what is left is told."""

from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from ezdxf.bbox import extents
from ezdxf.filemanagement import new, readfile
from ezdxf.layouts.layout import Modelspace

from fabplan.model.checked import Checked
from fabplan.model.finding import Finding
from fabplan.sheets.picture import extent
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


def changed(folder: Path, change: Callable[[Modelspace], object], more: str = "") -> Path:
    """The two plates with one thing more, and the job with some lines more; the job's path."""
    drawn(folder)
    document = readfile(folder / "two.dxf")
    change(document.modelspace())
    document.saveas(folder / "two.dxf")
    (folder / "job.toml").write_text(JOB + more, "utf-8")
    return folder / "job.toml"


def both_ways(job: Path) -> list[Sequence[Finding]]:
    """The findings of the short way on the drawing, and of the whole way."""
    return [look(Wanted(job.parent / "two.dxf")).findings, plan(job).findings]


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
    """Entities are counted by ezdxf; what goes with no piece stands in a line of its own."""
    count = drawn(tmp_path, stray, third)
    outcome = look(Wanted(tmp_path))
    names = [one.drawing.name for one in outcome.checked]
    assert names == ["two.dxf (P1)", "two.dxf (P2)", *["two.dxf (the rest)"] * (stray or third)]
    assert entities(outcome.checked) == count
    assert sum(one.drawing.scanned for one in outcome.checked) == count
    checks = {one.check for one in outcome.findings}
    assert ("more-than-one-profile" in checks) == third
    assert ("fold-cut" in checks) == stray
    assert [len(one.drawing.holes) for one in outcome.checked] == [4, 4, *[4 if third else 0] * (stray or third)]


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


@pytest.mark.parametrize("x", [300.0, 600.0, 603.0])
def test_a_hole_in_no_piece_is_told_on_both_ways(tmp_path: Path, x: float) -> None:
    """Between the plates, with its centre on the edge of one, and across it from outside."""
    job = changed(tmp_path, lambda space: space.add_circle((x, 60.0), 5.5, dxfattribs={"layer": "RIVET A"}))
    for findings in both_ways(job):
        (told,) = [one for one in findings if one.check == "hole-outside"]
        assert (told.where.drawing, told.where.xy) == ("two.dxf (the rest)", (x, 60.0))


def test_a_part_without_its_piece_and_a_piece_without_its_part_are_told(tmp_path: Path) -> None:
    job = changed(tmp_path, lambda space: None)
    job.write_text(JOB.replace('"P2"', '"P9"'), "utf-8")
    for findings in both_ways(job):
        told = {one.where.drawing: one.what for one in findings if one.check == "more-than-one-profile"}
        assert set(told) == {"two.dxf (P9)", "two.dxf (the rest)"}
        assert "P9" in told["two.dxf (P9)"]
        assert "P2" in told["two.dxf (the rest)"]


@pytest.mark.parametrize("words", ["PART P2", "P2 t=12", "p2"])
def test_a_mark_stands_among_other_words(tmp_path: Path, words: str) -> None:
    def write(space: Modelspace) -> None:
        (own,) = space.query('TEXT[text=="P2"]')
        own.dxf.text = words
        space.add_text("UP", height=20.0, dxfattribs={"layer": "NOTE"}).set_placement((440.0, 60.0))

    for findings in both_ways(changed(tmp_path, write)):
        assert [one for one in findings if one.check in ("more-than-one-profile", "not-placed")] == []


def test_an_island_is_told_on_both_ways(tmp_path: Path) -> None:
    def cut(space: Modelspace) -> None:
        for inset in (0.0, 10.0):
            low, high = (430.0 + inset, 55.0 + inset), (480.0 - inset, 90.0 - inset)
            corners = [low, (high[0], low[1]), high, (low[0], high[1])]
            space.add_lwpolyline(corners, close=True, dxfattribs={"layer": "CUT"})

    for findings in both_ways(changed(tmp_path, cut)):
        assert "wrong-nesting" in {one.check for one in findings}


def test_each_piece_has_its_own_stated_size(tmp_path: Path) -> None:
    job = changed(tmp_path, lambda space: None)
    for size, wrong in (("[200, 100]", set()), ("[190, 100]", {"two.dxf (P2)"})):
        sizes = JOB.replace("thickness = 6", "thickness = 6\nsize = [200, 100]")
        job.write_text(sizes.replace("thickness = 12", f"thickness = 12\nsize = {size}"), "utf-8")
        for findings in both_ways(job):
            assert {one.where.drawing for one in findings if one.check == "size-differs"} == wrong


def test_a_line_over_two_pieces_is_told_once_and_counted_once(tmp_path: Path) -> None:
    def draw(space: Modelspace) -> None:
        space.add_line((100.0, 70.0), (500.0, 70.0), dxfattribs={"layer": "CUT"})

    job = changed(tmp_path, draw)
    for findings in both_ways(job):
        assert len([one for one in findings if one.check == "stray-line"]) == 1
    account = next(one for one in plan(job).accounts if one.what == "entities of the drawings")
    assert account.total == len(readfile(tmp_path / "two.dxf").modelspace())


def test_the_print_of_the_kit_rests_on_every_piece(tmp_path: Path) -> None:
    """An opening more in either piece is another kit; a drawing saved anew is not."""

    def opened(x: float) -> Callable[[Modelspace], object]:
        return lambda space: space.add_circle((x, 70.0), 9.0, dxfattribs={"layer": "CUT"})

    ways = [lambda space: None, opened(20.0), opened(420.0), lambda space: None]
    prints = [plan(changed(tmp_path, way)).fingerprint for way in ways]
    assert len(set(prints[:3])) == 3
    assert prints[3] == prints[0]


@pytest.mark.parametrize("by", ['drawing = "two.dxf (P2)"', 'part = "P2"'])
def test_one_acceptance_serves_both_ways(tmp_path: Path, by: str) -> None:
    """A hole of 8 mm in 12 mm plate, accepted by the print of its piece, and by the name of the piece or the part."""

    def drill(space: Modelspace) -> None:
        space.add_circle((520.0, 70.0), 4.0, dxfattribs={"layer": "CUT"})

    job = changed(tmp_path, drill)
    outcome = look(Wanted(tmp_path / "two.dxf"))
    own = {one.drawing.name: one.drawing.fingerprint for one in outcome.checked}["two.dxf (P2)"]
    accept = f'[[accept]]\ncheck = "small-hole"\n{by}\nfingerprint = "{own[:8]}"\nby = "L. Orr"\n'
    changed(tmp_path, drill, accept + 'date = "2026-11-20"\nreason = "drilled after cutting"\n')
    for findings in both_ways(job):
        assert all(one.accepted for one in findings if one.check == "small-hole")
        assert {one.check for one in findings} & {"acceptance-unused", "acceptance-lapsed"} == set()


def in_one_block(space: Modelspace) -> None:
    """All that is drawn put into one block, shown once: every entity then bears the handle of its insert."""
    block = space.doc.blocks.new("SHEET")
    for entity in list(space):
        space.move_to_layout(entity, block)
    space.add_blockref("SHEET", (0.0, 0.0))


ASTRAY = ((300.0, "RIVET A", "hole-outside"), (300.0, "CUT", "more-than-one-profile"), (165.0, "CUT", "holes-overlap"))


@pytest.mark.parametrize(("x", "layer", "check"), ASTRAY)
def test_one_block_hides_nothing(tmp_path: Path, x: float, layer: str, check: str) -> None:
    def draw(space: Modelspace) -> None:
        space.add_circle((x, 25.0), 5.5, dxfattribs={"layer": layer})
        in_one_block(space)

    for findings in both_ways(changed(tmp_path, draw)):
        assert [one.check for one in findings].count(check) == 1


def test_a_third_piece_in_the_block_is_told(tmp_path: Path) -> None:
    def draw(space: Modelspace) -> None:
        space.add_lwpolyline([(800, 0), (900, 0), (900, 80), (800, 80)], close=True, dxfattribs={"layer": "CUT"})
        in_one_block(space)

    for findings in both_ways(changed(tmp_path, draw)):
        (told,) = [one for one in findings if one.check == "more-than-one-profile"]
        assert told.where.drawing == "two.dxf (the rest)"


@pytest.mark.parametrize(
    ("words", "mark"), [("RIVET TO P2", "P2"), ("see P2", "P2"), ("2 OFF", "2"), ("P2.1", "P2"), ("P2/1", "P2")]
)
def test_a_note_gives_no_piece_to_a_part(tmp_path: Path, words: str, mark: str) -> None:
    """The second piece has no mark, and a note on the first names the second part, or seems to."""

    def write(space: Modelspace) -> None:
        (own,) = [one for one in space if one.dxftype() == "TEXT" and one.dxf.text == "P2"]
        space.unlink_entity(own)
        space.add_text(words, height=3.0, dxfattribs={"layer": "NOTE"}).set_placement((20.0, 70.0))

    job = changed(tmp_path, write)
    job.write_text(JOB.replace('"P2"', f'"{mark}"'), "utf-8")
    for findings in both_ways(job):
        told = {one.where.drawing for one in findings if one.check == "more-than-one-profile"}
        assert told == {f"two.dxf ({mark})", "two.dxf (the rest)"}


def test_one_piece_drawn_for_two_parts_is_judged_as_both(tmp_path: Path) -> None:
    """A plate of 12 mm is too thick for a hole of 8 mm (assumed: 1.0 t), one of 6 mm is not."""

    def draw(space: Modelspace) -> None:
        for entity in list(space.query("LWPOLYLINE CIRCLE")):
            if extents([entity]).extmin.x > 300.0:
                space.delete_entity(entity)
        space.add_circle((100.0, 70.0), 4.0, dxfattribs={"layer": "CUT"})

    job = changed(tmp_path, draw)
    for findings in both_ways(job):
        assert [one.check for one in findings].count("small-hole") == 1
    account = next(one for one in plan(job).accounts if one.what == "entities of the drawings")
    assert account.total == len(readfile(tmp_path / "two.dxf").modelspace())


def test_what_is_no_parts_is_pictured_beside_the_pieces(tmp_path: Path) -> None:
    """A lone hole 40 mm beside the second plate, 400 to 600: the frame of its picture holds both."""
    job = changed(tmp_path, lambda space: space.add_circle((640.0, 60.0), 5.5, dxfattribs={"layer": "RIVET A"}))
    (rest,) = [one for one in look(Wanted(job.parent)).checked if one.drawing.name == "two.dxf (the rest)"]
    found = extent(rest.drawing)
    assert found is not None
    assert (found[0][0], found[1][0]) == (0.0, 640.0)
