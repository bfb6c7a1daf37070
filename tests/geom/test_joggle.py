"""Joggles: angle and slope against scipy's solution of the middle line, set and run in space, metal by trimesh."""

import numpy as np
import pytest
import scipy.optimize
import shapely
import trimesh
from hypothesis import assume, given
from hypothesis import strategies as st

from fabplan.geom.bend import Bend
from fabplan.geom.facets import facets
from fabplan.geom.forming import BendLine, Formed, form, region_of, to_blank, to_space
from fabplan.geom.joggle import Joggle, joggle, set_side
from fabplan.geom.pose import to_outer
from fabplan.geom.profile import rectangle


@pytest.mark.parametrize(
    ("depth", "run", "r", "t"),
    [(6.0, 30.0, 12.0, 6.0), (6.0, 24.0, 6.0, 6.0), (10.0, 50.0, 16.0, 8.0), (3.0, 60.0, 4.0, 3.0)],
)
def test_angle_and_slope(depth: float, run: float, r: float, t: float) -> None:
    """The middle line as two arcs of r + t / 2 and a straight: its rise is the depth, its reach the run.

    Both of its ends lie square to the plate, so that the faces rise and reach as far.
    """
    middle = r + t / 2.0

    def closing(x: np.ndarray) -> list[float]:
        angle, slope = x
        return [
            2.0 * middle * (1.0 - np.cos(angle)) + slope * np.sin(angle) - depth,
            2.0 * middle * np.sin(angle) + slope * np.cos(angle) - run,
        ]

    angle, slope = scipy.optimize.fsolve(closing, [0.3, run])
    made = joggle(depth, run, Bend(0.0, r, t, 1.0))
    assert (made.bend.angle, made.slope) == pytest.approx((angle, slope), abs=1e-9)
    assert made.shortening == pytest.approx(2.0 * middle * angle + slope - run, abs=1e-9)


def test_a_run_too_short_for_the_radius() -> None:
    """Two arcs alone, without slope: the run is the root of 2 R d - d2, here 18 x 12 - 36 = 180, 13.4 mm."""
    with pytest.raises(ValueError, match=r"wants a run of 13\.4 mm"):
        joggle(6.0, 13.3, Bend(0.0, 6.0, 6.0, 1.0))
    assert joggle(6.0, 13.6, Bend(0.0, 6.0, 6.0, 1.0)).slope > 0.5


def bent(depth: float, made: Joggle, long: float = 300.0) -> Formed:
    """A strip 100 mm wide, joggled at 200 mm, the end beyond set."""
    lines = []
    for sign in (-1.0, 1.0):
        x = 200.0 + sign * (made.slope + made.bend.width) / 2.0
        bend = Bend(
            float(-sign * np.sign(depth) * made.bend.angle), made.bend.radius, made.bend.thickness, made.bend.factor
        )
        lines.append(BendLine(f"J{sign}", np.array([x, 0.0]), np.array([x, 100.0]), bend))
    return form(shapely.box(0.0, 0.0, long, 100.0), made.bend.thickness, lines)


@pytest.mark.parametrize("depth", [6.0, -6.0])
def test_the_edge_is_set_by_the_depth_and_lies_flat(depth: float) -> None:
    made = joggle(6.0, 30.0, Bend(0.0, 12.0, 6.0, 0.8005))
    shape = bent(depth, made)
    place, normal = to_space(shape, np.array([[20.0, 50.0], [290.0, 50.0]]), np.zeros(2))
    assert place[1] == pytest.approx([290.0 - made.shortening, 50.0, depth], abs=1e-9)
    assert normal == pytest.approx(np.array([[0.0, 0.0, 1.0]] * 2), abs=1e-9)


def test_metal_against_trimesh() -> None:
    """Volume and centre of mass of the facets against trimesh's, of the traced section extruded."""
    made = joggle(6.0, 30.0, Bend(0.0, 12.0, 6.0, 1.0))
    shape = bent(6.0, made)
    u = np.linspace(0.0, 300.0, 6001)
    edges = [to_space(shape, np.column_stack([u, np.zeros(6001)]), np.full(6001, z))[0][:, [0, 2]] for z in (0.0, -6.0)]
    mesh = trimesh.creation.extrude_polygon(shapely.Polygon([*edges[0], *edges[1][::-1]]), 100.0)
    found, _, _ = facets(shape, np.zeros((0, 2)))
    volume = np.array([one.face.area * 6.0 for one in found])
    middle = np.array(
        [to_outer(one.frame, np.array([one.face.centroid.x, one.face.centroid.y, -3.0])) for one in found]
    )
    centre = volume @ middle / volume.sum()
    assert volume.sum() == pytest.approx(abs(mesh.volume), rel=1e-5)
    assert centre[[0, 2]] == pytest.approx(mesh.center_mass[:2], abs=0.01)
    assert centre[1] == pytest.approx(50.0)


@given(
    st.floats(1.0, 12.0),
    st.floats(3.0, 10.0),
    st.floats(2.0, 10.0),
    st.floats(1.0, 3.0),
    st.booleans(),
    st.floats(0.0, 1.0),
)
def test_to_space_and_back(depth: float, run: float, t: float, radius: float, down: bool, share: float) -> None:
    run, radius = run * depth, radius * t
    assume(run > np.sqrt(2.0 * (2.0 * radius + t) * depth) + 1.0)
    shape = bent(-depth if down else depth, joggle(depth, run, Bend(0.0, radius, t, 0.8)), 400.0)
    xy = np.column_stack([np.linspace(1.0, 399.0, 80), np.full(80, 50.0)])
    place, _ = to_space(shape, xy, np.full(80, -share * t))
    back, z, _ = to_blank(shape, place, region_of(shape, xy))
    assert np.abs(back - xy).max() < 1e-9
    assert np.abs(z + share * t).max() < 1e-9


def test_the_side_that_is_set() -> None:
    face = rectangle(0.0, 0.0, 300.0, 100.0)
    start, end = np.array([200.0, 0.0]), np.array([200.0, 100.0])
    assert set_side(face, start, end, None) == -1.0  # less metal on the right of a line drawn upwards
    assert set_side(face, end, start, None) == 1.0
    assert set_side(face, start, end, np.array([290.0, 50.0])) == 1.0
    assert set_side(face, np.array([150.0, 0.0]), np.array([150.0, 100.0]), None) == 0.0
