"""Prisms that run into one another, against points drawn within one and tested in the other."""

import numpy as np
import pytest
import shapely
import trimesh
from scipy.spatial.transform import Rotation

from fabplan.geom.pose import to_outer, to_own
from fabplan.geom.prism import Solid, clash, section, solid
from fabplan.geom.profile import rectangle
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose


def random_solid(rng: np.random.Generator) -> Solid:
    width, height, thickness = rng.uniform(40.0, 200.0), rng.uniform(40.0, 200.0), rng.uniform(4.0, 30.0)
    return solid(Panel("flat", rectangle(0.0, 0.0, width, height), thickness))


def random_pose(rng: np.random.Generator, reach: float) -> Pose:
    turn = Rotation.random(rng=rng).as_matrix()
    if rng.random() < 0.5:  # plates of a body mostly stand square to one another
        turn = np.round(Rotation.from_euler("xyz", rng.integers(0, 4, 3) * 90, degrees=True).as_matrix())
    return Pose(turn, rng.uniform(-reach, reach, 3))


def inside(one: Solid, points: FloatArray, margin: float) -> BoolArray:
    """True for points (n, 3) of the solid's own frame that lie within it by `margin`."""
    low, high = one.box.min(axis=0) + margin, one.box.max(axis=0) - margin
    within: BoolArray = np.all((points > low) & (points < high), axis=1)
    return within


@pytest.mark.parametrize("seed", range(60))
def test_clash_agrees_with_sampled_points(seed: int) -> None:
    """Common points 0.5 mm deep in both mean a clash; no common point even 0.5 mm outside both means none."""
    rng = np.random.default_rng(seed)
    one, two = random_solid(rng), random_solid(rng)
    pose_one, pose_two = random_pose(rng, 80.0), random_pose(rng, 80.0)
    low, high = one.box.min(axis=0) - 1.0, one.box.max(axis=0) + 1.0
    points = to_outer(pose_one, rng.uniform(low, high, (60_000, 3)))
    own, other = to_own(pose_one, points), to_own(pose_two, points)
    deep = np.any(inside(one, own, 0.5) & inside(two, other, 0.5))
    near = np.any(inside(one, own, -0.5) & inside(two, other, -0.5))
    found = clash(one, pose_one, two, pose_two)
    assert found == clash(two, pose_two, one, pose_one)
    if deep:
        assert found
    if not near:
        assert not found


@pytest.mark.parametrize(
    ("overlap", "expected"), [(0.0, False), (0.15, False), (0.25, True), (3.0, True), (-1.0, False)]
)
def test_a_clash_is_deeper_than_the_rounding_of_drawn_sizes(overlap: float, expected: bool) -> None:
    """Tolerance 0.2 mm."""
    plate = solid(Panel("flat", rectangle(0.0, 0.0, 200.0, 100.0), 6.0))
    upright = Pose(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]), np.array([0.0, 50.0, -overlap]))
    assert clash(plate, Pose(), plate, upright) is expected
    stacked = Pose(np.eye(3), np.array([10.0, 10.0, 6.0 - overlap]))
    assert clash(plate, Pose(), plate, stacked) is expected


def test_a_plate_in_an_opening_does_not_clash() -> None:
    hole = rectangle(50.0, 30.0, 150.0, 70.0)
    frame = solid(Panel("flat", rectangle(0.0, 0.0, 200.0, 100.0), 6.0, cutouts=(hole,)))
    through = solid(Panel("flat", rectangle(60.0, 0.0, 140.0, 100.0), 6.0))
    upright = Pose(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]), np.array([0.0, 53.0, -50.0]))
    assert not clash(frame, Pose(), through, upright)
    wide = solid(Panel("flat", rectangle(40.0, 0.0, 160.0, 100.0), 6.0))
    assert clash(frame, Pose(), wide, upright)


@pytest.mark.parametrize("seed", range(20))
def test_a_section_has_the_area_that_trimesh_cuts(seed: int) -> None:
    """Judge: trimesh's section of the same box by the same plane."""
    rng = np.random.default_rng(seed)
    cut, pose = random_solid(rng), Pose(Rotation.random(rng=rng).as_matrix(), rng.uniform(-20.0, 20.0, 3))
    size = np.ptp(cut.box, axis=0)
    box = trimesh.creation.box(extents=size)
    box.apply_translation(cut.box.mean(axis=0))
    matrix = np.eye(4)
    matrix[:3, :3], matrix[:3, 3] = pose.rotation, pose.origin
    box.apply_transform(matrix)
    level = float(box.centroid[2]) + rng.uniform(-20.0, 20.0)
    line = box.section(plane_origin=[0.0, 0.0, level], plane_normal=[0.0, 0.0, 1.0])
    expected = 0.0 if line is None else shapely.convex_hull(shapely.MultiPoint(line.vertices[:, :2])).area
    assert section(cut, pose, level).area == pytest.approx(expected, rel=1e-6, abs=1e-6)
