"""Metal over part of a hole: a plate whose edge runs into the shanks of a row, and one that just clears them."""

from pathlib import Path

import ezdxf.filemanagement
import pytest

from fabplan.way.plan import plan

LAP = Path(__file__).parents[2] / "examples" / "first-lap"
THIRD = """
[[part]]
mark = "P3"
drawing = "P3.dxf"
thickness = 6
[[place]]
part = "P3"
origin = [0, {edge}, 12]
x = [1, 0, 0]
y = [0, 1, 0]
"""


@pytest.mark.parametrize(("edge", "covers"), [(182.0, 10), (184.9, 10), (185.0, 0), (190.0, 0)])
def test_an_edge_over_a_row(edge: float, covers: int, tmp_path: Path) -> None:
    """Rivets of 10 mm on y = 180: an edge nearer than 5 mm lies over part of them, at 5 mm it does not."""
    for name in ("P1.dxf", "P2.dxf"):
        (tmp_path / name).write_bytes((LAP / name).read_bytes())
    document = ezdxf.filemanagement.new("R2010", units=4)
    ring = [(0.0, 0.0), (400.0, 0.0), (400.0, 100.0), (0.0, 100.0)]
    document.modelspace().add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    document.saveas(tmp_path / "P3.dxf")
    (tmp_path / "job.toml").write_text((LAP / "job.toml").read_text("utf-8") + THIRD.format(edge=edge), "utf-8")
    found = [one for one in plan(tmp_path / "job.toml").findings if one.check == "no-hole"]
    assert sum(len(one.where.holes) for one in found) == covers
    assert {one.where.part for one in found} <= {"P3"}
