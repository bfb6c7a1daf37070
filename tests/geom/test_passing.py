"""Straight ways past standing panels, held against trimesh's rays and sizes worked out by hand."""

from typing import Any

import numpy as np
import pytest
import shapely
import trimesh
from scipy.spatial.transform import Rotation

from fabplan.geom.passing import ahead, blocked, course
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.pose import Pose

RAYS = 4000


def plate(rng: np.random.Generator, middle: FloatArray) -> Solid:
    """A plate anywhere, any way round."""
    turn = Rotation.random(random_state=int(rng.integers(1 << 30))).as_matrix()
    wide, deep = rng.uniform(100.0, 400.0, 2)
    return Solid(Pose(turn, middle), shapely.box(0.0, 0.0, wide, deep), float(rng.uniform(5.0, 40.0)))


def mesh(solid: Solid) -> Any:
    return trimesh.Trimesh(vertices=solid.corners).convex_hull


@pytest.mark.parametrize("seed", range(30))
def test_against_rays(seed: int) -> None:
    """Rays from 4,000 places in the moving plate along its way: where one meets the other plate, it stands in the way.

    Called blocked with none met is a share of the plate too small for that many rays: under 1 in 400 of its shadow.
    """
    rng = np.random.default_rng(seed)
    one, other = plate(rng, np.zeros(3)), plate(rng, rng.uniform(-400.0, 400.0, 3))
    way = rng.normal(size=3)
    way /= np.linalg.norm(way)
    seen = course([one, other], way)
    pairs = ahead(seen, np.array([0]), np.array([1]))
    ours = bool(blocked([one, other], seen, pairs).any())
    assert bool(blocked([one, other], seen, pairs, any_pair=True).any()) == ours
    at = rng.uniform(size=(RAYS, 3)) * [*one.face.bounds[2:], -one.thickness]
    start = at @ one.frame.rotation.T + one.frame.origin
    hits: BoolArray = mesh(other).ray.intersects_any(start, np.tile(way, (RAYS, 1)))
    assert ours >= hits.any()
    if ours and not hits.any():
        flat = [shapely.MultiPoint(solid.corners @ seen.across.T).convex_hull for solid in (one, other)]
        assert flat[0].intersection(flat[1]).area < flat[0].area / 400.0


def test_a_plate_slides_along_another_and_through_an_opening_that_it_fits() -> None:
    """A plate of 100 x 100 passes an opening of 102 and not one of 98; lying against a wall it slides along it."""

    def wall(opening: float) -> Solid:
        low, high = 100.0 - opening / 2.0, 100.0 + opening / 2.0
        face = shapely.Polygon(
            shapely.box(0.0, 0.0, 200.0, 200.0).exterior, [shapely.box(low, low, high, high).exterior]
        )
        return Solid(Pose(), face, 6.0)

    moving = Solid(Pose(origin=np.array([50.0, 50.0, -300.0])), shapely.box(0.0, 0.0, 100.0, 100.0), 5.0)
    up = np.array([0.0, 0.0, 1.0])
    for opening, stands in ((102.0, False), (98.0, True)):
        solids = [moving, wall(opening)]
        seen = course(solids, up)
        assert bool(blocked(solids, seen, ahead(seen, np.array([0]), np.array([1]))).any()) == stands
    touching = Solid(Pose(origin=np.array([0.0, 0.0, 5.0])), shapely.box(0.0, 0.0, 100.0, 100.0), 5.0)
    solids = [touching, wall(102.0)]
    for way, stands in (([1.0, 0.0, 0.0], False), ([0.0, 0.0, 1.0], False), ([0.0, 0.0, -1.0], True)):
        seen = course(solids, np.array(way))
        assert bool(blocked(solids, seen, ahead(seen, np.array([0]), np.array([1]))).any()) == stands


def test_a_short_way_ends_before_what_stands_further_off() -> None:
    """A wall 50 mm ahead of the plate is in a way of 60 mm, and not in one of 40 mm."""
    moving = Solid(Pose(), shapely.box(0.0, 0.0, 100.0, 100.0), 5.0)
    standing = Solid(Pose(origin=np.array([0.0, 0.0, 56.0])), shapely.box(0.0, 0.0, 100.0, 100.0), 6.0)
    solids = [moving, standing]
    seen = course(solids, np.array([0.0, 0.0, 1.0]))
    for far, stands in ((60.0, True), (40.0, False), (np.inf, True)):
        pairs = ahead(seen, np.array([0]), np.array([1]), far)
        assert bool(blocked(solids, seen, pairs, far).any()) == stands
