"""The room round a body, held against trimesh, scipy's labels and scipy's shortest paths; who passes which opening."""

import math

import numpy as np
import pytest
import shapely
import trimesh
from scipy import ndimage, sparse
from scipy.sparse import csgraph
from scipy.spatial.transform import Rotation

from fabplan.geom.arms import arms_reach, held, men_fill, men_reach
from fabplan.geom.clearance import Grid, edge_by_edge, room
from fabplan.geom.flood import ARM, HAND, MAN, Sizes, Space, gates_of, inside_hull, openings, rooms_left, space
from fabplan.geom.hull import hull_planes
from fabplan.geom.prism import Solid
from fabplan.geom.profile import circle, flattened
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

SIZES = Sizes(100.0, 150.0, 575.0)
FAR = (math.inf, math.inf)


def turned(angles: tuple[float, float, float]) -> FloatArray:
    return np.asarray(Rotation.from_euler("xyz", angles).as_matrix())


def skin(one: Solid) -> trimesh.Trimesh:
    """A panel as trimesh extrudes it."""
    mesh = trimesh.creation.extrude_polygon(one.face, one.thickness)
    mesh.apply_translation([0.0, 0.0, -one.thickness])
    mesh.vertices = mesh.vertices @ one.frame.rotation.T + one.frame.origin
    return mesh


def distance(one: Solid, points: FloatArray) -> FloatArray:
    """Distance (n,) from points (n, 3) to the skin of a panel by trimesh, mm."""
    _, away, _ = trimesh.proximity.closest_point(skin(one), points)  # type: ignore[no-untyped-call]
    return np.asarray(away, dtype=np.float64)


@pytest.mark.parametrize("angles", [(0.0, 0.0, 0.0), (np.pi / 2.0, 0.0, 0.0), (0.3, -0.7, 1.9)])
@pytest.mark.parametrize("hole", [0.0, 130.0])
def test_room_near_a_panel_against_trimesh(angles: tuple[float, float, float], hole: float) -> None:
    """Balls of four radii fit where trimesh measures as much to the panel's skin, curved edges to 0.4 mm."""
    rings = [shapely.Point(150.0, 100.0).buffer(hole / 2.0, quad_segs=64).exterior] if hole else []
    panel = Solid(
        Pose(turned(angles), np.array([7.0, -3.0, 11.0])),
        shapely.Polygon(shapely.box(0, 0, 300, 200).exterior, rings),
        8.0,
    )
    grid, radii = Grid(np.full(3, -700.0), 23.0, (70, 70, 70)), np.array([20.0, 50.0, 75.0, 200.0])
    block, found = room(grid, panel, radii)
    cells = np.argwhere(np.ones(found.shape)) + [one.start for one in block]
    chosen = np.random.default_rng(1).choice(len(cells), 1500, replace=False)
    mesh, points = skin(panel), grid.low + cells[chosen] * grid.edge
    away = np.where(mesh.contains(points), 0.0, distance(panel, points))
    told = found.ravel()[chosen]
    play = 0.4 if hole else 1e-6
    assert len(np.unique(told)) == 5
    assert np.all(told <= (away[:, None] >= radii - 1e-6).sum(axis=1))
    assert np.all(told >= (away[:, None] >= radii + play).sum(axis=1))


def test_what_is_beyond_the_block_has_room_for_all() -> None:
    panel = Solid(Pose(turned((0.3, -0.7, 1.9)), np.zeros(3)), shapely.box(0, 0, 300, 200), 8.0)
    grid = Grid(np.full(3, -900.0), 60.0, (30, 30, 30))
    block, _ = room(grid, panel, np.array([20.0, 200.0]))
    outer = np.ones(grid.shape, dtype=np.bool_)
    outer[block] = False
    away = distance(panel, grid.low + np.argwhere(outer) * grid.edge)
    assert away.min() >= 200.0


@pytest.mark.parametrize("seed", range(8))
def test_an_arm_fills_what_scipy_labels(seed: int) -> None:
    """Without a limit of length an arm comes to every cell of the components of its start, and to no other.

    Lengths are the shortest ways by scipy's Dijkstra over the same neighbours.
    """
    rng = np.random.default_rng(seed)
    rooms = rng.choice(np.array([0, 1, 3, 4], dtype=np.uint8), (9, 8, 7), p=[0.45, 0.25, 0.2, 0.1])
    start = np.zeros(rooms.shape, dtype=np.bool_)
    start[rng.integers(0, 9), rng.integers(0, 8), rng.integers(0, 7)] = True
    start[0, 0, 0], rooms[start] = True, ARM
    gates = np.full(rooms.shape, -1, dtype=np.int16)
    arms = arms_reach(rooms, start, gates, 10.0, FAR)
    label, _ = ndimage.label(rooms >= HAND, structure=np.ones((3, 3, 3)))
    assert np.array_equal(np.isfinite(arms.length), np.isin(label, np.unique(label[start])))
    assert np.allclose(arms.length, shortest(rooms >= HAND, start) * 10.0, rtol=1e-5)
    assert np.array_equal(np.isfinite(arms_reach(rooms, start, gates, 10.0, (35.0, 35.0)).length), arms.length <= 35.0)


def shortest(open_to: np.ndarray, start: np.ndarray) -> np.ndarray:
    """Shortest ways from the nearest start over 26 neighbours, by scipy's Dijkstra."""
    cells = np.argwhere(open_to)
    apart = cells[:, None] - cells[None]
    near = np.abs(apart).max(axis=2) == 1
    weights = sparse.csr_matrix(np.where(near, np.sqrt((apart**2).sum(axis=2)), 0.0))
    begin = np.nonzero(start[tuple(cells.T)])[0]
    length = np.full(open_to.shape, np.inf)
    length[tuple(cells.T)] = csgraph.dijkstra(weights, indices=begin, min_only=True)
    return length


def test_only_a_hand_goes_on_where_an_arm_has_no_room() -> None:
    """A gap of 5 cells of 10 mm for a hand alone: 50 mm of it are passed, 40 are not, and no longer way behind it."""
    rooms = np.zeros((20, 3, 3), dtype=np.uint8)
    rooms[:, 1, 1] = ARM
    rooms[5:10, 1, 1] = HAND
    start = np.zeros(rooms.shape, dtype=np.bool_)
    start[0, 1, 1] = True
    gates = np.full(rooms.shape, -1, dtype=np.int16)
    gates[7] = 3
    for narrow, last in ((40.0, 8), (50.0, 9), (75.0, 11), (1000.0, 15)):
        arms = arms_reach(rooms, start, gates, 10.0, (150.0, narrow))
        assert np.nonzero(np.isfinite(arms.length[:, 1, 1]))[0].max() == last
        assert arms.gate[6, 1, 1] == -1
        assert set(arms.gate[7 : last + 1, 1, 1].tolist()) == {3}


@pytest.mark.parametrize("seed", range(4))
def test_men_fill_what_scipy_labels(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rooms = np.pad(rng.choice(np.array([1, 4], dtype=np.uint8), (7, 7, 7), p=[0.6, 0.4]), 1, constant_values=MAN)
    label, _ = ndimage.label(rooms == MAN, structure=np.ones((3, 3, 3)))
    reached = men_reach(rooms)
    assert np.array_equal(reached, label == label[0, 0, 0])
    assert np.array_equal(men_reach(rooms, anywhere=True), rooms == MAN)
    places, cells = np.argwhere(reached), np.argwhere(np.ones(rooms.shape))
    near = np.linalg.norm(cells[:, None] - places[None], axis=2).min(axis=1) * 10.0 <= 12.5
    assert np.array_equal(men_fill(reached, 10.0, 25.0).ravel(), near)


def box(hatch: float, size: float = 2000.0) -> list[Solid]:
    """A closed box with a round hatch in the middle of its top."""
    lid, middle = shapely.box(0.0, 0.0, size, size), (size / 2.0, size / 2.0)
    if hatch:
        lid = shapely.Polygon(lid.exterior, [flattened(circle(middle, hatch / 2.0), 0.01)])
    plain = shapely.box(0.0, 0.0, size, size)
    up, x, y = np.eye(3), turned((0.0, -np.pi / 2.0, 0.0)), turned((np.pi / 2.0, 0.0, 0.0))
    return [
        Solid(Pose(up, np.zeros(3)), plain, 6.0),
        Solid(Pose(up, np.array([0.0, 0.0, size])), lid, 6.0),
        *(Solid(Pose(x, np.array([at, 0.0, 0.0])), plain, 6.0) for at in (0.0, size)),
        *(Solid(Pose(y, np.array([0.0, at, 0.0])), plain, 6.0) for at in (0.0, size)),
    ]


def moved(solids: list[Solid], turn: FloatArray) -> list[Solid]:
    return [Solid(Pose(turn @ one.frame.rotation, turn @ one.frame.origin), one.face, 6.0) for one in solids]


def scene(solids: list[Solid]) -> tuple[Space, np.ndarray, np.ndarray]:
    """The space of a body, its rooms, and which cells of the inner grid lie in its hull."""
    around = space(solids, np.arange(len(solids)), len(solids), SIZES)
    planes = hull_planes(np.vstack([one.corners for one in solids]))
    rooms = rooms_left(around, np.ones(len(solids), dtype=np.bool_))
    return around, rooms, inside_hull(around.inner, planes)


@pytest.mark.parametrize(("hatch", "enters"), [(0.0, False), (400.0, False), (574.0, False), (600.0, True)])
def test_a_man_enters_through_an_opening_of_his_size(hatch: float, enters: bool) -> None:
    """575 mm is the least opening (tank entry with breathing apparatus, from memory); a sealed box stays shut."""
    around, rooms, inside = scene(box(hatch))
    assert bool((men_reach(rooms)[around.core] & inside).any()) == enters


def test_an_opening_off_the_middle_is_passed_with_the_play_that_is_told() -> None:
    """Wherever the cells lie, an opening wider than a man by `play` lets him pass, one narrower than he never."""
    rng = np.random.default_rng(2)
    for _ in range(2):
        at, pose = rng.uniform(500.0, 700.0, 2), turned(tuple(rng.uniform(-0.6, 0.6, 3).tolist()))
        sealed = moved(box(0.0, 1200.0), pose)
        passed = []
        for across in (574.5, 575.0 + scene(sealed)[0].play):
            hole = shapely.Polygon(flattened(circle((at[0], at[1]), across / 2.0), 0.001))
            lid = Solid(sealed[1].frame, shapely.Polygon(sealed[1].face.exterior, [hole.exterior]), 6.0)
            around, rooms, inside = scene([sealed[0], lid, *sealed[2:]])
            passed.append(bool((men_reach(rooms)[around.core] & inside).any()))
        assert passed == [False, True]


def test_nothing_inside_a_sealed_box_is_reached_and_a_hand_hole_opens_its_surroundings() -> None:
    """An arm of 600 mm reaches 500 mm under a hole of 200, not 800, nor a corner; 140 mm let a hand pass, 95 not."""
    under = np.array(
        [[1000.0, 1000.0, 1500.0], [1000.0, 1000.0, 1200.0], [100.0, 100.0, 100.0], [1000.0, 1000.0, 1900.0]]
    )
    for hole, reached in (
        (0.0, [False] * 4),
        (95.0, [False] * 4),
        (140.0, [False, False, False, True]),
        (200.0, [True, False, False, True]),
    ):
        around, rooms, inside = scene(box(hole))
        gates = np.full(around.inner.shape, -1, dtype=np.int16)
        arms = arms_reach(rooms[around.core], ~inside, gates, around.grid.edge, (600.0, 200.0))
        found = held(around.inner, arms.length, under, SIZES.hand, 600.0)
        assert (found >= 0).tolist() == reached
        places = around.inner.middles(found[found >= 0])
        assert np.all(np.linalg.norm(places - under[found >= 0], axis=1) <= SIZES.hand / 2.0)


def test_a_man_on_his_way_never_meets_metal() -> None:
    """Between neighbouring middles of his way trimesh measures 287.5 mm to the nearest plate, and no less."""
    pose = turned((0.2, 0.3, 0.4))
    solids = moved(box(640.0, 1500.0), pose)
    around, rooms, inside = scene(solids)
    reached = men_reach(rooms)
    assert (reached[around.core] & inside).any()
    cells = np.argwhere(reached)
    rng = np.random.default_rng(4)
    hatch = pose @ np.array([750.0, 750.0, 1500.0])
    cells = cells[np.linalg.norm(around.grid.low + cells * around.grid.edge - hatch, axis=1) < 200.0]
    assert len(cells) > 100
    one = cells[rng.choice(len(cells), 300)]
    two = one + rng.integers(-1, 2, (300, 3))
    between = (one + rng.uniform(0.0, 1.0, (300, 1)) * (two - one))[reached[tuple(two.T)]]
    places = around.grid.low + between * around.grid.edge
    assert len(places) > 100
    away = np.min([distance(solid, places) for solid in solids], axis=0)
    assert away.min() >= 287.5 - 1e-6


def test_the_gate_is_the_opening_or_the_piece_that_is_off() -> None:
    """Through a hatch in the top; with wall 2 off, by its place, numbered after the openings."""
    solids = box(400.0)
    around, _, inside = scene(solids)
    found = openings(around, solids)
    assert [(one.solid, round(one.size)) for one in found] == [(1, 400)]
    assert np.allclose(found[0].place, [1000.0, 1000.0, 1997.0], atol=0.2)
    for off, gate in ((None, 0), (2, 1 + 2)):
        present = np.arange(6) != (-1 if off is None else off)
        gates = gates_of(around, found, np.arange(6), present)
        arms = arms_reach(rooms_left(around, present)[around.core], ~inside, gates, around.grid.edge, (600.0, 200.0))
        spot = np.array([[1000.0, 1000.0, 1700.0], [300.0, 1000.0, 300.0]])
        cell = held(around.inner, arms.length, spot, SIZES.hand, 600.0)
        assert arms.gate.ravel()[cell[0]] == 0
        assert (cell[1] >= 0) == (off is not None)
        assert off is None or arms.gate.ravel()[cell[1]] == gate


def test_nobody_is_sent_into_a_body_drawn_in_a_wrong_unit() -> None:
    """A box of 2 m taken for 2,000 m: no search that would fill the memory."""
    far = [Solid(Pose(np.eye(3), np.array([0.0, 0.0, z])), shapely.box(0.0, 0.0, 2e6, 2e6), 6.0) for z in (0.0, 2e6)]
    around = space(far, np.arange(2), 2, SIZES)
    assert around.grid.shape == (0, 0, 0)
    assert not rooms_left(around, np.ones(2, dtype=np.bool_)).size


@pytest.mark.parametrize("corners", [3, 4, 7, 12])
@pytest.mark.parametrize("dent", [1.0, 0.4])
def test_distances_edge_by_edge_against_shapely(corners: int, dent: float) -> None:
    """Facets of rounds, some with an edge bent inwards: held against shapely's distances, inside and out."""
    turn = 2.0 * np.pi * (np.arange(corners) + 0.3) / corners
    ring = np.column_stack([120.0 * np.cos(turn), 50.0 * np.sin(turn)])
    ring[0] *= dent
    face = shapely.Polygon(ring)
    x, y = np.random.default_rng(corners).uniform(-200.0, 200.0, (2, 4000))
    found = edge_by_edge(np.asarray(face.exterior.coords), x, y)
    assert found == pytest.approx(shapely.distance(face, shapely.points(x, y)), abs=1e-9)
