"""Drawings that other people's programs wrote: nothing thrown, nothing lost, and the areas that GDAL finds.

Their origin and licences are in tests/data/dxf/README.md.
"""

import warnings
from collections import Counter
from pathlib import Path

import ezdxf.filemanagement
import numpy as np
import pyogrio
import pytest
import shapely
from ezdxf import disassemble

from fabplan.drawing.read import read_drawing
from fabplan.geom.profile import area, centroid, circle
from fabplan.model.drawing import FATES, Drawing
from fabplan.model.profile import Profile
from fabplan.way.look import Wanted, look, record

FOLDER = Path(__file__).parents[1] / "data" / "dxf"
FILES = sorted(path for path in FOLDER.rglob("*") if path.suffix.lower() == ".dxf")
LEAST = 0.01  # mm2, under which a closed line is no opening
every_file = pytest.mark.parametrize("path", FILES, ids=lambda path: f"{path.parent.name}/{path.stem}")


def closed(drawing: Drawing) -> list[Profile]:
    """All closed lines that were found, openings and holes too."""
    shapes = drawing.shapes or (drawing,)
    profiles = [one for shape in shapes for one in (shape.outline, *shape.cutouts) if one is not None]
    rounds = zip(drawing.holes.xy.tolist(), drawing.holes.diameter.tolist(), strict=True)
    return [*profiles, *(circle((x, y), size / 2.0) for (x, y), size in rounds)]


def faces_of_gdal(path: Path, scale: float) -> list[shapely.Polygon]:
    """Closed areas as GDAL reads them with arcs stepped by 0.5 degrees, mm; cut-outs filled."""
    pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": "0.5"})
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            _, _, geometry, _ = pyogrio.raw.read(path)
    finally:
        pyogrio.set_gdal_config_options({"OGR_ARC_STEPSIZE": None})
    whole = shapely.force_2d(shapely.from_wkb(geometry))
    lines = [
        part
        for one in whole
        if one is not None
        for part in shapely.get_parts(shapely.get_parts(shapely.boundary(one) if one.area else one))  # blocks in blocks
    ]
    lines = [
        shapely.transform(line, lambda xy: np.round(xy * scale, 6)) for line in lines if line.geom_type == "LineString"
    ]
    rings = [shapely.Polygon(line) for line in lines if line.is_valid and line.is_ring]
    sound = [line for line in lines if line.is_valid]
    noded = shapely.get_parts(shapely.unary_union(sound))  # lines drawn twice are one
    faces = [face for own in (sound, noded) for face in shapely.get_parts(shapely.polygonize(own))]
    chained = [shapely.Polygon(face.exterior) for face in faces]
    return [*rings, *chained]


def test_there_are_enough_from_three_packages() -> None:
    assert len(FILES) >= 40
    assert len({path.parent for path in FILES}) == 3
    assert all((path.parent / "LICENSE").is_file() for path in FILES)


@every_file
def test_nothing_is_lost(path: Path) -> None:
    """Each entity once, with a fate; as many as an independent count of the tags."""
    drawing = read_drawing(path)
    handles = Counter(entry.handle for entry in drawing.account if entry.handle)
    assert {entry.fate for entry in drawing.account} <= set(FATES)
    assert max(handles.values(), default=1) == 1
    told = {finding.check for finding in drawing.findings}
    assert drawing.scanned == len(drawing.account) or "account-open" in told


@every_file
def test_the_whole_look(path: Path) -> None:
    """Judged with thickness and without; what comes out is a record."""
    for thickness in (None, 6.0):
        found = record(look(Wanted(path, thickness=thickness)))
        assert found["drawings"][0]["drawing"] == path.name


@every_file
def test_closed_areas_are_those_of_gdal(path: Path) -> None:
    """Each closed line has a mate of GDAL's with the same area within 0.1 % at the same place.

    GDAL is no judge of a damaged file, of which it leaves out what it does not understand.
    """
    drawing = read_drawing(path)
    own = closed(drawing)
    if not own or _damaged(drawing):
        assert drawing.findings or not drawing.account
        return
    judged = faces_of_gdal(path, drawing.scale)
    areas = np.array([face.area for face in judged])
    middles = np.array([(face.centroid.x, face.centroid.y) for face in judged]).reshape(-1, 2)
    for profile in own:
        size = abs(area(profile))
        if size < LEAST:
            continue
        near = np.hypot(*(middles - centroid(profile)).T) < 0.01 * np.sqrt(size) + 1e-3
        assert np.any(near & (np.abs(areas - size) <= 1e-3 * size)), (profile.handles, size)


@every_file
def test_circles_are_those_of_ezdxf(path: Path) -> None:
    """Circles of the model space that ezdxf's own exploding of blocks finds flat: ours are among them."""
    drawing = read_drawing(path)
    try:
        document = ezdxf.filemanagement.readfile(path)
        document.audit()
        entities = list(disassemble.recursive_decompose(document.modelspace()))
    except Exception:  # what the strict reader does not open has no second opinion, but is told as damaged
        assert drawing.findings
        return
    radii = [entity.dxf.radius for entity in entities if entity.dxftype() == "CIRCLE"]
    drawn = {fit.diameter for fit in drawing.fits if fit.round}
    for diameter in drawing.holes.diameter:
        if not any(abs(diameter - one) < 1e-6 for one in drawn):
            assert np.any(np.abs(2.0 * np.array(radii) * drawing.scale - diameter) < 1e-6), diameter


def test_gdal_judges_enough() -> None:
    judged = [path for path in FILES if closed(drawing := read_drawing(path)) and not _damaged(drawing)]
    assert len(judged) >= 20


def _damaged(drawing: Drawing) -> bool:
    return "damaged-drawing" in {finding.check for finding in drawing.findings}
