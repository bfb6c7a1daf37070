"""Right cones: development, there and back, metal against trimesh.

Worked value of plate-work practice: mean radii 200 and 100, height 300: R 632.456 and 316.228, 113.842 degrees.
"""

from math import atan2, cos, degrees, radians, sin, sqrt, tan, tau

import numpy as np
import pytest
import shapely
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from fabplan.errors import FormingError
from fabplan.geom.cone import Cone, cone_facets, development, placed, sector, to_cone, to_sector
from fabplan.geom.pose import to_outer
from fabplan.geom.profile import rectangle
from fabplan.model.profile import Profile


def sector_outline(outer: float, inner: float, first: float, angle: float, apex: tuple[float, float]) -> Profile:
    """A sector with its arcs in three spans each, counter-clockwise."""
    turns = np.linspace(first, first + angle, 4)
    bulge = tan(angle / 12.0)
    rim = [[outer * cos(a), outer * sin(a)] for a in turns]
    bore = [[inner * cos(a), inner * sin(a)] for a in turns[::-1]]
    bulges = [bulge] * 3 + [0.0] + [-bulge] * 3 + [0.0]
    return Profile(np.array(rim + bore) + np.array(apex), np.array(bulges))


def test_the_worked_development() -> None:
    outer, inner, angle = development(200.0, 100.0, 300.0)
    assert (outer, inner, degrees(angle)) == pytest.approx((632.456, 316.228, 113.842), abs=1e-3)


@given(st.floats(10.0, 900.0), st.floats(0.0, 0.99), st.floats(1.0, 2000.0))
def test_arcs_are_the_girths_of_both_ends(large: float, share: float, height: float) -> None:
    outer, inner, angle = development(large, share * large, height)
    assert outer * angle == pytest.approx(tau * large, rel=1e-9)
    assert inner * angle == pytest.approx(tau * share * large, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("first", [0.3, 5.9, -2.0])
def test_a_drawn_sector_is_known_again(first: float) -> None:
    apex, begin, end, radii = sector(sector_outline(632.456, 316.228, first, radians(113.842), (40.0, -70.0)))
    assert apex == pytest.approx((40.0, -70.0), abs=1e-6)
    assert (cos(begin), sin(begin)) == pytest.approx((cos(first), sin(first)), abs=1e-9)
    assert degrees(end - begin) == pytest.approx(113.842, abs=1e-6)
    assert radii == pytest.approx((316.228, 632.456), abs=1e-2)


def test_what_is_no_sector() -> None:
    with pytest.raises(FormingError, match="no arc"):
        sector(rectangle(0.0, 0.0, 300.0, 200.0))
    odd = sector_outline(632.456, 316.228, 0.0, 2.0, (0.0, 0.0))
    moved = Profile(np.where(np.arange(8)[:, None] > 3, odd.vertices + np.array([3.0, 0.0]), odd.vertices), odd.bulges)
    with pytest.raises(FormingError, match="several centres"):
        sector(moved)


def frustum(inward: bool = True, first: float = 0.3) -> tuple[Cone, shapely.Polygon]:
    outer, inner, angle = development(200.0, 100.0, 300.0)
    cone = Cone(placed(np.array([40.0, -70.0]), first), atan2(100.0, 300.0), 6.0, inward)
    turns = np.linspace(first, first + angle, 2001)
    ring = [
        outer * np.column_stack([np.cos(turns), np.sin(turns)]),
        inner * np.column_stack([np.cos(turns), np.sin(turns)])[::-1],
    ]
    return cone, shapely.Polygon(np.vstack(ring) + np.array([40.0, -70.0]))


@pytest.mark.parametrize("inward", [True, False])
def test_the_still_edge_keeps_its_place_and_the_other_comes_round_to_it(inward: bool) -> None:
    cone, _ = frustum(inward)
    outer, inner, angle = development(200.0, 100.0, 300.0)
    ends = [(r, 0.3 + turn) for turn in (0.0, angle - 1e-12) for r in (outer, inner)]
    edge = np.array([[r * cos(a) + 40.0, r * sin(a) - 70.0, -3.0] for r, a in ends])
    place, normal = to_cone(cone, edge)
    assert place[:2] == pytest.approx(edge[:2], abs=1e-9)
    assert normal[:2] == pytest.approx(np.array([[0.0, 0.0, 1.0]] * 2), abs=1e-9)
    assert place[2:] == pytest.approx(edge[:2], abs=1e-6)


def test_both_ends_lie_on_their_circles() -> None:
    """Every point of an arc is its mean radius from the axis; both planes are the height apart."""
    cone, _ = frustum()
    outer, inner, angle = development(200.0, 100.0, 300.0)
    turns = np.linspace(0.3, 0.3 + angle * 0.999, 40)
    ends = []
    for r, radius in ((outer, 200.0), (inner, 100.0)):
        flat = np.column_stack([r * np.cos(turns) + 40.0, r * np.sin(turns) - 70.0, np.full(40, -3.0)])
        place, normal = to_cone(cone, flat)
        from_first = place[1:] - place[0]  # the centre of their circle, in their own plane, is as far from all
        centre = place[0] + np.linalg.lstsq(2.0 * from_first, (from_first**2).sum(axis=1), rcond=None)[0]
        assert np.linalg.norm(place - centre, axis=1) == pytest.approx(np.full(40, radius), abs=1e-6)
        assert (normal * (centre - place)).sum(axis=1).min() > 0.0
        ends.append(centre)
    assert np.linalg.norm(ends[0] - ends[1]) == pytest.approx(300.0, abs=1e-6)


@given(
    st.floats(20.0, 500.0),
    st.floats(0.0, 0.9),
    st.floats(30.0, 900.0),
    st.booleans(),
    st.floats(-4.0, 4.0),
    st.tuples(st.floats(0.001, 0.999), st.floats(0.05, 1.0), st.floats(0.0, 1.0)),
)
def test_to_space_and_back(
    large: float, share: float, height: float, inward: bool, first: float, at: tuple[float, float, float]
) -> None:
    """Sector to space to sector within 1e-9 mm."""
    outer, inner, angle = development(large, share * large, height)
    cone = Cone(placed(np.array([7.0, -3.0]), first), atan2(large * (1.0 - share), height), 4.0, inward)
    slant = inner + at[1] * (outer - inner)
    turn = first + at[0] * angle
    flat = np.array([[slant * cos(turn) + 7.0, slant * sin(turn) - 3.0, -4.0 * at[2]]])
    # metal that would reach over the axis, within half a thickness of the apex, has two places on the blank
    if slant * tan(cone.half) > 2.5:
        back = to_sector(cone, to_cone(cone, flat)[0])
        assert np.abs(back - flat).max() < 1e-9


@pytest.mark.parametrize("inward", [True, False])
def test_metal_against_trimesh(inward: bool) -> None:
    """Volume and centre of mass of the facets against a frustum that trimesh turns about its axis."""
    cone, face = frustum(inward)
    found, _, _ = cone_facets(cone, face, np.zeros((0, 2)))
    half = cone.half
    wide, narrow = np.array([200.0, 0.0]), np.array([100.0, 300.0])
    out = 3.0 * np.array([cos(half), sin(half)])
    line = np.array([wide - out, wide + out, narrow + out, narrow - out, wide - out])
    mesh = trimesh.creation.revolve(line, sections=2880)
    volume = np.array([one.face.area * 6.0 for one in found])
    middle = np.array(
        [to_outer(one.frame, np.array([one.face.centroid.x, one.face.centroid.y, -3.0])) for one in found]
    )
    centre = volume @ middle / volume.sum()
    assert volume.sum() == pytest.approx(abs(mesh.volume), rel=2e-5)
    # the axis runs from the apex at half angle to the still generator; trimesh's stands on the wide end
    axis = to_outer(cone.own, np.vstack([np.zeros(3), cone.axes[0]]))
    own = centre - axis[0] - np.array([0.0, 0.0, -3.0])
    along = float(own @ (axis[1] - axis[0]))
    apex = 200.0 / tan(half)
    assert apex - along == pytest.approx(mesh.center_mass[2], abs=0.1)
    assert sqrt(max(float(own @ own) - along**2, 0.0)) < 0.2


def test_holes_touch_on_their_generators() -> None:
    """Holes at 40 angles on one arc: each lies exactly where the cone has it, its facet square to the metal there."""
    cone, face = frustum()
    angles = np.linspace(0.1, radians(113.842) - 0.1, 40) + 0.3
    xy = np.column_stack([500.0 * np.cos(angles) + 40.0, 500.0 * np.sin(angles) - 70.0])
    found, owner, local = cone_facets(cone, face, xy)
    assert (owner >= 0).all()
    place = np.array([to_outer(found[o].frame, np.append(one, 0.0)) for o, one in zip(owner, local, strict=True)])
    true, normal = to_cone(cone, np.column_stack([xy, np.zeros(40)]))
    assert place == pytest.approx(true, abs=1e-9)
    assert np.array([found[o].frame.rotation[:, 2] for o in owner]) == pytest.approx(normal, abs=1e-9)
