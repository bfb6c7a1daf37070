"""Tools against panels, held against trimesh; men through openings; the order of driving."""

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
from fabplan.geom.reach import boxes_near, lines_hit, tool_boxes, tools_hit
from fabplan.model.arrays import FloatArray
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
    touched = np.array([_rays(mesh, tool, rng) for tool in zip(start, axis, length, radius, strict=True)])
    assert 20 < hit.sum() < count - 20
    assert not np.any(touched & ~hit)
    doubtful = np.nonzero(hit & ~touched)[0]
    assert len(doubtful) <= 0.02 * count, doubtful


def _rays(
    mesh: trimesh.Trimesh,
    tool: tuple[np.ndarray, np.ndarray, float, float],
    rng: np.random.Generator,
    inset: float = 1.0,
) -> bool:
    """True where any of 1,000 rays along a tool, half of them `inset` mm under its skin, or its chords, meets metal.

    Args:
        mesh: the panel.
        tool: start (3,), axis (3,), length and radius, mm.
        rng: source of places.
        inset: how far all rays stay from the tool's skin, mm.
    """
    start, axis, length, radius = tool
    first = np.cross(np.eye(3)[np.abs(axis).argmin()], axis)
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    turn = rng.uniform(0.0, 2.0 * np.pi, 1000)
    out = (radius - inset) * np.sqrt(np.where(np.arange(1000) % 2, rng.uniform(0.0, 1.0, 1000), 1.0))
    aside = np.cos(turn)[:, None] * out[:, None] * first + np.sin(turn)[:, None] * out[:, None] * second
    foot = start + inset * axis + aside
    along = np.tile(axis, (1000, 1))
    across = np.roll(foot, 1, axis=0) + axis * rng.uniform(0.0, length - 2.0 * inset, 1000)[:, None]
    near = foot + axis * ((across - foot) @ axis)[:, None]
    for origin, way, reach in ((foot, along, np.full(1000, length - 2.0 * inset)), (near, across - near, None)):
        far = np.linalg.norm(way, axis=1) if reach is None else reach
        unit = way / np.maximum(np.linalg.norm(way, axis=1), 1e-9)[:, None]
        places, ray, _ = mesh.ray.intersects_location(origin, unit, multiple_hits=False)
        if len(ray) and np.any(np.linalg.norm(places - origin[ray], axis=1) <= far[ray]):
            return True
    return False


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
    """What `tools_hit` and `lines_hit` find, both held against trimesh above, lies among the boxes near the panel."""
    rng = np.random.default_rng(11)
    plate = Solid(
        Pose(turned((0.7, -0.4, 1.1)), np.array([40.0, 10.0, -30.0])), shapely.box(0.0, 0.0, 300.0, 90.0), 8.0
    )
    start, axis = rng.uniform(-250.0, 350.0, (5000, 3)), rng.normal(size=(5000, 3))
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    length, radius = rng.uniform(20.0, 200.0, 5000), rng.uniform(0.0, 40.0, 5000)
    end = start + axis * length[:, None]
    lines = boxes_near(plate, np.minimum(start, end).T, np.maximum(start, end).T)
    tools = boxes_near(plate, *tool_boxes(start, axis, length, radius))
    for near, hit in ((lines, lines_hit(plate, start, end)), (tools, tools_hit(plate, start, axis, length, radius))):
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


class Shop:
    """The bowser's tools and panels as trimesh sees them."""

    def __init__(self, plan: Plan) -> None:
        assert plan.body is not None
        assert plan.stacks is not None
        self.stacks, self.panels = plan.stacks, panels_of(plan.body)
        self.ways = ways(plan.job, plan.body, plan.stacks, self.panels, plan.tables)
        self.meshes = []
        for one in self.panels.solids:
            mesh = trimesh.creation.extrude_polygon(one.face, one.thickness)
            mesh.apply_translation([0.0, 0.0, -one.thickness])
            mesh.vertices = mesh.vertices @ one.frame.rotation.T + one.frame.origin
            self.meshes.append(mesh)

    def touched(self, way: int, rng: np.random.Generator, inset: float) -> bool:
        """True where rays inside the nose or the body meet a panel that is no ply of the rivet."""
        rivet, side = int(self.ways.rivet[way]), int(self.ways.side[way])
        tool = self.ways.tools[int(self.ways.tool[way])]
        axis = self.stacks.axis[rivet] * (1.0 if side == 1 else -1.0)
        foot = (self.stacks.point_face if side == 1 else self.stacks.head_face)[rivet]
        plies = slice(int(self.stacks.first[rivet]), int(self.stacks.first[rivet + 1]))
        own = set(zip(self.stacks.ply_instance[plies].tolist(), self.stacks.ply_panel[plies].tolist(), strict=True))
        nose = (foot, tool.nose_length, (16.0 + tool.nose_over_head) / 2.0)  # head of DIN 124, 10 mm: 16 mm across
        back = (self.ways.end[way] - axis * tool.body_length, tool.body_length, tool.body_diameter / 2.0)
        for number, mesh in enumerate(self.meshes):
            if (int(self.panels.owner[number]), int(self.panels.panel[number])) in own:
                continue
            for start, length, radius in (nose, back):
                ends = np.array([start, start + axis * length])
                low, high = ends.min(axis=0) - radius, ends.max(axis=0) + radius
                near = np.all(low < mesh.bounds[1]) and np.all(high > mesh.bounds[0])
                if near and _rays(mesh, (start, axis, length, radius), rng, inset):
                    return True
        return False


@pytest.fixture(scope="module")
def shop(bowser_plan: Plan) -> Shop:
    return Shop(bowser_plan)


def test_no_way_called_free_is_blocked(shop: Shop) -> None:
    """Of the bowser's ways called free of every panel but the rivet's own plies, none is met over 1 mm inside."""
    rng = np.random.default_rng(3)
    free = np.nonzero(~shop.ways.blocked.any(axis=1))[0]
    chosen = rng.choice(free, 150, replace=False).tolist()
    assert [way for way in chosen if shop.touched(way, rng, inset=1.0)] == []


def test_few_ways_called_blocked_are_free(shop: Shop) -> None:
    """At most 2 % of the rivets have a way called blocked that is free by 1,000 rays in each tool; those are listed.

    Of the ways called blocked they are at most 5 %: the ways kept are those of 17 turns with the least in their room,
    so that many graze by less than the tools drawn round them are too large (0.5 % of the radius).
    """
    rng = np.random.default_rng(4)
    blocked = np.nonzero(shop.ways.blocked.any(axis=1))[0]
    doubtful = [
        (shop.stacks.number[int(shop.ways.rivet[way])], shop.ways.tools[int(shop.ways.tool[way])].name)
        for way in blocked.tolist()
        if not shop.touched(way, rng, inset=0.01)
    ]
    assert len(blocked) > 100
    assert len(doubtful) <= 0.05 * len(blocked), doubtful
    assert len({rivet for rivet, _ in doubtful}) <= 0.02 * len(shop.stacks), doubtful


def test_nobody_is_sent_into_a_body_drawn_in_a_wrong_unit() -> None:
    """A box of 2 m taken for 2,000 m: no search that would fill the memory."""
    far = [Solid(Pose(np.eye(3), np.array([0.0, 0.0, z])), shapely.box(0.0, 0.0, 2e6, 2e6), 6.0) for z in (0.0, 2e6)]
    grid = space(far, np.arange(2), 2, 575.0)
    assert len(man_places(grid, np.ones(2, dtype=np.bool_), 575.0)) == 0
