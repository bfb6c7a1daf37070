"""Profiles and holes as read, held against shapely, against GDAL's own reading of the same file, and against ezdxf."""

import math
from pathlib import Path
from typing import Any

import ezdxf.filemanagement
import numpy as np
import pyogrio
import pytest
import shapely

from fabplan.drawing.read import read_drawing
from fabplan.geom.profile import area, flattened, length
from fabplan.model.drawing import Drawing
from tests.drawing.plates import BRACKET, COVER, Draft, bracket, cover, disc, gusset

PLATES = {"gusset": gusset, "bracket": bracket, "cover": cover, "disc": disc}


def saved(draft: Draft, folder: Path, name: str = "plate.dxf") -> Path:
    path = folder / name
    draft.doc.saveas(path)
    return path


def read(draft: Draft, folder: Path) -> Drawing:
    return read_drawing(saved(draft, folder))


def gdal_lines(path: Path, layer: str) -> list[Any]:
    """The lines of one layer as GDAL reads them (arcs as chords of at most 4 degrees)."""
    meta, _, geometry, fields = pyogrio.raw.read(path)
    columns = dict(zip(meta["fields"], fields, strict=True))
    return [shapely.from_wkb(wkb) for wkb, name in zip(geometry, columns["Layer"], strict=True) if name == layer]


@pytest.mark.parametrize("name", sorted(PLATES))
def test_lengths_and_areas_against_gdal(name: str, tmp_path: Path) -> None:
    """Judge: GDAL's DXF reader, shapely's polygonize. Chords of 4 degrees lose 0.02 % of length, 0.09 % of area."""
    path = saved(PLATES[name](Draft()), tmp_path)
    drawing = read_drawing(path)
    assert drawing.outline is not None
    lines = gdal_lines(path, "CUT")
    faces: list[Any] = sorted(shapely.polygonize(lines).geoms, key=lambda face: -face.envelope.area)
    assert length(drawing.outline) + sum(map(length, drawing.cutouts)) == pytest.approx(
        sum(line.length for line in lines), rel=3e-4
    )
    assert area(drawing.outline) == pytest.approx(shapely.Polygon(faces[0].exterior).area, rel=1e-3)
    net = area(drawing.outline) + sum(map(area, drawing.cutouts))
    assert net == pytest.approx(faces[0].area, rel=1e-3)


@pytest.mark.parametrize(("ring", "draw"), [(BRACKET, bracket), (COVER, cover)])
def test_areas_are_exact_for_arcs(ring: tuple[tuple[float, ...], ...], draw: object, tmp_path: Path) -> None:
    """Reference: the polygon of the corners by shapely, and each quarter round by hand, r2 (pi / 4 - 1 / 2)."""
    drawing = read(PLATES["bracket" if draw is bracket else "cover"](Draft()), tmp_path)
    assert drawing.outline is not None
    chords = shapely.Polygon([corner[:2] for corner in ring]).area
    rounds = 0.0
    for corner, following in zip(ring, ring[1:] + ring[:1], strict=True):
        if len(corner) > 2:
            radius = math.dist(corner[:2], following[:2]) / math.sqrt(2.0)
            rounds += math.copysign(radius**2 * (math.pi / 4.0 - 0.5), corner[2])
    assert area(drawing.outline) == pytest.approx(chords + rounds, rel=1e-9)
    assert drawing.outline.chord_error == 0.0


def circles_of_gdal(path: Path) -> np.ndarray[Any, Any]:
    """Middles and diameters (n, 3) of all circles of a file, those in blocks too, as GDAL reads them."""
    _, _, geometry, _ = pyogrio.raw.read(path)
    lines = shapely.get_parts(shapely.get_parts(shapely.from_wkb(geometry)))
    boxes = shapely.bounds(lines[shapely.get_num_coordinates(lines) > 10])
    return np.column_stack([(boxes[:, :2] + boxes[:, 2:]) / 2.0, boxes[:, 2] - boxes[:, 0]])


def test_circles_are_those_that_gdal_explodes(tmp_path: Path) -> None:
    """Nested blocks, scaled, mirrored, turned, in grids; a circle seen from below. Judge: GDAL."""
    draft = Draft()
    draft.light([(-400.0, -400.0), (900.0, -400.0), (900.0, 900.0), (-400.0, 900.0)])
    inner = draft.doc.blocks.new("INNER")
    inner.add_circle((5.0, 2.0), 1.0, dxfattribs={"layer": "RIVET in"})
    inner.add_circle((-3.0, 1.0), 0.5)
    outer = draft.doc.blocks.new("OUTER", base_point=(1.0, 1.0))
    block_grid = {"row_count": 2, "column_count": 3, "row_spacing": 9.0, "column_spacing": 7.0}
    outer.add_blockref("INNER", (10.0, 0.0), dxfattribs={"xscale": -1.0, "rotation": 30.0})
    outer.add_blockref("INNER", (0.0, 12.0), dxfattribs={**block_grid, "rotation": 20.0})
    grid = {"column_spacing": 95.0, "row_spacing": 105.0, "row_count": 2, "column_count": 2}
    for place, turn, size in (((100.0, 50.0), 15.0, 4.0), ((-200.0, 300.0), 200.0, -3.0)):
        attribs = {**grid, "rotation": turn, "xscale": size, "yscale": abs(size), "layer": "BOLT out"}
        draft.space.add_blockref("OUTER", place, dxfattribs=attribs)
    draft.space.add_circle((50.0, -60.0), 7.0, dxfattribs={"layer": "BOLT out", "extrusion": (0.0, 0.0, -1.0)})
    path = saved(draft, tmp_path)
    truth, drawing = circles_of_gdal(path), read_drawing(path)
    apart = np.abs(truth[:, None, :] - np.column_stack([drawing.holes.xy, drawing.holes.diameter])[None]).max(axis=2)
    assert len(truth) == len(drawing.holes) == 113
    assert max(apart.min(axis=0).max(), apart.min(axis=1).max()) < 0.01  # GDAL's chords of 4 degrees
    assert set(drawing.holes.row) == {"in", "out"}
    assert (len(drawing.account), drawing.scanned) == (4, 4)


@pytest.mark.parametrize("turn", [0.0, 30.0, 90.0])
@pytest.mark.parametrize("across", [1.0, -2.0, 3.0])
def test_a_block_turned_in_one_scaled_unevenly_stands_where_gdal_has_it(
    turn: float, across: float, tmp_path: Path
) -> None:
    """A slot, a bracket with a round corner and circles, which come out askew and as ellipses. Judge: GDAL."""
    draft = Draft(ezdxf.filemanagement.new("R2010", units=4))
    draft.light([(-900.0, -900.0), (900.0, -900.0), (900.0, 900.0), (-900.0, 900.0)])
    inner, outer = draft.doc.blocks.new("INNER", base_point=(2.0, 1.0)), draft.doc.blocks.new("OUTER")
    for x in (30.0, 110.0):
        inner.add_circle((x, 10.0), 8.0)
    inner.add_lwpolyline([(50, 0, 0), (80, 0, 1), (80, 12, 0), (50, 12, 1)], format="xyb", close=True)
    inner.add_polyline2d([(60, 30), (90, 30), (60, 70)], close=True)
    inner.add_ellipse((20.0, 60.0), (12.0, 5.0), 0.4)
    grid = {"row_count": 2, "column_count": 2, "row_spacing": 100.0, "column_spacing": 130.0}
    outer.add_blockref("INNER", (15.0, 5.0), dxfattribs={**grid, "rotation": turn})
    draft.space.add_blockref("OUTER", (40.0, 20.0), dxfattribs={"xscale": across, "rotation": 10.0, "layer": "CUT"})
    path = saved(draft, tmp_path)
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.5"})
    _, _, geometry, _ = pyogrio.raw.read(path)
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.get_parts(shapely.from_wkb(geometry)))))
    truth = shapely.unary_union([shapely.Polygon(face.exterior) for face in faces if face.area < 1e6])
    drawing = read_drawing(path)
    loops = [shapely.Polygon(flattened(cutout, 0.001)) for cutout in drawing.cutouts]
    rounds = [
        shapely.Point(xy).buffer(d / 2.0, 128) for xy, d in zip(drawing.holes.xy, drawing.holes.diameter, strict=True)
    ]
    own = shapely.unary_union([*loops, *rounds])
    assert len(loops) + len(rounds) == 20
    assert own.symmetric_difference(truth).area < 1e-3 * truth.area


def test_a_hole_in_a_block_drawn_in_inches_within_another_is_told(tmp_path: Path) -> None:
    draft = gusset(Draft(ezdxf.filemanagement.new("R2010", units=4)))
    inner, outer = draft.doc.blocks.new("INNER"), draft.doc.blocks.new("OUTER")
    inner.units, outer.units = 1, 4
    inner.add_circle((0.0, 0.0), 5.5)
    outer.add_blockref("INNER", (0.0, 0.0))
    draft.space.add_blockref("OUTER", (90.0, 90.0), dxfattribs={"layer": "RIVET more"})
    assert [finding.check for finding in read(draft, tmp_path).findings] == ["units-in-doubt"]


def test_splines_and_ellipses_lie_within_their_chord_error(tmp_path: Path) -> None:
    """Reference: the area of an ellipse, pi a b; the full spline against ezdxf's flattening a hundred times finer."""
    draft = Draft()
    draft.space.add_ellipse((0.0, 0.0), (300.0, 0.0), 0.5, dxfattribs={"layer": "CUT"})
    points = [
        (60.0 * math.cos(k) + 20.0 * math.cos(3 * k), 40.0 * math.sin(k)) for k in np.linspace(0, math.tau, 12)[:-1]
    ]
    spline = draft.space.add_spline([(*point, 0.0) for point in [*points, points[0]]], dxfattribs={"layer": "CUT"})
    fine = shapely.Polygon([point.vec2 for point in spline.flattening(1e-4)])
    drawing = read(draft, tmp_path)
    assert drawing.outline is not None
    assert 0.0 < drawing.outline.chord_error <= 0.01
    assert area(drawing.outline) == pytest.approx(math.pi * 300.0 * 150.0, abs=0.01 * length(drawing.outline))
    (opening,) = drawing.cutouts
    assert -area(opening) == pytest.approx(fine.area, abs=0.01 * fine.length)


def test_a_squeezed_circle_is_no_rivet_hole(tmp_path: Path) -> None:
    draft = gusset(Draft())
    draft.doc.blocks.new("HOLE").add_circle((0.0, 0.0), 1.0)
    attribs = {"xscale": 5.5, "yscale": 5.5, "layer": "RIVET more"}
    draft.space.add_blockref("HOLE", (90.0, 90.0), dxfattribs=attribs)
    draft.space.add_blockref("HOLE", (70.0, 110.0), dxfattribs={**attribs, "yscale": 6.5})
    drawing = read(draft, tmp_path)
    assert drawing.holes.row.count("more") == 1
    assert [finding.check for finding in drawing.findings] == ["unsupported-entity"]
    assert drawing.findings[0].what.startswith("an ELLIPSE on layer RIVET more is no circle")


@pytest.mark.parametrize("how", ["arcs", "bulges", "old polyline", "36 corners", "block", "ellipse", "full arc"])
def test_a_round_hole_is_one_however_it_is_drawn(how: str, tmp_path: Path) -> None:
    draft = gusset(Draft())
    layer = {"layer": "RIVET x"}
    space, (x, y, r) = draft.space, (90.0, 95.0, 5.5)
    if how == "arcs":
        space.add_arc((x, y), r, 20, 200, dxfattribs=layer)
        space.add_arc((x, y), r, 200, 20, dxfattribs=layer)
    elif how == "bulges":
        space.add_lwpolyline([(x + r, y, 1.0), (x - r, y, 1.0)], format="xyb", close=True, dxfattribs=layer)
    elif how == "old polyline":
        space.add_polyline2d([(x + r, y, -1.0), (x - r, y, -1.0)], format="xyb", close=True, dxfattribs=layer)
    elif how == "36 corners":
        turns = np.radians(np.arange(0, 360, 10))
        corners = np.round(np.column_stack([x + r * np.cos(turns), y + r * np.sin(turns)]), 3)
        space.add_lwpolyline(corners.tolist(), close=True, dxfattribs=layer)
    elif how == "block":
        draft.doc.blocks.new("H").add_circle((1.0, 0.0), 1.0)
        space.add_blockref("H", (x + r, y), dxfattribs={**layer, "xscale": -r, "yscale": r})
    elif how == "ellipse":
        space.add_ellipse((x, y), (0.0, r), 1.0, dxfattribs=layer)
    else:
        space.add_arc((x, y), r, 0, 360, dxfattribs=layer)
    drawing = read(draft, tmp_path)
    assert [finding.check for finding in drawing.findings] == ["drawn-in-chords"] * (how == "36 corners")
    (number,) = [k for k, row in enumerate(drawing.holes.row) if row == "x"]
    assert drawing.holes.xy[number] == pytest.approx([x, y], abs=2e-3)
    assert drawing.holes.diameter[number] == pytest.approx(2.0 * r, abs=2e-3)
    assert all(entry.fate in ("used", "set aside") for entry in drawing.account)


def test_flattened_profiles_hold_what_shapely_holds(tmp_path: Path) -> None:
    drawing = read(cover(Draft()), tmp_path)
    assert drawing.outline is not None
    plate = shapely.Polygon(flattened(drawing.outline, 1e-4), [flattened(one, 1e-4) for one in drawing.cutouts])
    assert plate.is_valid
    assert shapely.contains_xy(plate, drawing.holes.xy).all()


@pytest.mark.parametrize(("extrusion", "flat"), [((0, 1, 1), False), ((0, 0, 2), True), ((0, 0, -3), True)])
def test_an_axis_of_any_length_says_the_same(extrusion: tuple[int, int, int], flat: bool, tmp_path: Path) -> None:
    """DXF writers leave the axis of an entity as long as they like; (0, 1, 1) leans by 45 degrees."""
    document = ezdxf.filemanagement.new("R2010", units=4)
    space = document.modelspace()
    ring = [(-100, -100), (100, -100), (100, 100), (-100, 100)]
    space.add_lwpolyline(ring, close=True, dxfattribs={"layer": "CUT"})
    space.add_circle((50, 50), 5.5, dxfattribs={"layer": "RIVET A", "extrusion": extrusion})
    document.saveas(tmp_path / "plate.dxf")
    found = read_drawing(tmp_path / "plate.dxf")
    assert (len(found.holes), "not-flat" in {finding.check for finding in found.findings}) == (int(flat), not flat)
