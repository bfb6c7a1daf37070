"""Points near and inside profiles, held against shapely on a fine polygon."""

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.geom.inside import edge_distance, inside, near_edge
from fabplan.geom.profile import flattened
from fabplan.model.profile import Profile

FINE = 1e-5  # mm, from the polygon to the arcs


@st.composite
def arcs(draw: st.DrawFn) -> Profile:
    """A ring of lines, flat arcs and arcs past the half circle, of more spans than one box holds."""
    random = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    count = draw(st.integers(3, 200))
    turn = np.arange(count) * 2.0 * np.pi / count
    around = np.column_stack([np.cos(turn), np.sin(turn)]) * random.uniform(40.0, 60.0, (count, 1))
    return Profile(around, random.choice([0.0, 0.2, -0.4, 1.5], count))


@settings(max_examples=40, deadline=None)
@given(arcs(), st.floats(0.01, 30.0), st.integers(0, 2**32 - 1))
def test_near_edge_against_shapely(profile: Profile, limit: float, seed: int) -> None:
    """The judge is shapely's distance to the ring of chords."""
    xy = np.random.default_rng(seed).uniform(-90.0, 90.0, (400, 2))
    away = shapely.distance(shapely.points(xy), shapely.LinearRing(flattened(profile, FINE)))
    plain = np.abs(away - limit) > 10.0 * FINE
    assert (near_edge(profile, xy, limit) == (away <= limit))[plain].all()
    assert np.allclose(edge_distance(profile, xy)[0], away, atol=10.0 * FINE)


def test_near_edge_at_the_limit_passes() -> None:
    square = Profile(np.array([[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]]), np.zeros(4))
    assert near_edge(square, np.array([[5.0, -1.0], [5.0, -1.001], [12.0, 5.0]]), 1.0).tolist() == [True, False, False]


@settings(max_examples=40, deadline=None)
@given(st.integers(3, 60), st.integers(0, 2**32 - 1))
def test_inside_against_shapely(count: int, seed: int) -> None:
    """The judge is shapely's contains on a star-shaped polygon of straight lines."""
    random = np.random.default_rng(seed)
    turn = np.arange(count) * 2.0 * np.pi / count
    ring = np.column_stack([np.cos(turn), np.sin(turn)]) * random.uniform(40.0, 60.0, (count, 1))
    xy = random.uniform(-70.0, 70.0, (400, 2))
    found = inside(Profile(ring, np.zeros(count)), xy)
    assert (found == shapely.contains_xy(shapely.Polygon(ring), xy)).all()
