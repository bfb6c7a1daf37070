"""Mitred and coped ends of bars: metal against trimesh's plane cuts, corners that clash uncut and not when mitred."""

from math import cos, radians, sin, tan
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from fabplan.body.parts import make_parts
from fabplan.drawing.hand import other_hand
from fabplan.errors import JobError
from fabplan.geom.prism import solid
from fabplan.geom.profile import bounds
from fabplan.job.read import read_job
from fabplan.model.lookup import find_section
from fabplan.model.part import Part
from fabplan.model.plan import Plan
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.way.plan import plan

TABLES = read_tables()
SECTIONS = {  # outlines (y, z) of legs without fillets, as the panels are
    "L60x40x5": [(0, 0), (60, 0), (60, 5), (5, 5), (5, 40), (0, 40)],
    "FL50x6": [(0, 0), (50, 0), (50, -6), (0, -6)],
}


def bars(folder: Path, section: str, ends: str, more: str = "") -> tuple[Part, ...]:
    datum = "AR" if "pair" in more else "A"
    part = f'[[part]]\nmark = "A"\nsection = "{section}"\nlength = 500\nends = [{ends}]\n{more}\n'
    text = f'[job]\ndatum = "{datum}"\n{part}'
    (folder / "job.toml").write_text(text, "utf-8")
    job = read_job(folder / "job.toml", rule_set_names())
    return make_parts(job, {}, TABLES, lambda name: find_section(TABLES, name), other_hand)[0]


def metal(part: Part) -> tuple[float, np.ndarray]:
    solids = [solid(panel) for panel in part.panels]
    volume = np.array([one.volume for one in solids])
    return float(volume.sum()), volume @ np.array([one.middle for one in solids]) / volume.sum()


@pytest.mark.parametrize("section", list(SECTIONS))
@pytest.mark.parametrize("angle", [45.0, 30.0, -45.0])
@pytest.mark.parametrize("end", ["first", "last"])
def test_a_mitre_against_a_plane_cut(tmp_path: Path, section: str, angle: float, end: str) -> None:
    """The outline of the section extruded by 500 mm and cut by trimesh; the plane stands on leg a.

    The mass is that of the true cut. The panel of a leg that stands on leg a ends square where its whole thickness
    stands: short of the cut by half its thickness at the slope.
    """
    (whole,) = bars(tmp_path, section, "")
    (part,) = bars(tmp_path, section, f'{{ end = "{end}", leg = "a", mitre = {angle} }}')
    outline = SECTIONS[section]
    mesh = trimesh.creation.extrude_polygon(shapely.Polygon(outline), 500.0)
    mesh.apply_transform(np.array([[0, 0, 1, 0], [1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 0, 1.0]]))
    across, slope = 0.0 if angle > 0.0 else max(y for y, _ in outline), tan(radians(angle))
    at, normal = [0.0, across, 0.0], [1.0, -slope, 0.0]
    if end == "last":
        at, normal = [500.0, across, 0.0], [-1.0, -slope, 0.0]
    cut = mesh.slice_plane(at, normal, cap=True)
    assert whole.mass - part.mass == pytest.approx((abs(mesh.volume) - abs(cut.volume)) * 7.85e-6, rel=1e-9)
    volume, middle = metal(part)
    bevel = 35.0 * 5.0 * 2.5 * abs(slope) if section.startswith("L") else 0.0
    assert volume + bevel == pytest.approx(abs(cut.volume), rel=1e-9)
    assert middle == pytest.approx(cut.center_mass, abs=1.0 if bevel else 1e-6)


def test_mass_without_what_is_sawn_off(tmp_path: Path) -> None:
    """A flat of 50 x 6, 500 long, mitred at 45 degrees: 2,500 mm2 less of one face, half a square of 50 mm."""
    (whole,) = bars(tmp_path, "FL50x6", "")
    (part,) = bars(tmp_path, "FL50x6", '{ end = "last", mitre = 45 }')
    assert whole.mass - part.mass == pytest.approx(50.0 * 50.0 / 2.0 * 6.0 * 7.85e-6)


def test_a_cope_keeps_the_leg_beside(tmp_path: Path) -> None:
    """Leg b of L60x40x5 is cut back for 80 mm: all but the 5 mm that belong to leg a; then 20 mm deep from its toe."""
    (part,) = bars(tmp_path, "L60x40x5", '{ end = "first", leg = "b", cope = 80 }')
    assert [tuple(bounds(panel.outline)) for panel in part.panels] == [
        (0.0, -60.0, 500.0, 0.0),
        (80.0, 5.0, 500.0, 40.0),
    ]
    (part,) = bars(tmp_path, "L60x40x5", '{ end = "last", leg = "b", cope = 80, depth = 20 }')
    assert metal(part)[0] == pytest.approx(500.0 * 60.0 * 5.0 + (500.0 * 35.0 - 80.0 * 20.0) * 5.0)
    kg = 500.0 * find_section(TABLES, "L60x40x5").mass - 80.0 * 20.0 * 5.0 * 7.85e-3
    assert part.mass == pytest.approx(kg * 1e-3)


def test_too_deep_a_cope_is_told(tmp_path: Path) -> None:
    (part,) = bars(tmp_path, "L60x40x5", '{ end = "first", leg = "b", cope = 80, depth = 35.1 }')
    assert part.panels == ()
    assert "35 mm stand free" in part.trouble


def test_the_other_hand_is_cut_at_its_other_end(tmp_path: Path) -> None:
    right, left = bars(tmp_path, "FL50x6", '{ end = "first", mitre = 45 }', 'hand = "pair"')
    assert metal(right)[1][0] + metal(left)[1][0] == pytest.approx(500.0)
    assert metal(right)[1][0] > 250.0


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ('{ end = "first", leg = "w", mitre = 45 }', 'no leg "w"'),
        ('{ end = "first", mitre = 45, cope = 20 }', "either `mitre`"),
        ('{ end = "first", mitre = 80 }', "up to 75"),
        ('{ end = "first", cope = 20 }], ring = { inside_radius = 400, centre = "+y" }, rows = [', "no straight bar"),
    ],
)
def test_what_no_end_can_be(tmp_path: Path, ends: str, told: str) -> None:
    ends = ends.replace("], ring", "]\nring").replace(", rows", "\nrows")
    with pytest.raises(JobError, match=told.replace("(", "\\(")):
        bars(tmp_path, "L60x40x5", ends)


CORNER = """
[job]
datum = "A"
[[part]]
mark = "A"
section = "L60x60x6"
length = 500
ends = [{a}]
rows = [{{ row = "r", leg = "a", back_mark = 30, at = [{at}], diameter = 11, purpose = "open" }}]
[[part]]
mark = "B"
section = "L60x60x6"
length = 500
ends = [{b}]
[[place]]
part = "B"
origin = [0, 500, 0]
x = [0, -1, 0]
y = [1, 0, 0]
"""


def corner(folder: Path, a: str = "", b: str = "", at: str = "400") -> Plan:
    """Two angles that meet at a corner, their legs b outside: the first end of A, the last of B."""
    (folder / "job.toml").write_text(CORNER.format(a=a, b=b, at=at), "utf-8")
    return plan(folder / "job.toml")


def test_a_corner_of_angles(tmp_path: Path) -> None:
    """Sawn square both fill the corner; mitred by 45 degrees they meet on its diagonal."""
    clashes = [finding for finding in corner(tmp_path).findings if finding.check == "plates-clash"]
    assert len(clashes) == 1
    mitres = [f'{{ end = "{end}", leg = "a", mitre = 45 }}' for end in ("first", "last")]
    made = corner(tmp_path, *mitres)
    assert [finding.check for finding in made.findings if finding.check == "plates-clash"] == []


def test_a_hole_that_the_cut_reaches(tmp_path: Path) -> None:
    """At back mark 30 the mitre of 45 degrees stands 30 mm along; an 11 mm hole just clears it at 37.8 mm."""
    mitre = '{ end = "first", leg = "a", mitre = 45 }'
    clear = 30.0 + 5.5 / cos(radians(45.0))
    assert sin(radians(45.0)) * (clear - 30.0) == pytest.approx(5.5)
    for at, faulty in ((clear + 1e-3, False), (clear - 1e-3, True)):
        made = corner(tmp_path, mitre, "", f"{at:.6f}")
        assert any(finding.check == "hole-outside" for finding in made.findings) == faulty


def test_the_bar_list_says_how_to_saw(tmp_path: Path) -> None:
    made = corner(
        tmp_path, '{ end = "first", leg = "a", mitre = 45 }, { end = "last", leg = "b", cope = 60, depth = 40 }'
    )
    note = made.supply.bars[0].note
    assert "marked end mitred 45 degrees off square, seen on leg a, heel longest" in note
    assert "far end: leg b coped 60 long, 40 deep from the toe" in note
