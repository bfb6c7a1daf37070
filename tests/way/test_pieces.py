"""A file that holds several pieces: each is found by the mark written in it, and judged by itself."""

from pathlib import Path

import ezdxf.filemanagement

from fabplan.way.look import Wanted, look
from fabplan.way.plan import plan

LAP = Path(__file__).parents[2] / "examples" / "first-lap"


def sheet(path: Path, marks: tuple[str, str]) -> None:
    """The two plates of the first lap side by side in one file, each with its mark in it."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    spaces = [20.0 + 40.0 * k for k in range(9)] + [370.0]
    for mark, x0, y in ((marks[0], 0.0, 180.0), (marks[1], 500.0, 20.0)):
        ring = [(x0, 0.0), (x0 + 400.0, 0.0), (x0 + 400.0, 200.0), (x0, 200.0)]
        space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
        for x in spaces:
            space.add_circle((x0 + x, y), 5.5, dxfattribs={"layer": "RIVET A"})
        space.add_text(mark, height=20, dxfattribs={"layer": "NOTE", "insert": (x0 + 100.0, 90.0)})
    document.saveas(path)


def job(folder: Path) -> Path:
    text = (LAP / "job.toml").read_text("utf-8").replace("P1.dxf", "both.dxf").replace("P2.dxf", "both.dxf")
    (folder / "job.toml").write_text(text, "utf-8")
    return folder / "job.toml"


def test_two_pieces_of_one_file_make_the_lap(tmp_path: Path) -> None:
    sheet(tmp_path / "both.dxf", ("P1", "p2"))
    made = plan(job(tmp_path))
    assert made.stacks is not None
    assert len(made.stacks) == 10
    assert made.stacks.misfit.max() < 1e-6
    assert [finding.check for finding in made.findings if finding.blocks] == []
    assert [line.mass_each for line in made.supply.plates] == [one.part.mass for one in made.checked if one.part]
    assert len({one.drawing.fingerprint for one in made.checked}) == 2


def test_without_their_marks_the_file_is_a_stop(tmp_path: Path) -> None:
    sheet(tmp_path / "both.dxf", ("left", "right"))
    assert "more-than-one-profile" in {finding.check for finding in plan(job(tmp_path)).findings}


def test_each_piece_is_judged_by_its_own_edges(tmp_path: Path) -> None:
    """Looked at without a job, the file holds two pieces; no hole of one is outside the other."""
    sheet(tmp_path / "both.dxf", ("P1", "P2"))
    found = look(Wanted(tmp_path / "both.dxf", thickness=6.0)).findings
    assert {finding.check for finding in found if finding.blocks} == {"more-than-one-profile"}
