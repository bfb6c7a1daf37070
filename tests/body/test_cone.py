"""A cone in a body: a band round it, holes by angle; its sector held against the developed one; its sheet.

Mean radii 200 and 100, height 300: sector 632.456 and 316.228, 113.842 degrees (plate-work practice).
"""

from math import atan2, cos, radians, sin, tan
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pytest

from fabplan.geom.cone import development
from fabplan.model.plan import Plan
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.lint import lint
from tests.body.plates import INSIDE, met, planned, plate
from tests.sheets.words import words

HALF = atan2(100.0, 300.0)
ANGLES = np.concatenate([np.radians(np.arange(10.0, 340.0, 10.0)), [np.radians(347.0)]])  # round the axis
OFF = 6.0 / tan(HALF)  # slant by which the apex of a cone that lies on another, 6 mm out, is further up


def draw(path: Path, radii: tuple[float, float], angle: float, holes: np.ndarray) -> None:
    """A sector about (0, 0) from the x axis on, with holes (slant, angle on the sector)."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space, (outer, inner) = document.modelspace(), radii
    bulge = tan(angle / 4.0)
    ring = [(outer, 0.0, bulge), (outer * cos(angle), outer * sin(angle), 0.0)]
    ring += [(inner * cos(angle), inner * sin(angle), -bulge), (inner, 0.0, 0.0)]
    space.add_lwpolyline(ring, format="xyb", close=True, dxfattribs={"layer": "CUT"})
    for slant, turn in holes:
        space.add_circle((slant * cos(turn), slant * sin(turn)), 5.5, dxfattribs={"layer": "RIVET S"})
    document.saveas(path)


def hopper(folder: Path, small: float = 100.0) -> Plan:
    """A frustum with a band of 100 mm slant on its outside, 6 on 6 mm, a row of rivets round both."""
    outer, inner, angle = development(200.0, 100.0, 300.0)
    row = np.column_stack([np.full(len(ANGLES), 500.0), ANGLES * sin(HALF)])
    draw(folder / "C.dxf", (outer, inner), angle, row)
    low, high = 450.0 + OFF, 550.0 + OFF
    draw(folder / "B.dxf", (high, low), angle, row + np.array([OFF, 0.0]))
    band = f"mean_radii = [{low * sin(HALF):.9f}, {high * sin(HALF):.9f}], height = {100.0 * cos(HALF):.9f}"
    pieces = {
        "C": plate("C.dxf", 6, INSIDE, f"cone = {{ mean_radii = [{small}, 200], height = 300 }}"),
        "B": plate("B.dxf", 6, INSIDE, f"cone = {{ {band} }}"),
    }
    return planned(folder, pieces, S=("B", "C"))


def test_a_band_round_a_cone(tmp_path: Path) -> None:
    made = hopper(tmp_path)
    _, stacks = met(made, len(ANGLES), 0.01)
    assert stacks.grip == pytest.approx(np.full(len(ANGLES), 12.0), abs=0.02)
    # each rivet's place is on the outer face of the cone: 500 sin(half) + 3 cos(half) from its axis
    axis = np.array([cos(HALF), 0.0, sin(HALF)])
    own = stacks.point - np.array([0.0, 0.0, -3.0])
    away = np.linalg.norm(own - (own @ axis)[:, None] * axis, axis=1)
    assert away == pytest.approx(np.full(len(ANGLES), 500.0 * sin(HALF) + 3.0 * cos(HALF)), abs=0.02)


def test_a_sector_that_is_not_the_developed_one(tmp_path: Path) -> None:
    """For a narrow end of 90 the sector is another: told with the wanted figures, and the body does not close."""
    outer, inner, _ = development(200.0, 90.0, 300.0)
    made = hopper(tmp_path, 90.0)
    told = [finding for finding in made.findings if finding.check == "formed-size-differs"]
    assert [finding.where.part for finding in told] == ["C", "C"]
    assert [finding.required for finding in told] == pytest.approx([outer, inner], abs=1e-6)
    assert [finding.measured for finding in told] == pytest.approx([632.456, 316.228], abs=1e-3)


def test_its_sheet(tmp_path: Path) -> None:
    sheets = forming_sheets(hopper(tmp_path))
    assert [lint(page) for page in sheets] == [()] * len(sheets)
    told = words(sheets[0])
    for figure in ("632.46", "316.23", "113.84", "405.7", "394.3", "301.9", "316.2", "marked face inside"):
        assert figure in told, figure
    assert "347.000" in " ".join(words(page) for page in sheets)
    assert radians(347.0) == ANGLES[-1]
