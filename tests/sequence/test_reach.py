"""Tools against panels, held against trimesh; men through openings; the order of driving."""

import numpy as np
import pytest
import shapely
import trimesh
from scipy.spatial.transform import Rotation

from fabplan.geom.flood import man_places, space
from fabplan.geom.prism import Solid
from fabplan.geom.profile import circle, flattened
from fabplan.geom.reach import tools_hit
from fabplan.model.plan import Plan
from fabplan.model.pose import Pose
from fabplan.sequence.driving import driving_order
from fabplan.sequence.reach import panels_of, ways


def turned(angles: tuple[float, float, float]) -> np.ndarray:
    return Rotation.from_euler("xyz", angles).as_matrix()


def test_tools_against_trimesh_rays() -> None:
    """No tool called clear has a ray over 1 mm inside it that meets the plate; 1,000 rays judge each blocked one."""
    rng = np.random.default_rng(7)
    ring = shapely.Point(150.0, 100.0).buffer(40.0).exterior
    face = shapely.Polygon(shapely.box(0.0, 0.0, 300.0, 200.0).exterior, [ring])
    plate = Solid(Pose(turned((0.3, 0.4, 0.5)), np.array([10.0, -20.0, 30.0])), face, 6.0)
    mesh = trimesh.creation.extrude_polygon(face, 6.0)
    mesh.apply_translation([0.0, 0.0, -6.0])
    mesh.vertices = mesh.vertices @ plate.frame.rotation.T + plate.frame.origin
    count = 120
    over = np.column_stack(
        [rng.uniform(-60.0, 360.0, count), rng.uniform(-60.0, 260.0, count), rng.uniform(-150, 150, count)]
    )
    start = over @ plate.frame.rotation.T + plate.frame.origin
    axis = rng.normal(size=(count, 3))
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    axis[:20] = plate.frame.rotation[:, 2]
    axis[20:40] = plate.frame.rotation[:, 0]
    length, radius = rng.uniform(50.0, 300.0, count), rng.uniform(10.0, 45.0, count)
    hit = tools_hit(plate, start, axis, length, radius)
    touched = np.array([_rays(mesh, *tool, rng) for tool in zip(start, axis, length, radius, strict=True)])
    assert 20 < hit.sum() < count - 20
    assert not np.any(touched & ~hit)
    doubtful = np.nonzero(hit & ~touched)[0]
    assert len(doubtful) <= 0.02 * count, doubtful


def _rays(
    mesh: trimesh.Trimesh, start: np.ndarray, axis: np.ndarray, length: float, radius: float, rng: np.random.Generator
) -> bool:
    """True where any of 1,000 rays inside the tool, 1 mm from its skin, or its own chords, meets the metal."""
    first = np.cross(np.eye(3)[np.abs(axis).argmin()], axis)
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    turn = rng.uniform(0.0, 2.0 * np.pi, 1000)
    out = (radius - 1.0) * np.sqrt(rng.uniform(0.0, 1.0, 1000))
    foot = start + axis + np.cos(turn)[:, None] * out[:, None] * first + np.sin(turn)[:, None] * out[:, None] * second
    along = np.tile(axis, (1000, 1))
    across = np.roll(foot, 1, axis=0) + axis * rng.uniform(0.0, length - 2.0, 1000)[:, None]
    near = foot + axis * ((across - foot) @ axis)[:, None]
    for origin, way, reach in ((foot, along, np.full(1000, length - 2.0)), (near, across - near, None)):
        far = np.linalg.norm(way, axis=1) if reach is None else reach
        unit = way / np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
        places, ray, _ = mesh.ray.intersects_location(origin, unit, multiple_hits=False)
        if len(ray) and np.any(np.linalg.norm(places - origin[ray], axis=1) <= far[ray]):
            return True
    return False


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


def test_demo_tools_called_clear_are_clear(bowser_plan: Plan) -> None:
    """A sample of the bowser's ways called free of every other panel, each probed by trimesh rays of its own."""
    job, body, stacks = bowser_plan.job, bowser_plan.body, bowser_plan.stacks
    assert body is not None
    assert stacks is not None
    panels = panels_of(body)
    found = ways(job, body, stacks, panels, bowser_plan.tables)
    rng = np.random.default_rng(3)
    free = np.nonzero(~found.blocked.any(axis=1))[0]
    meshes = []
    for one in panels.solids:
        mesh = trimesh.creation.extrude_polygon(one.face, one.thickness)
        mesh.apply_translation([0.0, 0.0, -one.thickness])
        mesh.vertices = mesh.vertices @ one.frame.rotation.T + one.frame.origin
        meshes.append(mesh)
    for way in rng.choice(free, 25, replace=False).tolist():
        rivet, tool = int(found.rivet[way]), found.tools[int(found.tool[way])]
        axis = stacks.axis[rivet] * (1.0 if found.side[way] == 1 else -1.0)
        own = set(stacks.ply_instance[stacks.first[rivet] : stacks.first[rivet + 1]].tolist())
        back = found.end[way] - axis * tool.body_length
        for mesh, owner in zip(meshes, panels.owner.tolist(), strict=True):
            if owner not in own:
                assert not _rays(mesh, back, axis, tool.body_length, tool.body_diameter / 2.0, rng), (way, owner)
