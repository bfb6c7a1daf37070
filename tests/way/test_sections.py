"""A plate with a channel, a tee and half-round edge beading, from the job file to the bar list."""

import numpy as np
import pytest

import fabplan
from fabplan.model.finding import Level
from fabplan.model.plan import Plan
from tests.kits.build import Frame, Kit, Plate, rectangle
from tests.kits.draw import write_drawings

AT = [30.0, 70.0, 110.0, 150.0, 190.0, 230.0, 270.0, 310.0, 360.0]  # one odd space: no bar can be turned end for end
# mark, section, rows (leg, back mark), and where each row lies on the plate
BARS = (
    ("C1", "UPN 100", {"W": ("w", 50.0, 150.0)}),
    ("T1", "T80", {"T": ("a", 17.5, 267.5), "U": ("a", 62.5, 312.5)}),
    ("H1", "HR30", {"H": ("a", 15.0, 385.0)}),
)


@pytest.fixture(scope="module")
def sections(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    folder = tmp_path_factory.mktemp("sections")
    plate = Plate("P1", Frame((0, 0, 0), (1, 0, 0), (0, 1, 0)), rectangle(430.0, 400.0), 6.0)
    text = [
        '[job]\ndatum = "P1"\n[[rivet]]\nmark = "R10"\ndiameter = 10\nhole = 11',
        '[[part]]\nmark = "P1"\ndrawing = "P1.dxf"\nthickness = 6',
    ]
    for mark, section, rows in BARS:
        held = [
            f'{{ row = "{row}", leg = "{leg}", back_mark = {back}, at = {AT}, diameter = 11 }}'
            for row, (leg, back, _) in rows.items()
        ]
        bar = f'[[part]]\nmark = "{mark}"\nsection = "{section}"\nlength = 390\nrows = [{", ".join(held)}]'
        text.append(bar)
        for row, (_, _, y) in rows.items():
            text.append(f'[[seam]]\nmark = "{row}"\nparts = ["{mark}", "P1"]\nrivet = "R10"\nhead = "inside"')
            plate.rows[row] = np.array([[20.0 + x, y] for x in AT])
    write_drawings(Kit([plate], [], {}), folder)
    (folder / "job.toml").write_text("\n".join(text), "utf-8")
    return fabplan.plan(folder / "job.toml")


def test_all_bars_stand_on_the_plate(sections: Plan) -> None:
    """The channel by its web, the tee by its flange, the half-round by its flat face: all on the side z > 0."""
    assert sections.body is not None
    assert [finding.what for finding in sections.findings if finding.level is Level.STOP] == []
    poses = {one.mark: pose for one, pose in zip(sections.body.instances, sections.body.poses, strict=True)}
    for mark in ("C1", "T1", "H1"):
        pose = poses[mark]
        assert pose is not None
        np.testing.assert_allclose(pose.origin[2], 0.0, atol=1e-6)


def test_grips_are_those_of_the_metal_at_the_rivets(sections: Plan) -> None:
    """Plate 6; web of UPN 100 6, flange of T 80 9, half-round 15 at its middle."""
    assert sections.stacks is not None
    grips = {
        number.split()[0]: round(float(g), 6)
        for number, g in zip(sections.stacks.number, sections.stacks.grip, strict=True)
    }
    assert grips == {"W": 12.0, "T": 15.0, "U": 15.0, "H": 21.0}


def test_the_bar_list_gives_masses_and_lines(sections: Plan) -> None:
    """Kg/m of the standards: UPN 100 10.6, T 80 10.7; half-round 30: 2.774."""
    assert sections.supply is not None
    bars = {line.mark: line for line in sections.supply.bars}
    assert {mark: line.section for mark, line in bars.items()} == {"C1": "UPN100", "T1": "T80", "H1": "HR30"}
    for mark, mass in (("C1", 10.6), ("T1", 10.7), ("H1", 2.774)):
        assert bars[mark].mass_each == pytest.approx(mass * 0.39, rel=0.005)
    assert "web, 50 from the outer face of flange a" in bars["C1"].rows[0]
    assert "flange, 17.5 from the edge" in bars["T1"].rows[0]
