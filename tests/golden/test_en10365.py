"""Channels, tees and half-rounds: masses as published, areas against true outlines drawn by shapely.

Masses per metre as the standards print them: UPN and UPE in EN 10365 (DIN 1026-1 and -2), PFC in British tables, tees
in EN 10055 (from memory); half-rounds of DIN 1018 and flats are plain geometry.
"""

import numpy as np
import pytest
import shapely
from shapely import affinity
from shapely.geometry.base import BaseGeometry

from fabplan.errors import RuleDataError
from fabplan.model.legs import legs_of
from fabplan.model.lookup import find_section
from fabplan.model.tables import Section
from fabplan.rules.tables import read_tables

TABLES = read_tables()
ARCS = 64  # chords in a quarter circle

UPN = [(50, 5.58), (65, 7.11), (80, 8.65), (100, 10.57), (120, 13.32), (140, 15.99), (160, 18.87), (180, 21.94)]
UPE = [(80, 7.90), (100, 9.82), (120, 12.1), (140, 14.5), (160, 17.0), (180, 19.7), (200, 22.8)]
PFC = [("100x50x10", 10.2), ("125x65x15", 14.8), ("150x75x18", 17.9), ("150x90x24", 23.9), ("200x90x30", 29.7)]
TEES = [(30, 1.77), (35, 2.33), (40, 2.96), (50, 4.44), (60, 6.23), (70, 8.32), (80, 10.7), (100, 16.4)]


@pytest.mark.parametrize(("height", "mass"), [*UPN, (200, 25.3)])
def test_published_masses_of_tapered_channels(height: int, mass: float) -> None:
    """Within 0.35 %: the printed figures stand on radii rounded to half a millimetre."""
    assert find_section(TABLES, f"UPN {height}").mass == pytest.approx(mass, rel=0.0035)


@pytest.mark.parametrize(
    ("name", "mass"),
    [*((f"UPE{h}", mass) for h, mass in UPE), *((f"PFC{size}", mass) for size, mass in PFC)],
)
def test_published_masses_of_parallel_channels(name: str, mass: float) -> None:
    """Printed to three figures."""
    assert find_section(TABLES, name).mass == pytest.approx(mass, abs=0.051 if mass > 10.0 else 0.0051)


@pytest.mark.parametrize(("height", "mass"), TEES)
def test_published_masses_of_tees(height: int, mass: float) -> None:
    assert find_section(TABLES, f"T{height}").mass == pytest.approx(mass, abs=0.051 if mass > 10.0 else 0.0051)


@pytest.mark.parametrize(("name", "mass"), [("HR10", 0.308), ("HR25", 1.927), ("hr 50", 7.707), ("HR25x12.5", 1.927)])
def test_half_rounds(name: str, mass: float) -> None:
    """Pi d2 / 8 at 7850 kg/m3; a flat one as high as half its width is a full one."""
    assert find_section(TABLES, name).mass == pytest.approx(mass, abs=0.0006)


@pytest.mark.parametrize(("width", "height"), [(40.0, 12.0), (30.0, 15.0), (60.0, 7.0)])
def test_flat_half_rounds_are_segments_of_a_circle(width: float, height: float) -> None:
    radius = (width**2 / 4.0 + height**2) / (2.0 * height)
    disc = shapely.Point(0.0, height - radius).buffer(radius, quad_segs=2000)
    segment = disc.intersection(shapely.box(-width, 0.0, width, 2.0 * height))
    assert find_section(TABLES, f"HR{width:g}x{height:g}").area == pytest.approx(segment.area, rel=1e-5)


def channel_outline(section: Section) -> BaseGeometry:
    """The true outline: sharp corners first, then fillets by closing the shape, toes by opening a wide corner."""
    h, b, web, slope = section.web, section.a, section.web_thickness, section.taper
    root, tip = (section.t + slope * (b / 2.0 - u) for u in (web, b))
    sharp = shapely.Polygon([(0, 0), (b, 0), (b, tip), (web, root), (web, h - root), (b, h - tip), (b, h), (0, h)])
    filled = sharp.buffer(section.root_radius, quad_segs=ARCS, join_style="mitre", mitre_limit=9.0)
    filled = filled.buffer(-section.root_radius, quad_segs=ARCS)
    if not section.toe_radius:
        return filled
    corner = shapely.Polygon([(b, -99.0), (b, tip), (b - 99.0, tip + slope * 99.0), (b - 99.0, -99.0)])
    opened = corner.buffer(-section.toe_radius, join_style="mitre", mitre_limit=9.0)
    opened = opened.buffer(section.toe_radius, quad_segs=ARCS)
    toe = corner.difference(opened).intersection(shapely.Point(b, tip).buffer(2.0 * section.toe_radius))
    return filled.difference(toe).difference(affinity.scale(toe, 1.0, -1.0, origin=(0.0, h / 2.0)))


@pytest.mark.parametrize("section", [one for one in TABLES.sections if one.kind == "channel"], ids=lambda one: one.name)
def test_areas_of_channels_against_their_outline(section: Section) -> None:
    outline = channel_outline(section)
    assert section.area == pytest.approx(outline.area, rel=2e-4)
    # the flat of the web, between the fillets, is where the outline is as wide as the web
    web = legs_of(section)[0]
    (_, low), (high, _) = web.roots
    for z, flat in ((low + 0.3, True), (high - 0.3, True), (low - 1.5, False), (high + 1.5, False)):
        wide = outline.intersection(shapely.LineString([(-1.0, z), (section.a + 1.0, z)])).length
        assert (wide <= section.web_thickness + 0.01) is flat


@pytest.mark.parametrize(
    ("name", "flat"), [("UPN80", 46), ("UPN100", 64), ("UPN200", 151), ("UPE80", 46), ("UPE100", 65)]
)
def test_flat_of_the_web(name: str, flat: float) -> None:
    """Straight depth d of the web as printed in section tables, whole mm (from memory)."""
    (_, low), (high, _) = legs_of(find_section(TABLES, name))[0].roots
    assert high - low == pytest.approx(flat, abs=0.75)


@pytest.mark.parametrize("section", [one for one in TABLES.sections if one.kind == "tee"], ids=lambda one: one.name)
def test_areas_of_tees_against_their_outline(section: Section) -> None:
    """Rectangles and root fillets; toes and the taper of 2 % make 2 to 2.6 % less."""
    half, web = section.a / 2.0, section.web_thickness / 2.0
    flange = shapely.box(-half, 0.0, half, section.t)
    sharp = flange.union(shapely.box(-web, 0.0, web, section.b))
    filled = sharp.buffer(section.root_radius, join_style="mitre").buffer(-section.root_radius, quad_segs=ARCS)
    assert 0.97 < section.area / filled.area < 0.985


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("UPN90", "UPN80, UPN100"),
        ("UPE 85", "UPE80"),
        ("T55", "T50, T60"),
        ("HR26", "HR25"),
        ("PFC100x50x11", "PFC100x50x10"),
        ("UNP100", "UPN100"),
    ],
)
def test_an_unknown_name_gives_the_nearest(name: str, near: str) -> None:
    with pytest.raises(RuleDataError, match=near):
        find_section(TABLES, name)


def test_a_half_round_higher_than_half_its_width() -> None:
    with pytest.raises(RuleDataError, match="a full half-round is HR40"):
        find_section(TABLES, "HR40x21")


def test_usual_gauges_leave_the_least_edge_of_the_code() -> None:
    """DIN 997 (from memory): from the largest hole to the tip 1.2 hole diameters, the least of EN 1993-1-8."""
    legs = [gauge for gauge in TABLES.gauges if gauge.of == "leg"]
    widths = np.array([gauge.width for gauge in legs])
    assert np.all(np.diff(widths) > 0)
    assert all(gauge.width - gauge.back_mark >= 1.2 * gauge.largest_hole for gauge in legs)
    # rows of the reference: leg, gauge, largest hole
    known = {(50, 30, 13), (60, 35, 17), (75, 40, 23), (100, 55, 25), (30, 17, 8.4)}
    assert known <= {(gauge.width, gauge.back_mark, gauge.largest_hole) for gauge in legs}


def test_usual_gauges_clear_the_roots() -> None:
    """Two tables against each other: at DIN 997's gauge the head of its largest rivet clears the root.

    Heads of DIN 124 and DIN 660; legs thicker than 0.15 of their width take a smaller rivet.
    """
    gauges = {gauge.width: gauge for gauge in TABLES.gauges if gauge.of == "leg"}
    heads = {head.d: head.head_diameter for head in TABLES.heads if head.standard in ("DIN 124", "DIN 660")}
    tried = 0
    for section in (one for one in TABLES.sections if one.kind in ("angle", "channel")):
        for leg in (one for one in legs_of(section) if one.name != "w" and one.high in gauges):
            gauge = gauges[leg.high]
            head = heads[max(d for d in heads if d < gauge.largest_hole)]
            if section.t < 0.15 * leg.high:
                assert gauge.back_mark - head / 2.0 >= leg.roots[0][1], section.name
                tried += 1
    assert tried > 150
