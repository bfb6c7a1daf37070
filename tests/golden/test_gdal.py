"""The committed demos as GDAL reads their DXF files, and as shapely measures them through fine chords."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyogrio
import pytest
import shapely

from fabplan.drawing.read import read_drawing
from fabplan.geom.profile import area, flattened, length
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing

ROOT = Path(__file__).parents[2]
FILES = sorted([*(ROOT / "drawings" / "bowser").glob("*.dxf"), *(ROOT / "examples" / "first-lap").glob("*.dxf")])
DEGREES = 0.1  # of a chord: loses 1.3e-7 of an arc's length, 5.1e-7 of a circle's area
every_file = pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)


@dataclass(frozen=True)
class Judged:
    """Lines of the cut and of the rivet holes as GDAL reads them, in mm."""

    cut: list[shapely.LineString]
    holes: list[shapely.LineString]


@pytest.fixture(autouse=True)
def _fine_arcs() -> Iterator[None]:
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": str(DEGREES)})
    yield
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})


def judged(path: Path, scale: float) -> Judged:
    meta, _, geometry, fields = pyogrio.raw.read(path)
    layer = dict(zip(meta["fields"], fields, strict=True))["Layer"].astype(str)
    lines = shapely.transform(shapely.from_wkb(geometry), lambda xy: np.round(xy * scale, 6))  # so that arcs meet
    return Judged(
        [line for line, name in zip(lines, layer, strict=True) if name == "CUT"],
        [line for line, name in zip(lines, layer, strict=True) if name.startswith("RIVET")],
    )


def in_order(table: FloatArray) -> FloatArray:
    return table[np.lexsort(np.round(table[:, ::-1].T, 3))]


def unit(drawing: Drawing) -> float:
    """The unit by the style that the generator drew in: every fifth plate of the tank in inches."""
    return 25.4 if drawing.units == "inch" else 1.0


def test_all_demo_drawings_are_judged() -> None:
    assert len(FILES) == 12 + 2


@every_file
def test_lengths_and_areas(path: Path) -> None:
    drawing = read_drawing(path)
    judge = judged(path, unit(drawing))
    assert drawing.outline is not None
    profiles = [drawing.outline, *drawing.cutouts]
    round_openings = drawing.holes.diameter[[purpose == "open" for purpose in drawing.holes.purpose]]
    cut = sum(map(length, profiles)) + float(np.sum(np.pi * round_openings))
    assert cut == pytest.approx(sum(line.length for line in judge.cut), rel=1e-6)
    faces = shapely.polygonize(judge.cut).geoms
    metal = max(faces, key=lambda face: float(face.envelope.area)).area
    net = sum(map(area, profiles)) - float(np.sum(np.pi / 4.0 * round_openings**2))
    assert net == pytest.approx(metal, rel=1e-6)


@every_file
def test_profiles_through_fine_chords(path: Path) -> None:
    """Chords within 1e-6 mm of the arcs."""
    drawing = read_drawing(path)
    assert drawing.outline is not None
    for profile in (drawing.outline, *drawing.cutouts):
        fine = shapely.Polygon(flattened(profile, 1e-6))
        assert length(profile) == pytest.approx(fine.length, rel=1e-7)
        assert abs(area(profile)) == pytest.approx(fine.area, rel=1e-7)


@every_file
def test_rivet_holes(path: Path) -> None:
    """Circles and block references, some mirrored: centre and diameter of every one."""
    drawing = read_drawing(path)
    circles = [shapely.Polygon(line.coords) for line in judged(path, unit(drawing)).holes]
    size = np.sqrt(4.0 / np.pi * shapely.area(circles))
    truth = np.column_stack([shapely.get_coordinates(shapely.centroid(circles)), size])
    rivets = np.array([purpose == "rivet" for purpose in drawing.holes.purpose])
    found = np.column_stack([drawing.holes.xy, drawing.holes.diameter])[rivets]
    assert len(found) == len(truth) > 0
    np.testing.assert_allclose(in_order(found), in_order(truth), atol=1e-5)
