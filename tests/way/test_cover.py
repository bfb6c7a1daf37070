"""Metal over holes and heads: a plate on a row, one beside it, and one that stands up from the face.

Rivets 10 in 11 on y = 180: holes end at 185.5, the round heads of DIN 124 (16 mm across for 10, from memory) at 188.
"""

from pathlib import Path

import ezdxf.filemanagement
import pytest

from fabplan.model.finding import Finding
from fabplan.way.plan import plan

LAP = Path(__file__).parents[2] / "examples" / "first-lap"
THIRD = """
[[part]]
mark = "P3"
drawing = "P3.dxf"
thickness = 6
[[place]]
part = "P3"
origin = [0, {edge}, {height}]
x = [1, 0, 0]
y = {y}
"""
FLAT, UP = "[0, 1, 0]", "[0, 0, 1]"


def third(folder: Path, edge: float, y: str, height: float, head: str = "round") -> list[Finding]:
    """What is told of a third plate beside the row of the first lap, lying on P2 or standing up from it."""
    for name in ("P1.dxf", "P2.dxf"):
        (folder / name).write_bytes((LAP / name).read_bytes())
    document = ezdxf.filemanagement.new("R2010", units=4)
    ring = [(0.0, 0.0), (400.0, 0.0), (400.0, 100.0), (0.0, 100.0)]
    document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    document.saveas(folder / "P3.dxf")
    text = (LAP / "job.toml").read_text("utf-8").replace('head = "round"', f'head = "{head}"')
    (folder / "job.toml").write_text(text + THIRD.format(edge=edge, y=y, height=height), "utf-8")
    found = [one for one in plan(folder / "job.toml").findings if one.check in ("no-hole", "head-fouls")]
    assert {one.where.part for one in found} <= {"P3"}
    return found


@pytest.mark.parametrize(
    ("edge", "check", "words"),
    [
        (90.0, "no-hole", "P3 lies in the way of 10 rivets of seam A"),
        (182.0, "no-hole", "P3 covers part of 10 holes of seam A"),
        (185.4, "no-hole", "P3 covers part of 10 holes of seam A"),
        (185.5, "head-fouls", "P3 stands where 10 made heads of seam A must be"),
        (187.9, "head-fouls", "P3 stands where 10 made heads of seam A must be"),
        (188.0, "", ""),
    ],
)
def test_a_plate_on_the_row_or_beside_it(edge: float, check: str, words: str, tmp_path: Path) -> None:
    found = third(tmp_path, edge, FLAT, 12.0)
    assert [one.check for one in found] == ([check] if check else [])
    assert all(one.what.startswith(words) and len(one.where.holes) == 10 for one in found)


@pytest.mark.parametrize(("edge", "fouls"), [(187.9, True), (188.0, False), (171.9, False), (172.1, True)])
def test_an_upstand_beside_the_row(edge: float, fouls: bool, tmp_path: Path) -> None:
    """It stands from the edge 6 mm further: heads reach from 172 to 188."""
    found = third(tmp_path, edge if edge > 180.0 else edge - 6.0, UP, 6.0)
    assert [one.check for one in found] == (["head-fouls"] if fouls else [])


def test_metal_over_the_head_but_not_in_it_is_clear(tmp_path: Path) -> None:
    """A head is 6.5 mm high (DIN 124, from memory): a plate 6.6 mm over the face leaves it room."""
    assert [one.check for one in third(tmp_path, 186.5, FLAT, 6.0 + 6.6 + 6.0)] == []


def test_a_countersunk_head_needs_no_room(tmp_path: Path) -> None:
    assert third(tmp_path, 186.0, FLAT, 12.0, "countersunk") == []
