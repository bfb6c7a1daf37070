"""Lines against panels, held against trimesh; men through openings; the order of driving."""

import numpy as np
import pytest
import shapely
import trimesh
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation

from fabplan.geom.flood import man_places, space
from fabplan.geom.hull import hull_planes, outside
from fabplan.geom.prism import Solid
from fabplan.geom.profile import circle, flattened
from fabplan.geom.reach import boxes_near, lines_hit
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose
from fabplan.sequence.driving import driving_order


def turned(angles: tuple[float, float, float]) -> np.ndarray:
    return Rotation.from_euler("xyz", angles).as_matrix()


@pytest.mark.parametrize("thickness", [0.5, 6.0, 40.0])
def test_lines_against_trimesh(thickness: float) -> None:
    """Segments through and beside a plate with an opening meet its metal, edges too, where trimesh's rays do."""
    rng = np.random.default_rng(11)
    face = shapely.Polygon(
        shapely.box(0.0, 0.0, 300.0, 200.0).exterior, [shapely.Point(150.0, 100.0).buffer(60.0).exterior]
    )
    plate = Solid(Pose(turned((0.3, 0.4, 0.5)), np.array([10.0, -20.0, 30.0])), face, thickness)
    mesh = trimesh.creation.extrude_polygon(face, thickness)
    mesh.apply_translation([0.0, 0.0, -thickness])
    count = 2000
    start, end = (
        np.column_stack([rng.uniform(-90.0, 390.0, count), rng.uniform(-90.0, 290.0, count), rng.uniform(*z, count)])
        for z in ((-thickness - 20.0, 20.0), (-90.0, 90.0))
    )
    way = end - start
    unit = way / np.linalg.norm(way, axis=1)[:, None]
    places, ray, _ = mesh.ray.intersects_location(start, unit)
    met = mesh.contains(start)
    met[ray[np.linalg.norm(places - start[ray], axis=1) <= np.linalg.norm(way, axis=1)[ray]]] = True
    found = lines_hit(plate, *(one @ plate.frame.rotation.T + plate.frame.origin for one in (start, end)))
    assert 200 < met.sum() < count - 200
    strange = np.nonzero(found != met)[0]
    steps = start[strange, None] + np.linspace(0.0, 1.0, 20001)[None, :, None] * way[strange, None]
    inside = np.minimum(-steps[..., 2], steps[..., 2] + thickness)
    inside = np.minimum(inside, -_off(face, steps[..., :2]))
    assert np.all(np.abs(inside.max(axis=1)) < 0.05), "only lines that graze the metal may differ"
    assert len(strange) <= count // 500


def test_boxes_leave_nothing_out_that_is_met() -> None:
    """What `lines_hit` finds, held against trimesh above, lies among the boxes near the panel."""
    rng = np.random.default_rng(11)
    plate = Solid(
        Pose(turned((0.7, -0.4, 1.1)), np.array([40.0, 10.0, -30.0])), shapely.box(0.0, 0.0, 300.0, 90.0), 8.0
    )
    start, axis = rng.uniform(-250.0, 350.0, (5000, 3)), rng.normal(size=(5000, 3))
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    end = start + axis * rng.uniform(20.0, 200.0, 5000)[:, None]
    near, hit = boxes_near(plate, np.minimum(start, end).T, np.maximum(start, end).T), lines_hit(plate, start, end)
    assert hit.sum() > 40
    assert set(np.nonzero(hit)[0].tolist()) <= set(near.tolist())
    assert len(near) < 4000


def _off(face: shapely.Polygon, xy: FloatArray) -> FloatArray:
    """Distance from a face, mm, negative within it."""
    points = shapely.points(xy)
    rim = shapely.distance(face.boundary, points)
    return np.asarray(np.where(shapely.contains(face, points), -rim, rim))


def test_no_rivet_of_a_sealed_box_is_reached_through_its_seams() -> None:
    """Lines from just inside the walls of a closed box end in its metal, at edges and corners too."""
    solids, rng = box(0.0), np.random.default_rng(3)
    start = rng.uniform(1.0, 1993.0, (4000, 3))
    start[np.arange(4000), rng.integers(0, 3, 4000)] = rng.choice([1.0, 1993.0], 4000)
    way = rng.normal(size=(4000, 3))
    end = start + 6000.0 * way / np.linalg.norm(way, axis=1)[:, None]
    assert np.any([lines_hit(one, start, end) for one in solids], axis=0).all()


def test_planes_round_a_body_against_scipy() -> None:
    """All points of a rounded body inside; what lies 2 mm off scipy's own hull of them outside; few planes."""
    turn = 2.0 * np.pi * np.arange(600) / 600
    rings = [
        np.column_stack([r * np.cos(turn), r * np.sin(turn), np.full(600, z)])
        for r, z in ((500.0, 0.0), (500.0, 300.0), (380.0, 306.0))
    ]
    points = np.vstack(rings)
    planes, exact = hull_planes(points), ConvexHull(points).equations
    assert not outside(planes, points).any()
    rng = np.random.default_rng(5)
    tried = rng.uniform([-600.0, -600.0, -100.0], [600.0, 600.0, 400.0], (5000, 3))
    off = (tried @ exact[:, :3].T + exact[:, 3]).max(axis=1)
    assert not outside(planes, tried[off <= 0.0]).any()
    assert outside(planes, tried[off > 2.0]).all()
    assert len(planes) < 200 < len(np.unique(np.round(exact, 6), axis=0))


def test_planes_round_a_sheet_without_thickness_are_its_box() -> None:
    planes = hull_planes(np.array([[0.0, 0.0, 0.0], [10.0, 0.0, 0.0], [0.0, 5.0, 0.0], [10.0, 5.0, 0.0]]))
    tried = np.array([[5.0, 2.0, 0.0], [5.0, 2.0, 1.0], [5.0, 2.0, -1.0], [11.0, 2.0, 0.0]])
    assert outside(planes, tried).tolist() == [False, True, True, True]


def box(hatch: float) -> list[Solid]:
    """A closed box of 2 m with a round hatch in its top."""
    size = 2000.0
    lid = shapely.box(0.0, 0.0, size, size)
    if hatch:
        lid = shapely.Polygon(lid.exterior, [flattened(circle((1000.0, 1000.0), hatch / 2.0), 0.01)])
    plain = shapely.box(0.0, 0.0, size, size)
    up, x, y = np.eye(3), turned((0.0, -np.pi / 2.0, 0.0)), turned((np.pi / 2.0, 0.0, 0.0))
    return [
        Solid(Pose(up, np.zeros(3)), plain, 6.0),
        Solid(Pose(up, np.array([0.0, 0.0, size])), lid, 6.0),
        *(Solid(Pose(x, np.array([at, 0.0, 0.0])), plain, 6.0) for at in (0.0, size)),
        *(Solid(Pose(y, np.array([0.0, at, 0.0])), plain, 6.0) for at in (0.0, size)),
    ]


@pytest.mark.parametrize(("hatch", "enters"), [(0.0, False), (400.0, False), (574.0, False), (600.0, True)])
def test_a_man_enters_through_an_opening_of_his_size(hatch: float, enters: bool) -> None:
    """575 mm is the least opening (tank entry with breathing apparatus, from memory); a sealed box stays shut."""
    solids = box(hatch)
    grid = space(solids, np.arange(len(solids)), len(solids), 575.0)
    places = man_places(grid, np.ones(len(solids), dtype=np.bool_), 575.0)
    inside = np.all((places > 300.0) & (places < 1700.0), axis=1)
    assert bool(inside.any()) == enters


@pytest.mark.parametrize("setting", ["middle outwards", "end to end", "skip"])
@pytest.mark.parametrize("count", range(1, 12))
def test_every_rivet_is_driven_once(setting: str, count: int) -> None:
    rivets = np.arange(100, 100 + count)
    assert sorted(driving_order(rivets, setting).tolist()) == rivets.tolist()


def test_nobody_is_sent_into_a_body_drawn_in_a_wrong_unit() -> None:
    """A box of 2 m taken for 2,000 m: no search that would fill the memory."""
    far = [Solid(Pose(np.eye(3), np.array([0.0, 0.0, z])), shapely.box(0.0, 0.0, 2e6, 2e6), 6.0) for z in (0.0, 2e6)]
    grid = space(far, np.arange(2), 2, 575.0)
    assert len(man_places(grid, np.ones(2, dtype=np.bool_), 575.0)) == 0
