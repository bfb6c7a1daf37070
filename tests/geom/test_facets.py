"""Facets of formed blanks: holes where the forming puts them, square to the round."""

from math import pi

import numpy as np
import pytest
import shapely

from fabplan.geom.bend import Bend, neutral_factor, rolled
from fabplan.geom.facets import facets
from fabplan.geom.forming import BendLine, form, to_space, whole_roll
from fabplan.geom.pose import to_outer


def test_holes_of_a_rolled_shell_stand_on_the_circle() -> None:
    """A half shell, 400 mm inside: holes at a pitch along the round and along the shell."""
    length = pi * 403.0
    face = shapely.box(0.0, 0.0, length, 600.0)
    formed = whole_roll(face, rolled(length, 400.0, 6.0), along_x=False)
    along = np.linspace(30.0, length - 30.0, 30)
    holes = np.vstack([np.column_stack([along, np.full(30, 20.0)]), [[30.0, y] for y in np.arange(60.0, 580.0, 40.0)]])
    found, owner, local = facets(formed, holes)
    place, normal = to_space(formed, holes, np.zeros(len(holes)))
    for hole in range(len(holes)):
        own = found[owner[hole]]
        assert shapely.contains_xy(own.face, *local[hole])
        assert to_outer(own.frame, np.array([*local[hole], 0.0])) == pytest.approx(place[hole], abs=0.02)
        assert own.frame.rotation[:, 2] == pytest.approx(normal[hole], abs=2e-3)
    assert sum(one.face.area for one in found) == pytest.approx(face.area)
    radii = np.hypot(*(np.array([one.frame.origin for one in found])[:, [0, 2]] - [0.0, 400.0]).T)
    assert radii == pytest.approx(np.full(len(found), 400.0))


@pytest.mark.parametrize("at", [(), (1.0,), (9.0, 630.0), (300.0,), (50.0, 81.0, 1200.0)])
def test_no_facet_leaves_the_round_by_more_than_a_tenth(at: tuple[float, ...]) -> None:
    """Of a chord that touches a circle the far end lies sqrt(r^2 + x^2) - r off it; wherever the lines of holes lie."""
    length = pi * 403.0
    formed = whole_roll(shapely.box(0.0, 0.0, length, 600.0), rolled(length, 400.0, 6.0), along_x=False)
    found, owner, _ = facets(formed, np.array([[x, 300.0] for x in at]).reshape(-1, 2))
    assert np.all(owner >= 0)
    reach = max(abs(x) for one in found for x in (one.face.bounds[0], one.face.bounds[2]))
    assert np.hypot(400.0, reach) - 400.0 <= 0.1 + 1e-3
    assert sum(one.face.area for one in found) == pytest.approx(600.0 * length)


def test_flats_keep_the_frame_of_the_blank() -> None:
    bend = Bend(pi / 2.0, 10.0, 6.0, neutral_factor(10.0, 6.0))
    line = BendLine("F", np.array([60.0, 0.0]), np.array([60.0, 100.0]), bend)
    formed = form(shapely.box(0.0, 0.0, 200.0, 100.0), 6.0, [line])
    holes = np.array([[20.0, 50.0], [150.0, 50.0]])
    found, owner, local = facets(formed, holes)
    assert [found[k].round for k in owner] == [False, False]
    assert local == pytest.approx(holes)
    assert any(one.round for one in found)
    place, _ = to_space(formed, holes, np.zeros(2))
    for hole in (0, 1):
        own = found[owner[hole]]
        assert to_outer(own.frame, np.array([*local[hole], 0.0])) == pytest.approx(place[hole])
