"""The shop tables against published figures."""

import math

import pytest

from fabplan.errors import FabplanError, RuleDataError
from fabplan.geom.heads import closing_volume, sink_depth
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import HEAD_STANDARDS, THICKEST_ANGLE, find_head, find_section, stock_lengths
from fabplan.model.tables import HeadForm
from fabplan.rules.tables import read_tables

TABLES = read_tables()
STEEL = 7.85e-6  # kg/mm3, EN 10025


def head(standard: str, diameter: float) -> HeadForm:
    return next(row for row in TABLES.heads if (row.standard, row.d) == (standard, diameter))


# EN 10056-1 as printed in section tables; the printed masses are rounded to two decimals
@pytest.mark.parametrize(
    ("name", "mass"),
    [
        ("L50x50x5", 3.77),
        ("L100x100x10", 15.04),
        ("L60x60x6", 5.42),
        ("L80x80x8", 9.63),
        ("L30x30x3", 1.36),
        ("L75x75x8", 8.99),
        ("L90x90x9", 12.18),
    ],
)
def test_angles_weigh_what_the_standard_prints(name: str, mass: float) -> None:
    assert find_section(TABLES, name).mass == pytest.approx(mass, abs=0.0051)


def test_no_listed_angle_is_near_the_thickness_that_none_can_have() -> None:
    """EN 10056-1: the thickest for their legs are 0.24 of the shorter (L100x50x12)."""
    angles = [one for one in TABLES.sections if one.kind == "angle"]
    assert len(angles) > 50
    assert max(one.t / min(one.a, one.b) for one in angles) <= 0.25 < THICKEST_ANGLE


def test_the_standards_that_a_job_may_name_are_those_of_the_tables() -> None:
    assert {one.standard for one in TABLES.heads} == set(HEAD_STANDARDS)


# kg/m of flats: b t 7.85e-3
@pytest.mark.parametrize(("name", "mass"), [("FL30x5", 1.178), ("FL50x8", 3.140), ("FL100x12", 9.420)])
def test_flats_weigh_their_size(name: str, mass: float) -> None:
    assert find_section(TABLES, name).mass == pytest.approx(mass, abs=0.0006)


# BS 275:1927 and BS 4620:1970 setting allowances, in d, hole clearance not included
@pytest.mark.parametrize(
    ("form", "diameter", "height", "angle", "allowance"),
    [("round", 1.6, 0.7, 0.0, 1.125), ("countersunk", 2.0, 0.5, 90.0, 0.667)],
)
def test_british_setting_allowances_are_volumes(
    form: str, diameter: float, height: float, angle: float, allowance: float
) -> None:
    # BS 4620 measures the countersunk allowance over the full grip with the cone's core in it: cone less core
    shape = HeadForm("BS", form, 1.0, diameter, height, angle, "BS")
    used = closing_volume(shape, 1.0) / (math.pi / 4.0)
    assert used == pytest.approx(allowance, abs=0.001)


# sink depth with the hole d + 1, worked from the angle: (D - d0) / (2 tan(angle / 2))
@pytest.mark.parametrize(("d", "hole", "depth"), [(12, 13, 3.26), (16, 17, 5.86), (20, 21, 9.09), (30, 31, 13.88)])
def test_sink_depth(d: float, hole: float, depth: float) -> None:
    assert sink_depth(head("DIN 302", d), hole) == pytest.approx(depth, abs=0.006)


def test_a_hole_as_wide_as_the_head_leaves_no_countersink() -> None:
    form = head("DIN 302", 12)
    assert sink_depth(form, 18.0) == 0.0
    assert closing_volume(form, 19.0) == 0.0


def test_countersunk_heads_agree_with_their_own_angle() -> None:
    # D = d + 2 k tan(angle / 2); tables round D to 0.5 mm
    for row in TABLES.heads:
        if row.standard == "DIN 302":
            cone = row.d + 2.0 * row.head_height * math.tan(math.radians(row.angle / 2.0))
            assert row.head_diameter == pytest.approx(cone, abs=0.6), row


def test_every_row_names_its_source_and_stands_once() -> None:
    for rows in (TABLES.sections, TABLES.heads, TABLES.lengths, TABLES.tools, TABLES.gauges):
        assert all(row.source for row in rows)
    assert TABLES.density_source
    names = [section.name for section in TABLES.sections]
    heads = [(row.standard, row.d) for row in TABLES.heads]
    assert len(set(names)) == len(names) > 80
    assert len(set(heads)) == len(heads)
    assert all("from memory" in row.source for row in TABLES.heads if row.standard in ("DIN 124", "DIN 302"))


def test_tools_are_assumed_and_serve_both_sides() -> None:
    of_bolts = ("turn", "keep")
    assert {tool.use for tool in TABLES.tools} == {"drive", "hold", "squeeze", "enter", *of_bolts}
    assert all(tool.assumed for tool in TABLES.tools)
    # half the head and 1/4 inch is the least room to the face of a standing leg (detailing practice of 1912)
    assert TABLES.near.least == 0.5
    assert TABLES.near.plus == pytest.approx(25.4 / 4.0)
    noses = [tool.nose_over_head / 2.0 for tool in TABLES.tools if tool.use not in ("enter", *of_bolts)]
    assert noses == pytest.approx([25.4 / 4.0] * len(noses))


@pytest.mark.parametrize("name", ["L50x50x6", "l 50 X 50 x 6", "L50\N{MULTIPLICATION SIGN}50x6", "L50*50*6"])
def test_sections_are_found_however_they_are_written(name: str) -> None:
    assert find_section(TABLES, name).name == "L50x50x6"


def test_leg_a_is_the_first_named() -> None:
    listed, turned = find_section(TABLES, "L75x50x6"), find_section(TABLES, "L50x75x6")
    assert (listed.a, listed.b) == (75.0, 50.0)
    assert (turned.name, turned.a, turned.b, turned.mass) == ("L50x75x6", 50.0, 75.0, listed.mass)


@pytest.mark.parametrize("name", ["L50x50x7.5", "XYZ", "", "FL0x6", "L50x50"])
def test_an_unknown_section_names_the_nearest(name: str) -> None:
    with pytest.raises(RuleDataError, match=r"L\d+x\d+x\d+") as caught:
        find_section(TABLES, name)
    assert isinstance(caught.value, FabplanError)


def test_heads_by_closing_and_by_stated_standard() -> None:
    def found(**given: object) -> str:
        spec = RivetSpec(**{"mark": "R", "hole": 11.0, **given})  # type: ignore[arg-type]  # keywords of a test
        row = find_head(TABLES, spec, spec.point)
        return row.standard if row else "none"

    assert found(diameter=10.0) == "DIN 124"
    assert found(diameter=10.0, point="countersunk") == "DIN 302"
    assert found(diameter=6.0, closing="cold") == "DIN 660"
    assert found(diameter=6.0, closing="cold", point="countersunk") == "DIN 661"
    assert found(diameter=10.0, closing="cold") == "DIN 124"  # no small rivet of 10 mm is listed
    assert found(diameter=6.0, standard="din660") == "DIN 660"
    assert found(diameter=12.0, standard="DIN 660") == "DIN 124"
    assert found(diameter=11.0) == "none"


def test_stock_lengths_hold_for_their_range_of_diameters() -> None:
    assert 40.0 in stock_lengths(TABLES, "DIN 124", 16.0)
    assert stock_lengths(TABLES, "DIN 660", 8.0)[:3] == (2.0, 3.0, 4.0)
    assert stock_lengths(TABLES, "DIN 660", 8.1) == ()
    assert stock_lengths(TABLES, "IS 1929", 12.0) == ()
    for row in TABLES.lengths:
        assert list(row.lengths) == sorted(set(row.lengths))
