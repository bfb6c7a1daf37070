"""Bars bent to rings and arcs: straight lengths, holes in space, metal against trimesh, and the papers.

Centroids of angles: published section properties (EN 10056-1 sizes, mm, printed to 0.1 mm).
Volume of a ring: Pappus; the mesh of revolution is trimesh's.
"""

from math import cos, pi, radians, sin
from pathlib import Path

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from fabplan.body.parts import make_parts
from fabplan.body.ring import bar_ring, centroid, neutral_radius
from fabplan.drawing.hand import other_hand
from fabplan.geom import profile as plane
from fabplan.geom.pose import to_outer, turned
from fabplan.geom.prism import solid
from fabplan.geom.ring import to_ring, to_straight
from fabplan.job.read import read_job
from fabplan.model.bends import RingSpec
from fabplan.model.lookup import find_section
from fabplan.model.page import Text
from fabplan.model.part import Part
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.sheets.forming_sheet import forming_sheets
from fabplan.sheets.lint import lint
from fabplan.way.plan import plan
from tests.body.plates import draw, met, planned, plate

TABLES = read_tables()
BAR = """
[job]
datum = "A1"
[[part]]
mark = "A1"
section = "{section}"
ring = {{ inside_radius = {radius}, centre = "{centre}", angle = {angle} }}
rows = [{rows}]
"""


def bar(folder: Path, section: str, ring: tuple[float, str, float], rows: str = "") -> Part:
    radius, centre, angle = ring
    text = BAR.format(section=section, radius=radius, centre=centre, angle=angle, rows=rows)
    (folder / "job.toml").write_text(text, "utf-8")
    job = read_job(folder / "job.toml", rule_set_names())
    parts, _ = make_parts(job, {}, TABLES, lambda name: find_section(TABLES, name), other_hand)
    return parts[0]


@pytest.mark.parametrize(
    ("name", "y", "z"),
    [("L50x50x5", 14.0, 14.0), ("L60x60x6", 16.9, 16.9), ("L80x80x8", 22.6, 22.6), ("L100x100x10", 28.2, 28.2)],
)
def test_centroids_of_angles(name: str, y: float, z: float) -> None:
    """Published cx = cy: 1.40, 1.69, 2.26 and 2.82 cm."""
    assert centroid(find_section(TABLES, name)) == pytest.approx((y, z), abs=0.06)


def test_centroid_of_a_half_round() -> None:
    """Half a circle: 4 r / (3 pi) off its flat face."""
    assert centroid(find_section(TABLES, "HR40x20"))[1] == pytest.approx(-4.0 * 20.0 / (3.0 * pi), abs=1e-9)


@pytest.mark.parametrize(
    ("section", "centre", "length"),
    [
        ("FL50x6", "+y", 2.0 * pi * 425.0),  # on edge: the middle of 50 mm
        ("FL50x6", "-y", 2.0 * pi * 425.0),
        ("FL50x6", "+z", 2.0 * pi * 403.0),  # on its flat: the middle of 6 mm
        ("FL50x6", "-z", 2.0 * pi * 403.0),
        ("L50x50x5", "+y", 2.0 * pi * (450.0 - 14.0)),  # toe in, published centroid 14.0 from the heel
        ("L50x50x5", "-z", 2.0 * pi * (400.0 + 14.0)),  # toe out
        ("HR40x20", "+z", 2.0 * pi * (400.0 + 80.0 / (3.0 * pi))),
        ("HR40x20", "-z", 2.0 * pi * (420.0 - 80.0 / (3.0 * pi))),
    ],
)
def test_straight_length_of_a_ring(tmp_path: Path, section: str, centre: str, length: float) -> None:
    """Inside radius 400; the centroid keeps its length. Published centroids are printed to 0.1 mm."""
    found = bar(tmp_path, section, (400.0, centre, 360.0)).spec.length
    assert found == pytest.approx(length, abs=0.4 if section.startswith("L") else 1e-6)


def metal(part: Part) -> tuple[float, np.ndarray]:
    solids = [solid(panel) for panel in part.panels]
    volumes = np.array([one.volume for one in solids])
    return float(volumes.sum()), volumes @ np.array([one.middle for one in solids]) / volumes.sum()


LEGS = {  # corners (radius, height) of the legs of an angle with its toe in, and of a flat, counter-clockwise
    ("L50x50x5", "+y"): [(400, 0), (450, 0), (450, 50), (445, 50), (445, 5), (400, 5)],
    ("L50x50x5", "-y"): [(400, 0), (450, 0), (450, 5), (405, 5), (405, 50), (400, 50)],
    ("L60x40x5", "-z"): [(400, 0), (440, 0), (440, 5), (405, 5), (405, 60), (400, 60)],
    ("FL50x6", "+y"): [(400, 0), (450, 0), (450, 6), (400, 6)],
    ("FL50x6", "-z"): [(400, 0), (406, 0), (406, 50), (400, 50)],
}


@pytest.mark.parametrize("angle", [90.0, 250.0, 360.0])
@pytest.mark.parametrize(("section", "centre"), list(LEGS))
def test_metal_against_a_mesh_of_revolution(tmp_path: Path, section: str, centre: str, angle: float) -> None:
    """Volume and centre of mass of the panels against trimesh: legs without fillets, as DEVELOPERS.md says."""
    line = np.array([*LEGS[section, centre], LEGS[section, centre][0]], dtype=float)
    mesh = trimesh.creation.revolve(line, angle=radians(angle), cap=angle < 360.0, sections=1440)
    volume, middle = metal(bar(tmp_path, section, (400.0, centre, angle)))
    assert volume == pytest.approx(abs(mesh.volume), rel=2e-4)
    # about the axis: the marked end of the bar lies square to the axis, the mesh begins on its x axis
    part = bar(tmp_path, section, (400.0, centre, angle))
    assert part.section is not None
    assert part.spec.ring is not None
    assert part.spec.length is not None
    ring = bar_ring(part.spec.ring, part.section, part.spec.length)
    axis = ring.own.origin + 400.0 * ring.towards
    out, along = float((middle - axis) @ -ring.towards), float((middle - axis)[0])
    assert (out, along) == pytest.approx((mesh.center_mass[0], mesh.center_mass[1]), abs=0.2)


def test_holes_by_angle(tmp_path: Path) -> None:
    """An angle with its toe in: holes of leg a on their circle in its plane, those of leg b round the outside."""
    rows = """{ row = "flange", leg = "a", back_mark = 28, by = "angle", at = [10, 100, 190], diameter = 11 },
              { row = "rim", leg = "b", back_mark = 30, by = "angle", at = [20, 110], diameter = 11 }"""
    part = bar(tmp_path, "L50x50x5", (400.0, "+y", 200.0), rows)
    holes = part.holes
    frames = [part.panels[k].frame for k in holes.panel.tolist()]
    flat = np.column_stack([holes.holes.xy, np.zeros(5)])
    place = np.array([to_outer(frame, one) for frame, one in zip(frames, flat, strict=True)])
    wanted = [(422.0 * sin(radians(a)), 450.0 - 422.0 * cos(radians(a)), 0.0) for a in (10, 100, 190)]
    wanted += [(450.0 * sin(radians(a)), 450.0 - 450.0 * cos(radians(a)), 30.0) for a in (20, 110)]
    assert place == pytest.approx(np.array(wanted), abs=1e-9)
    normal = np.array([turned(frame, np.array([0.0, 0.0, 1.0])) for frame in frames])
    outward = [(sin(radians(a)), -cos(radians(a)), 0.0) for a in (20, 110)]
    assert normal == pytest.approx(np.array([(0.0, 0.0, -1.0)] * 3 + outward), abs=1e-9)


@given(
    st.sampled_from(["L50x50x5", "L60x40x5", "FL50x6", "HR40x20"]),
    st.sampled_from(["+y", "-y", "+z", "-z"]),
    st.floats(5.0, 350.0),
    st.tuples(st.floats(0.001, 0.999), st.floats(-60.0, 60.0), st.floats(-60.0, 60.0)),
)
def test_to_space_and_back(name: str, centre: str, angle: float, at: tuple[float, float, float]) -> None:
    """Straight bar to space and back within 1e-9 mm."""
    section, spec = find_section(TABLES, name), RingSpec(400.0, centre, angle)
    length = radians(angle) * neutral_radius(spec, section)
    ring = bar_ring(spec, section, length)
    points = np.array([[at[0] * length, at[1], at[2]]])
    assert to_straight(ring, to_ring(ring, points)) == pytest.approx(points, abs=1e-9)


def test_an_outline_is_a_sector_of_a_circle(tmp_path: Path) -> None:
    """A flat of 50 mm on edge: pi (450^2 - 400^2) of a full ring, a quarter of it for 90 degrees."""
    for angle in (90.0, 360.0):
        (panel,) = bar(tmp_path, "FL50x6", (400.0, "+y", angle)).panels
        area = abs(plane.area(panel.outline)) - sum(abs(plane.area(one)) for one in panel.cutouts)
        assert area == pytest.approx(pi * (450.0**2 - 400.0**2) * angle / 360.0, rel=1e-9)


AT = [*range(5, 258, 12), 268, 280, 292]  # degrees; one space odd, so that the ring has one place only


def test_a_ring_of_angle_on_a_plate(tmp_path: Path) -> None:
    """Every hole meets its mate, grip 6 + 5; the bar list and the forming sheet tell the bend."""
    angles = np.radians(AT)
    circle = 222.0 * np.column_stack([np.cos(angles), np.sin(angles)]) + 300.0
    draw(tmp_path / "disc.dxf", (600.0, 600.0), {"A": circle}, {})
    rim = (
        'section = "L50x50x5"\nring = { inside_radius = 200, centre = "+y", angle = 300 }\n'
        f'rows = [{{ row = "A", leg = "a", back_mark = 28, by = "angle", at = {[*map(float, AT)]}, diameter = 11 }}]'
    )
    made = planned(tmp_path, {"DISC": plate("disc.dxf", 6), "RIM": rim}, A=("RIM/A", "DISC/A"))
    _, stacks = met(made, len(AT), 1e-6)
    assert stacks.grip == pytest.approx(np.full(len(AT), 11.0), abs=1e-6)
    assert made.supply is not None
    (line,) = made.supply.bars
    assert line.length == pytest.approx(radians(300.0) * (250.0 - 14.0), abs=0.4)
    assert line.mass_each == pytest.approx(3.77 * line.length * 1e-3, rel=2e-3)  # EN 10056-1: 3.77 kg/m
    assert "bent to 200 inside radius" in line.note
    pages = forming_sheets(made)
    assert [lint(page) for page in pages] == [()] * len(pages)
    words = " ".join(item.text for page in pages for item in page.items if isinstance(item, Text))
    for wanted in ("RIM, L50x50x5", "its toe inwards", "300.00", "400.0", "500.0", "29.000"):
        assert wanted in words


@pytest.mark.parametrize(
    ("ring", "told"),
    [
        ('{ inside_radius = 20, centre = "+z" }\nlength = 400', "go round by"),
        ('{ inside_radius = 20, centre = "+z", angle = 90 }\nlength = 400', "stand together"),
    ],
)
def test_what_cannot_be_bent(tmp_path: Path, ring: str, told: str) -> None:
    text = f'[job]\ndatum = "A1"\n[[part]]\nmark = "A1"\nsection = "FL50x6"\nring = {ring}\n'
    (tmp_path / "job.toml").write_text(text, "utf-8")
    if told == "stand together":
        with pytest.raises(Exception, match=told):
            read_job(tmp_path / "job.toml", rule_set_names())
        return
    found = [finding for finding in plan(tmp_path / "job.toml").findings if finding.check == "cannot-form"]
    assert len(found) == 1
    assert told in found[0].what
