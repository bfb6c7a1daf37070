"""Limits of suppliers, processes and the shop: whose they are, and exact where they bind."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.drawing.check import all_findings, check_drawing
from fabplan.drawing.corners import inner_corners
from fabplan.drawing.limits import hole_limit, slot_limit, web_limit
from fabplan.geom.profile import circle, rectangle, reversed_profile
from fabplan.model.drawing import Drawing, Entry, Line, Shape
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.holes import Holes
from fabplan.model.job import PartSpec, Supplier
from fabplan.model.ordered import Ordered
from fabplan.model.profile import Profile

PLATE = Drawing("plate.dxf", outline=rectangle(0.0, 0.0, 400.0, 200.0), dxf_version="AC1015")


def holed(*holes: tuple[float, float, float], purpose: str = "bolt") -> Drawing:
    table = np.array(holes)
    blank = ("",) * len(table)
    rows = ("lap",) * len(table)
    return replace(
        PLATE,
        holes=Holes(
            table[:, :2], table[:, 2], rows, tuple(map(str, range(len(table)))), (purpose,) * len(table), blank
        ),
    )


def found(
    check: str,
    drawing: Drawing,
    supplier: Supplier | None,
    thickness: float | None = 6.0,
    ordered: Ordered | None = None,
) -> list[Finding]:
    told = check_drawing(drawing, supplier, thickness, ordered or Ordered())
    return [finding for finding in told if finding.check == check]


@pytest.mark.parametrize(
    ("process", "thickness", "least"),
    [("laser", 8.0, 8.0), ("", 8.0, 8.0), ("water jet", 8.0, 8.0), ("plasma", 8.0, 12.0), ("plasma", 3.0, 6.0),
     ("oxy-fuel", 12.0, 24.0), ("oxy-fuel", 6.0, 20.0)],
)  # fmt: skip
def test_the_smallest_hole_of_each_process(process: str, thickness: float, least: float) -> None:
    """Laser 1.0 t (common practice); plasma 1.5 t and 6 mm, oxy-fuel 2 t and 20 mm (from memory)."""
    limit = hole_limit(Supplier("shop", process=process), thickness)
    assert limit.least == least
    assert limit.assumed
    assert limit.source.startswith("assumed ")
    for below, faulty in ((0.0, False), (2e-6, True)):
        drawing = holed((200.0, 100.0, least - below))
        assert bool(found("small-hole", drawing, Supplier("shop", process=process), thickness)) == faulty


def test_a_small_hole_is_offered_to_be_marked_and_drilled() -> None:
    (finding,) = found("small-hole", holed((200.0, 100.0, 5.0)), None)
    assert "marked only" in finding.mend
    assert "drill" in finding.mend


def test_stated_limits_stand_before_those_of_the_process() -> None:
    supplier = Supplier("shop", "2026-03-01", "plasma", (0.0, 0.5), (1.0, 0.5), (0.0, 2.0))
    limits = [limit(supplier, 10.0) for limit in (hole_limit, web_limit, slot_limit)]
    assert [limit.least for limit in limits] == [5.0, 6.0, 20.0]
    assert {limit.source for limit in limits} == {"limit of shop, 2026-03-01"}
    assert not any(limit.assumed for limit in limits)


def test_beds_and_sheets_are_exact_and_the_piece_may_be_turned() -> None:
    for room, faulty in (((200.0, 400.0), False), ((400.0 - 5e-7, 200.0), False), ((399.99, 200.0), True)):
        bed = found("beyond-bed", PLATE, Supplier("s", bed=room))
        sheet = found("beyond-bed", PLATE, Supplier("s", sheet=room))
        assert [finding.level for finding in (*bed, *sheet)] == [Level.STOP, Level.QUERY] * faulty
        assert all((finding.measured, finding.required) == (400.0, 399.99) for finding in (*bed, *sheet))
    slender = replace(PLATE, outline=rectangle(0.0, 0.0, 420.0, 10.0))
    assert not found("beyond-bed", slender, Supplier("s", bed=(400.0, 200.0)))  # from corner to corner


def test_small_parts_are_exact() -> None:
    assert not found("small-part", PLATE, Supplier("s", smallest_part=(200.0, 400.0)))
    (finding,) = found("small-part", PLATE, Supplier("s", smallest_part=(250.0, 200.01)))
    assert finding.measured == pytest.approx(200.0)
    assert finding.required == 200.01


def test_thickness_and_mass_are_exact() -> None:
    """Steel of 7,850 kg/m3: 400 x 200 x 10 mm weighs 6.28 kg."""
    assert not found("too-thick", PLATE, Supplier("s", greatest_thickness=6.0))
    assert found("too-thick", PLATE, Supplier("s", greatest_thickness=6.0), 6.00001)
    assert found("too-thick", PLATE, Supplier("s", greatest_thickness=6.0), float("nan"))
    assert not found("too-heavy", PLATE, None, 10.0, Ordered(hoist=6.28))
    assert found("too-heavy", PLATE, None, 10.0, Ordered(hoist=6.279))
    assert found("too-heavy", PLATE, None, float("nan"), Ordered(hoist=6.28))
    assert not found("too-heavy", PLATE, None, None, Ordered(hoist=0.1))
    assert found("too-heavy", PLATE, None, None, Ordered(PartSpec("P1", mass=7.0), hoist=6.28))
    assert not found("too-heavy", PLATE, None, 10.0, Ordered(PartSpec("P1", material="light alloy"), hoist=1.0))
    opened = replace(PLATE, cutouts=(reversed_profile(rectangle(100.0, 50.0, 300.0, 150.0)),))
    assert not found("too-heavy", opened, None, 10.0, Ordered(hoist=4.71))


def test_versions_units_and_marks() -> None:
    assert not found("dxf-version", PLATE, Supplier("s", dxf_versions=("R12", "R2000")))
    (finding,) = found("dxf-version", replace(PLATE, dxf_version="AC1032"), Supplier("s", dxf_versions=("R12",)))
    assert "R2018" in finding.what
    assert "R12" in finding.mend
    assert found("dxf-version", replace(PLATE, dxf_version=""), Supplier("s", dxf_versions=("R12",)))
    assert not found("supplier-unit", PLATE, Supplier("s", units="mm"))
    assert found("supplier-unit", PLATE, Supplier("s", units="inch"))
    marked = replace(PLATE, marks=(Line("MARK", np.array([[10.0, 10.0], [20.0, 10.0]]), "A1"),))
    assert not found("supplier-marking", marked, Supplier("s", marking="cut face"))
    assert found("supplier-marking", marked, Supplier("s", marking="none"))


def test_layers_that_a_supplier_wants() -> None:
    def drawn(*layers: str) -> Drawing:
        return replace(PLATE, account=tuple(Entry(str(k), "LINE", name, "used", "") for k, name in enumerate(layers)))

    wants = Supplier("s", layers=(("CUT", "Contour"), ("RIVET", "CUT")))
    assert not found("supplier-layer", drawn("CONTOUR"), wants, 6.0, Ordered(roles=(("contour", "CUT"),)))
    assert not found("supplier-layer", drawn("Contour", "contour"), wants)  # bare: all of it is cut
    (finding,) = found("supplier-layer", drawn("CUT", "RIVET lap", "NOTE"), wants)
    assert "CUT, NOTE, RIVET lap" in finding.what
    rows = Supplier("s", layers=(("CUT", "CUT"), ("RIVET", "rivet")))
    assert not found("supplier-layer", drawn("CUT", "RIVET lap", "RIVET_left"), rows)
    assert found("supplier-layer", drawn("CUT", "RIVETS"), rows)


def test_reamed_rows_are_told_of_hot_processes_only() -> None:
    drawing = holed((30.0, 100.0, 11.0), (80.0, 100.0, 11.0), purpose="rivet")
    for process, hard in (("laser", True), ("plasma", True), ("oxy-fuel", True), ("water jet", False), ("", False)):
        told = found("reamed-hole", drawing, Supplier("s", process=process), 6.0, Ordered(reamed=("lap",)))
        assert [finding.where.holes for finding in told] == [("0", "1")] * hard
    assert not found("reamed-hole", drawing, Supplier("s", process="laser"), 6.0, Ordered(reamed=("post",)))


def test_inner_corners_are_those_where_metal_reaches_round() -> None:
    notched = Profile(
        np.array([[0.0, 0], [90, 0], [90, 60], [60, 60], [60, 40], [30, 40], [30, 60], [0, 60]]), np.zeros(8)
    )
    radius, place, _ = inner_corners([notched])
    assert radius.tolist() == [0.0, 0.0]
    assert sorted(place.tolist()) == [[30.0, 40.0], [60.0, 40.0]]
    assert len(inner_corners([rectangle(0.0, 0.0, 50.0, 50.0)])[0]) == 0
    assert len(inner_corners([reversed_profile(rectangle(0.0, 0.0, 50.0, 50.0))])[0]) == 4
    assert len(inner_corners([reversed_profile(circle((0.0, 0.0), 3.0))])[0]) == 0


def test_the_radius_of_a_corner_is_exact() -> None:
    quarter = float(np.tan(np.pi / 8.0))
    window = Profile(
        np.array([[103.0, 50.0], [200, 50], [200, 90], [100, 90], [100, 53]]), np.array([0.0, 0, 0, 0, quarter])
    )
    drawing = replace(PLATE, cutouts=(reversed_profile(window),))
    (finding,) = found("sharp-corner", drawing, Supplier("s", smallest_corner=(0.0, 0.5)))
    assert (finding.level, finding.measured, finding.required) == (Level.QUERY, 0.0, 3.0)
    assert inner_corners(drawing.cutouts[:1])[0].max() == pytest.approx(3.0)
    (finding,) = found("sharp-corner", drawing, None)
    assert finding.level is Level.NOTE
    assert "EN 1090-2" in finding.source
    assert not found("sharp-corner", drawing, Supplier("s", smallest_corner=(0.0, 0.5)), None)


def test_islands_are_told_once() -> None:
    """An island is no second piece; a second piece beside it still is."""
    cutout = reversed_profile(rectangle(100.0, 50.0, 300.0, 150.0))
    island = replace(rectangle(150.0, 80.0, 200.0, 120.0), handles=("B",))
    beside = replace(rectangle(500.0, 0.0, 600.0, 50.0), handles=("C",))
    shapes = (Shape("", rectangle(0.0, 0.0, 400.0, 200.0), (cutout,)), Shape("", island))
    drawing = replace(PLATE, cutouts=(cutout,), shapes=shapes)
    own = check_drawing(drawing, None, None)
    assert [finding.check for finding in own if finding.level is Level.STOP] == ["wrong-nesting"]
    for handles, kept in ((("B",), 0), (("B", "C"), 1)):
        reader = Finding("more-than-one-profile", Level.STOP, "2 outer profiles", Where(handles=handles))
        assert [one.check for one in all_findings(own, [reader])].count("more-than-one-profile") == kept
    two = replace(drawing, shapes=(*shapes, Shape("", beside)))
    assert len(found("wrong-nesting", two, None)) == 1


def test_a_cut_out_in_a_round_opening_is_scrap() -> None:
    drawing = holed((200.0, 100.0, 80.0), purpose="open")
    inner = reversed_profile(rectangle(190.0, 95.0, 210.0, 105.0))
    assert found("wrong-nesting", replace(drawing, cutouts=(inner,)), None)
    assert not found("wrong-nesting", replace(drawing, cutouts=(reversed_profile(rectangle(10, 10, 40, 40)),)), None)
