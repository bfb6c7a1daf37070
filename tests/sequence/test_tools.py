"""Tools against the metal round them, held against trimesh's rays; what each tool takes for room."""

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from scipy.spatial.transform import Rotation

from fabplan.geom.envelope import Rods, metal, pairs_near, rods_hit
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Stacks
from fabplan.model.plan import Plan
from fabplan.model.pose import Pose
from fabplan.rules.tables import read_tables
from fabplan.sequence.access import access, site
from fabplan.sequence.reach import DRIVE, HOLD, panels_of, ways
from fabplan.sequence.tools import Piece, Seat, chains
from tests.body.made import made
from tests.kits.build import Kit
from tests.kits.random_kits import box
from tests.kits.skip import skip
from tests.sequence.rays import Judge, mesh_of, rays_in


def plates() -> list[Solid]:
    """A plate with a round opening, one thin and one thick."""
    face = shapely.Polygon(
        shapely.box(0.0, 0.0, 300.0, 200.0).exterior, [shapely.Point(150.0, 100.0).buffer(40.0).exterior]
    )
    turn = Rotation.from_euler("xyz", (0.3, 0.4, 0.5)).as_matrix()
    return [Solid(Pose(turn, np.array([10.0, -20.0, 30.0])), face, thickness) for thickness in (3.0, 30.0)]


def tried(plate: Solid, bars: bool, count: int = 160) -> Rods:
    """Pieces in and about a plate: the first square to it, the next along it, the rest askew."""
    rng = np.random.default_rng(7)
    over = np.column_stack([rng.uniform(-60.0, low, count) for low in (360.0, 260.0)] + [rng.uniform(-150, 150, count)])
    axis = rng.normal(size=(count, 3))
    axis[:20], axis[20:50] = plate.frame.rotation[:, 2], plate.frame.rotation[:, 0]
    axis /= np.linalg.norm(axis, axis=1)[:, None]
    across = np.cross(axis, rng.normal(size=(count, 3)))
    across *= bars * (rng.uniform(20.0, 200.0, count) / np.linalg.norm(across, axis=1))[:, None]
    start = over @ plate.frame.rotation.T + plate.frame.origin
    return Rods(start, axis, rng.uniform(50.0, 300.0, count), rng.uniform(10.0, 45.0, count), across)


@pytest.mark.parametrize("bars", [False, True])
@pytest.mark.parametrize("plate", plates(), ids=["thin", "thick"])
def test_pieces_against_trimesh_rays(plate: Solid, bars: bool) -> None:
    """No piece called clear has a ray over 1 mm inside it that meets the plate; 1,000 rays judge each blocked one."""
    rods = tried(plate, bars)
    number = np.arange(len(rods.start))
    hit = np.isin(number, rods_hit(metal([plate]), np.zeros_like(number), rods, number))
    found = []
    for inset in (1.0, 0.01):
        rays = rays_in(rods, 1000, np.random.default_rng(2), inset)
        places, ray, _ = mesh_of(plate).ray.intersects_location(rays.origin, rays.way, multiple_hits=False)
        short = np.linalg.norm(places - rays.origin[ray], axis=1) <= rays.length[ray]
        found.append(np.isin(number, rays.piece[ray[short]]))
    assert 20 < hit.sum() < len(number) - 20
    assert not np.any(found[0] & ~hit)
    doubtful = np.nonzero(hit & ~found[1])[0]
    assert len(doubtful) <= 0.02 * len(number), doubtful


def test_pairs_near_leave_nothing_out_that_is_met() -> None:
    panels = metal(plates())
    rods = tried(plates()[0], bars=True)
    box_of, panel = pairs_near(*rods.boxes(), panels)
    every = np.repeat(np.arange(len(rods.start)), 2)
    met = rods_hit(panels, np.tile([0, 1], len(rods.start)), rods.take(every), np.arange(len(every)))
    assert set(met.tolist()) <= set((box_of * 2 + panel).tolist())
    assert len(met) > 40


def one_seat() -> Seat:
    return Seat(
        np.zeros((1, 3)), np.array([[0.0, 0.0, 1.0]]), np.array([16.0]), np.array([16.0]), np.array([10.0]), np.ones(1)
    )


def covered(pieces: tuple[Piece, ...], points: FloatArray) -> BoolArray:
    """True for points (n, 3) in one of the pieces on the axis z, aside along x."""
    found = np.zeros(len(points), dtype=np.bool_)
    for piece in pieces:
        x = points[:, 0] - np.clip(points[:, 0], piece.aside, piece.aside + piece.across)
        tall = (points[:, 2] >= piece.start - 1e-9) & (points[:, 2] <= piece.start + piece.length + 1e-9)
        found |= tall & (np.hypot(x, points[:, 1]) <= piece.radius + 1e-9)
    return found


def test_the_swing_of_a_hammer_lies_within_its_envelope() -> None:
    """Head and handle turned about the hand step by step, as drawn on paper: all of it is in the bars."""
    tool = next(tool for tool in read_tables().tools if tool.handle > 0.0)
    ((chain, _),) = chains(tool, one_seat())
    rng = np.random.default_rng(4)
    n, half, r = 40_000, tool.body_length / 2.0, tool.body_diameter / 2.0
    turn, out, around = rng.uniform(0.0, 1.0, n), r * np.sqrt(rng.uniform(0.0, 1.0, n)), rng.uniform(0.0, 2 * np.pi, n)
    head = np.column_stack([np.cos(around) * out, np.sin(around) * out, rng.uniform(-half, half, n)])
    handle = np.column_stack([rng.uniform(0.0, tool.handle, n), np.zeros(n), np.zeros(n)])
    turn *= np.radians(tool.swing)
    for own in (head, handle):
        x, z = own[:, 0] - tool.handle, own[:, 2]
        swung = np.column_stack(
            [tool.handle + np.cos(turn) * x + np.sin(turn) * z, own[:, 1], np.cos(turn) * z - np.sin(turn) * x]
        )
        swung[:, 2] += tool.nose_length + half
        assert covered(chain.pieces, swung).all()
    assert not covered(chain.pieces, np.array([[0.0, 0.0, tool.nose_length + half + tool.handle]])).any()


@pytest.mark.parametrize(("edge", "reached"), [(40.0, True), (300.0, True), (300.1, False), (2000.0, False)])
def test_a_yoke_reaches_in_from_the_edge_by_its_throat(edge: float, reached: bool) -> None:
    """Plies with one edge near, the others a long way off; the throat is 300 mm, the back stands beyond the edge."""
    tool = next(tool for tool in read_tables().tools if tool.use == "squeeze")
    assert tool.throat == 300.0
    ((chain, turned),) = chains(tool, one_seat())
    plies = metal([Solid(Pose(np.eye(3), np.zeros(3)), shapely.box(-3000.0, -3000.0, edge, 3000.0), 10.0)])
    free, one = [], np.zeros(1, dtype=np.int64)
    for turn in 2.0 * np.pi * np.arange(16) / 16:
        aside = np.array([[np.cos(turn), np.sin(turn), 0.0]])
        (spine,) = [piece for piece in chain.pieces if piece.plies]
        start = one_seat().foot + spine.start[:, None] * one_seat().out + spine.aside * aside
        rods = Rods(start, one_seat().out, spine.length, spine.radius, spine.across * aside)
        free.append(len(rods_hit(plies, one, rods, one)) == 0)
    assert turned
    assert any(free) == reached


def test_a_yoke_serves_both_sides_or_none(bowser_plan: Plan) -> None:
    """With no other tool to drive or hold: each rivet that it drives it holds up, from the same place."""
    job, body, stacks, tables = bowser_plan.job, bowser_plan.body, bowser_plan.stacks, bowser_plan.tables
    assert body is not None
    assert stacks is not None
    few = replace(tables, tools=tuple(tool for tool in tables.tools if tool.use in ("squeeze", "enter")))
    panels = panels_of(body)
    reach = ways(job, body, stacks, panels, few)
    yard = site(job, body, stacks, panels, reach)
    standing = np.ones(len(body.instances), dtype=np.bool_)
    standing[[instance.mark == "T1" for instance in body.instances]] = False
    found = access(yard, len(stacks), standing)
    drive, hold = found.way[:, 1, DRIVE], found.way[:, 0, HOLD]
    assert ((drive >= 0) == (hold >= 0)).all()
    assert 0 < (drive >= 0).sum() < len(stacks)
    taken = np.nonzero(drive >= 0)[0]
    assert np.allclose(reach.end[drive[taken]], reach.end[hold[taken]])


def test_heads_near_upstands_are_told_with_the_rule(bowser_plan: Plan) -> None:
    """Legs of 40 x 6 drilled at 22, DIN 997: 16 mm to the other leg; heads of 16 mm want 2/3 of them and 1/4 in."""
    (told,) = [one for one in bowser_plan.findings if one.check == "near-upstand"]
    assert told.measured == pytest.approx(22.0 - 6.0)
    assert told.required == pytest.approx(17.0)
    assert "1912" in told.source
    angle = {
        seam.mark for seam in bowser_plan.job.seams if len(seam.plies) == 2 and seam.plies[0].row.startswith("side")
    }
    assert {number.split()[0] for number in told.where.holes} >= angle


def part(stacks: Stacks, index: IntArray) -> Stacks:
    """Some of the stacks."""
    plies = np.concatenate([np.arange(stacks.first[i], stacks.first[i + 1]) for i in index.tolist()])
    changed = {
        one.name: getattr(stacks, one.name)[plies if one.name.startswith("ply_") else index]
        for one in fields(stacks)
        if one.name not in ("number", "first")
    }
    first = np.concatenate([[0], np.cumsum(np.diff(stacks.first)[index])])
    return replace(stacks, number=tuple(stacks.number[i] for i in index.tolist()), first=first, **changed)


def judge_of(kit: Kit, folder: Path, every: int) -> Judge:
    """A kit put together, with every so many of its rivets."""
    result = made(kit, folder)
    some = part(result.stacks, np.arange(0, len(result.stacks), every))
    return Judge(result.job, result.body, some, read_tables())


@pytest.fixture(scope="module", params=["bowser", "skip", "box 3", "box 8"])
def judge(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Judge:
    """The bowser, a fifth of the rivets of the skip, and small random boxes."""
    folder = tmp_path_factory.mktemp("kit")
    if request.param == "bowser":
        plan: Plan = request.getfixturevalue("bowser_plan")
        assert plan.body is not None
        assert plan.stacks is not None
        return Judge(plan.job, plan.body, plan.stacks, plan.tables)
    return judge_of(skip(), folder, 5) if request.param == "skip" else judge_of(box(int(request.param[4:])), folder, 1)


def chosen(judge: Judge, free: bool, count: int) -> IntArray:
    standing = np.ones(int(judge.panels.owner.max()) + 1, dtype=np.bool_)
    index = np.nonzero(judge.ways.blocked.free(standing) == free)[0]
    return np.sort(np.random.default_rng(5).choice(index, min(count, len(index)), replace=False))


def test_no_way_called_free_is_blocked(judge: Judge) -> None:
    """Of ways called free of every panel but the rivet's own plies, none is met over 1 mm inside: 64 rays a piece."""
    free = chosen(judge, free=True, count=3000)
    assert len(free) > 500
    assert judge.touched(free, 64, inset=1.0).tolist() == []


def test_few_ways_called_blocked_are_free(judge: Judge) -> None:
    """At most 2 % of the ways called blocked are free by 1,000 rays in each piece of the tool; those are listed."""
    blocked = chosen(judge, free=False, count=300)
    doubtful = np.setdiff1d(blocked, judge.touched(blocked, 1000, inset=0.01))
    ways, stacks = judge.ways, judge.stacks
    listed = [f"{stacks.number[ways.rivet[way]]} {ways.tools[ways.tool[way]].name}" for way in doubtful.tolist()]
    assert len(blocked) > 100
    assert len(listed) <= 0.02 * len(blocked), listed
