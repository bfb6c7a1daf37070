"""Folded blanks that foul themselves or the punch: by the geometry of a channel, shapely as judge of the reach."""

from math import pi, radians

import numpy as np
import pytest
import shapely

from fabplan.geom.bend import Bend, neutral_factor
from fabplan.geom.beside import reach_beside
from fabplan.geom.forming import BendLine, form
from fabplan.geom.press import clear_order, fouled_folds, fouls_itself
from fabplan.geom.profile import rectangle

R, T = 6.0, 4.0
WIDTH = pi / 2.0 * (R + 0.7380 * T / 2.0)  # DIN 6935: k = 0.738


def channel(
    web: float, *flats: float, angles: tuple[float, ...] = (90.0, 90.0)
) -> tuple[shapely.Polygon, list[BendLine]]:
    """Flat stretches one after another, `web` first, folded between by the angles."""
    lines, x = [], web
    for k, (flat, angle) in enumerate(zip(flats, angles, strict=True)):
        bend = Bend(radians(angle), R, T, neutral_factor(R, T))
        middle = x + bend.width / 2.0
        lines.append(BendLine(f"F{k + 1}", np.array([middle, 0.0]), np.array([middle, 200.0]), bend))
        x += bend.width + flat
    return shapely.box(0.0, 0.0, x, 200.0), lines


@pytest.mark.parametrize(("low", "fouled"), [(80.0, False), (90.0, False), (110.0, True), (160.0, True)])
def test_a_flange_higher_than_the_web_is_wide_stands_in_the_way(low: float, fouled: bool) -> None:
    """The punch leans at 45 degrees over the web: a flange at its other end is met when it is higher than the web.

    Over the inside the web is 100 mm and both radii wide, the flange `low` and one radius high; the punch begins at the
    middle of the second bend, r (1 - cos 45) under the tangent: met when low + r > 100 + 2 r - 2 r (1 - cos 45).
    """
    face, lines = channel(low, 100.0, 60.0)
    assert fouled == (low + R > 100.0 + 2.0 * R - 2.0 * R * (1.0 - np.cos(pi / 4.0)))
    assert fouled_folds(face, T, tuple(lines)) == ([1] if fouled else [])


def test_another_order_keeps_clear() -> None:
    """A high flange beside a narrow web and a low one: the low one first, and the punch of the high one is clear."""
    face, lines = channel(160.0, 100.0, 60.0)
    assert clear_order(face, T, tuple(lines)) == (1, 0)
    face, lines = channel(160.0, 100.0, 160.0)
    assert clear_order(face, T, tuple(lines)) == ()


def test_folds_the_other_way_are_not_in_the_way() -> None:
    face, lines = channel(160.0, 100.0, 60.0, angles=(-90.0, 90.0))
    assert fouled_folds(face, T, tuple(lines)) == []
    face, lines = channel(160.0, 100.0, 60.0, angles=(-90.0, -90.0))
    assert fouled_folds(face, T, tuple(lines)) == [1]


def test_a_box_that_closes_over_itself() -> None:
    """Four folds: the last flange of 60 mm runs into the first wall when the walls are of unlike height."""
    face, lines = channel(100.0, 100.0, 100.0, 100.0, angles=(90.0, 90.0, 90.0))
    assert fouls_itself(form(face, T, lines)) is None
    face, lines = channel(100.0, 100.0, 60.0, 140.0, angles=(90.0, 90.0, 90.0))
    assert fouls_itself(form(face, T, lines)) is not None
    face, lines = channel(100.0, 100.0, 60.0, 140.0, angles=(90.0, 90.0, -90.0))
    assert fouls_itself(form(face, T, lines)) is None


def test_the_reach_beside_a_line_against_shapely() -> None:
    """A line at a slant across a rectangle: the reach to its edge is shapely's length of the same cut."""
    start, end = np.array([0.0, 80.0]), np.array([300.0, 120.0])
    at, reach = reach_beside(rectangle(0.0, 0.0, 300.0, 200.0), start, end)
    face = shapely.box(0.0, 0.0, 300.0, 200.0)
    along = (end - start) / np.hypot(*(end - start))
    for k in (0, 57, len(at) - 1):
        foot = start + at[k] * along
        for side, normal in enumerate(([-along[1], along[0]], [along[1], -along[0]])):
            ray = shapely.LineString([foot, foot + 1000.0 * np.array(normal)])
            assert reach[side, k] == pytest.approx(shapely.length(shapely.intersection(face, ray)), abs=1e-9)


def test_the_reach_ends_at_another_line() -> None:
    at, reach = reach_beside(
        rectangle(0.0, 0.0, 300.0, 200.0),
        np.array([0.0, 80.0]),
        np.array([300.0, 80.0]),
        [np.array([[0.0, 110.0], [300.0, 110.0]])],
    )
    assert len(at) > 100
    assert reach[0] == pytest.approx(np.full(len(at), 30.0))
    assert reach[1] == pytest.approx(np.full(len(at), 80.0))
