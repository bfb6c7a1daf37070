"""Rows by the names of layers, in any case; a row that is not there is named."""

from pathlib import Path

import ezdxf.filemanagement
import pytest

from fabplan.job.read import read_job
from fabplan.model.plan import Plan
from fabplan.way.accept import KIT, geometry
from fabplan.way.plan import plan

LAP = Path(__file__).parents[2] / "examples" / "first-lap"


def lap(folder: Path, layers: tuple[str, str], seam: str = "") -> Plan:
    """The first lap with its rows on other layers."""
    for name, layer in zip(("P1.dxf", "P2.dxf"), layers, strict=True):
        document = ezdxf.filemanagement.readfile(LAP / name)
        for circle in document.modelspace().query("CIRCLE"):
            circle.dxf.layer = layer
        for insert in document.modelspace().query("INSERT"):
            insert.dxf.layer = layer
            for entity in document.blocks[insert.dxf.name]:
                entity.dxf.layer = layer
        document.saveas(folder / name)
    text = (LAP / "job.toml").read_text("utf-8")
    (folder / "job.toml").write_text(text.replace('["P2", "P1"]', seam) if seam else text, "utf-8")
    return plan(folder / "job.toml")


@pytest.mark.parametrize("layers", [("RIVET A", "RIVET a"), ("rivet_a", "RIVET-A"), ("Rivet A", "rivet-a")])
def test_any_case_and_any_sign_before_the_name(layers: tuple[str, str], tmp_path: Path) -> None:
    made = lap(tmp_path, layers)
    assert made.stacks is not None
    assert len(made.stacks) == 10
    assert not [finding for finding in made.findings if finding.blocks]


def test_a_seam_in_another_case(tmp_path: Path) -> None:
    made = lap(tmp_path, ("rivet_a", "RIVET-A"), '["P2/A", "P1/a"]')
    assert made.stacks is not None
    assert len(made.stacks) == 10
    assert not [finding for finding in made.findings if finding.blocks]


@pytest.mark.parametrize(
    ("layer", "told"),
    [
        ("RIVET A", 'seam A: P2.dxf of P2 has no row "Z"; nearest: "A"'),
        ("RIVET", 'seam A: P2.dxf of P2 has no row "Z"; nearest: "r1"'),
        ("CUT", 'seam A: P2.dxf of P2 has no row "Z"; it has none'),
    ],
)
def test_a_row_that_is_not_there_is_named(layer: str, told: str, tmp_path: Path) -> None:
    made = lap(tmp_path, ("RIVET A", layer), '["P2/Z", "P1/A"]')
    (found,) = [finding for finding in made.findings if finding.check == "no-such-row"]
    assert (found.what, found.where.part, found.where.seam) == (told, "P2", "A")


def test_a_hole_that_the_row_has_not_is_named(tmp_path: Path) -> None:
    """The lap has ten holes in either plate."""
    made = lap(tmp_path, ("RIVET A", "RIVET A"), '["P2", "P1"]\nholes = ["2-11", "all"]')
    (found,) = [finding for finding in made.findings if finding.check == "no-such-row"]
    assert found.what == 'seam A: row "A" of P2 has 10 holes; `holes` names its hole 11'
    assert (found.where.part, found.where.seam) == ("P2", "A")


BARS = """
[job]
title = "A long bar on two"
datum = "P1"
rules = "en1993-1-8-2005"
[[rivet]]
mark = "R10"
diameter = 10
hole = 11
closing = "hot"
[[part]]
mark = "P1"
section = "FL60x6"
length = 320
rows = [{ row = "a", back_mark = 30, at = [50, 100, 150, 200, 260], diameter = 11 }]
[[part]]
mark = "P2"
section = "FL60x6"
length = 300
rows = [{ row = "a", back_mark = 30, at = [40, 100, 140, 200, 250], diameter = 11 }]
[[part]]
mark = "B1"
section = "FL60x6"
length = 640
rows = [{ row = "long", back_mark = 30, at = [50, 100, 150, 200, 260, 370, 430, 470, 530, 580], diameter = 11 }]
[[seam]]
mark = "A"
parts = ["B1/long", "P1/a"]
rivet = "R10"
holes = ["1-5", "all"]
[[seam]]
mark = "B"
parts = ["B1/long", "P2/a"]
rivet = "R10"
holes = ["6-10", "all"]
"""


def two(folder: Path, text: str) -> Plan:
    (folder / "job.toml").write_text(text, "utf-8")
    return plan(folder / "job.toml")


def test_a_row_that_meets_two_pieces_is_listed_in_parts(tmp_path: Path) -> None:
    """B1 bears P1 under its holes 1 to 5 and P2 under 6 to 10, whose spaces are 60, 40, 60 and 50 as those of P2."""
    made = two(tmp_path, BARS)
    assert made.body is not None
    assert made.stacks is not None
    marks = [one.mark for one in made.body.instances]
    plies = list(zip(made.stacks.ply_instance.tolist(), made.stacks.ply_hole.tolist(), strict=True))
    pairs = {frozenset((marks[i], hole + 1) for i, hole in plies[k : k + 2]) for k in range(0, len(plies), 2)}
    assert len(plies) == 20
    assert pairs == {
        *(frozenset({("B1", k), ("P1", k)}) for k in range(1, 6)),
        *(frozenset({("B1", k + 5), ("P2", k)}) for k in range(1, 6)),
    }
    assert made.stacks.seam.tolist() == [0] * 5 + [1] * 5
    assert not {finding.check for finding in made.findings} & {"count-differs", "hole-used-twice", "not-placed"}


def test_listed_whole_its_counts_differ(tmp_path: Path) -> None:
    made = two(tmp_path, BARS.replace('holes = ["1-5", "all"]', "").replace('holes = ["6-10", "all"]', ""))
    assert {"count-differs"} <= {finding.check for finding in made.findings}


def test_holes_of_one_row_in_two_seams_are_told_where_both_claim_them(tmp_path: Path) -> None:
    """Hole 5 of B1 lies over P1 alone: seam B that names it too has six holes over five of P2."""
    made = two(tmp_path, BARS.replace('["6-10"', '["5-10"'))
    (found,) = [finding for finding in made.findings if finding.check == "count-differs"]
    assert (found.measured, found.required) == (5.0, 6.0)


def test_which_holes_a_seam_takes_is_part_of_what_is_accepted(tmp_path: Path) -> None:
    """A kit of whole rows keeps its fingerprint; one whose seam takes other holes has another."""
    prints = []
    for text in (BARS, BARS.replace('["1-5"', '["1-4"'), BARS.replace('\nholes = ["1-5", "all"]', "")):
        (tmp_path / "job.toml").write_text(text, "utf-8")
        prints.append(geometry(read_job(tmp_path / "job.toml"), ()).prints[KIT])
    assert len(set(prints)) == 3
