"""Exact lengths, areas and centres of profiles, held against shapely on a fine polygon."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from fabplan.geom import profile as gp
from fabplan.model.profile import Profile


@st.composite
def rounded(draw: st.DrawFn) -> Profile:
    """A star-shaped ring of arcs that do not cross: bulges stay small."""
    count = draw(st.integers(3, 12))
    radii = draw(st.lists(st.floats(40, 60), min_size=count, max_size=count))
    bulges = draw(st.lists(st.floats(-0.15, 0.3), min_size=count, max_size=count))
    turn = np.arange(count) * 2 * np.pi / count
    return Profile(np.column_stack([np.cos(turn), np.sin(turn)]) * np.array(radii)[:, None] + 1000.0, np.array(bulges))


@settings(max_examples=60, deadline=None)
@given(rounded())
def test_length_area_centroid_bounds_against_shapely(profile: Profile) -> None:
    """The reference is shapely's polygon through chords within 1e-5 mm."""
    fine = shapely.Polygon(gp.flattened(profile, 1e-5))
    assert gp.area(profile) == pytest.approx(fine.area, rel=1e-5)
    assert gp.length(profile) == pytest.approx(fine.length, rel=1e-5)
    assert gp.centroid(profile) == pytest.approx([fine.centroid.x, fine.centroid.y], abs=1e-3)
    assert gp.bounds(profile) == pytest.approx(fine.bounds, abs=1e-3)


@settings(max_examples=30, deadline=None)
@given(rounded())
def test_running_backwards_and_mirroring(profile: Profile) -> None:
    assert gp.area(gp.reversed_profile(profile)) == pytest.approx(-gp.area(profile))
    assert gp.area(gp.mirrored_x(profile)) == pytest.approx(gp.area(profile))
    assert gp.length(gp.mirrored_x(profile)) == pytest.approx(gp.length(profile))


def test_circle_is_exact() -> None:
    """Area pi r2, length 2 pi r, bounds of the circle (geometry)."""
    hole = gp.circle((100.0, 50.0), 5.5)
    assert gp.area(hole) == pytest.approx(np.pi * 5.5**2, rel=1e-12)
    assert gp.length(hole) == pytest.approx(2 * np.pi * 5.5, rel=1e-12)
    assert gp.bounds(hole) == pytest.approx([94.5, 44.5, 105.5, 55.5])
    assert gp.centroid(hole) == pytest.approx([100.0, 50.0])


def test_a_flat_arc_counts_in_the_centre_of_area() -> None:
    """A triangle with one side bowed by 0.002 mm; the reference is shapely's polygon through chords within 1e-7 mm."""
    bowed = Profile(np.array([[40.0, 0.0], [-20.0, 34.64], [-20.0, -34.64]]), np.array([0.0, 0.0, 6.1e-05]))
    fine = shapely.Polygon(gp.flattened(bowed, 1e-7))
    assert gp.centroid(bowed) == pytest.approx([fine.centroid.x, fine.centroid.y], abs=1e-6)
