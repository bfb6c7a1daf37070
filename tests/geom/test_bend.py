"""Bends in section: DIN 6935, rolling, and there and back."""

from math import degrees, pi, radians

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fabplan.geom.bend import Bend, allowance, curl, neutral_factor, rolled, uncurl


@pytest.mark.parametrize(
    ("s", "r", "beta", "k", "v"),
    [
        (4, 6, 90, 0.7380, -8.257),
        (3, 3, 90, 0.6500, -5.756),
        (2, 2.5, 90, 0.6985, -3.976),
        (6, 10, 90, 0.7609, -12.706),
        (8, 16, 90, 0.8005, -17.838),
        (10, 60, 90, 1.0, -37.898),
        (4, 6, 135, 0.7380, -2.413),
        (6, 10, 60, 0.7609, -6.275),
    ],
)
def test_din_6935(s: float, r: float, beta: float, k: float, v: float) -> None:
    """Factor k and value v by the formulae of DIN 6935; beta is the opening angle."""
    bend = Bend(radians(180.0 - beta), r, s, neutral_factor(r, s))
    assert bend.factor == pytest.approx(k, abs=5e-5)
    assert allowance(bend) == pytest.approx(v, abs=1e-3)


def test_too_sharp() -> None:
    with pytest.raises(ValueError, match="no neutral line"):
        neutral_factor(0.7, 4.0)


@pytest.mark.parametrize(("outside", "t", "length"), [(650.0, 10.0, 2010.62), (1012.0, 6.0, 3160.44)])
def test_rolled_to_a_ring(outside: float, t: float, length: float) -> None:
    """Length on the mean line, pi (D - t): plate rolling practice."""
    assert degrees(rolled(length, outside / 2.0 - t, t).angle) == pytest.approx(360.0, abs=1e-3)


def test_thickness_at_a_corner() -> None:
    """A plate of 8 mm round one of 6 mm drifts (t1 + t2) / 2 times the angle: 11.0 mm a quarter turn."""
    inner = Bend(pi / 2.0, 50.0, 6.0)
    outer = Bend(pi / 2.0, 56.0, 8.0)
    assert outer.width - inner.width == pytest.approx(11.0, abs=0.01)


bends = st.builds(
    Bend,
    st.floats(0.05, 3.1).flatmap(lambda a: st.sampled_from([a, -a])),
    st.floats(1.0, 800.0),
    st.floats(1.0, 30.0),
    st.floats(0.3, 1.0),
)


@given(bends, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_there_and_back(bend: Bend, share: float, depth: float) -> None:
    u, z = np.array([share * bend.width]), np.array([-depth * bend.thickness])
    x, height, _ = curl(bend, u, z)
    back_u, back_z = uncurl(bend, x, height)
    assert abs(back_u - u)[0] < 1e-9
    assert abs(back_z - z)[0] < 1e-9


@given(bends)
def test_the_neutral_line_keeps_its_length(bend: Bend) -> None:
    """Summed chord by chord in space, against the width on the blank."""
    u = np.linspace(0.0, bend.width, 20001)
    depth = bend.factor * bend.thickness / 2.0
    z = np.full_like(u, -depth if bend.angle > 0.0 else depth - bend.thickness)
    x, height, _ = curl(bend, u, z)
    assert np.hypot(np.diff(x), np.diff(height)).sum() == pytest.approx(bend.width, rel=1e-6)


def test_a_positive_angle_closes_towards_the_marked_face() -> None:
    x, height, turn = curl(Bend(pi / 2.0, 10.0, 6.0), np.array([13.0 * pi / 2.0]), np.array([0.0]))
    assert (x[0], height[0], turn[0]) == pytest.approx((10.0, 10.0, pi / 2.0))
