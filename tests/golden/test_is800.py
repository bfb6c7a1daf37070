"""IS 800:2007 clause 10.2, as an examination answer applies it, and the hole tables of IS 800:1984 and IS 1929."""

import pytest

from fabplan.geom.profile import rectangle
from tests.rules.plate import checks, findings, grid, plate

IS = "is800-2007"


def across(width: float, count: int, pitch: float) -> list[str]:
    """Rivets of 20 mm in 22 mm holes in one row across a plate of this width, the row in its middle."""
    edge = (width - (count - 1) * pitch) / 2.0
    outline = rectangle(-edge, -60.0, width - edge, 60.0)
    return checks(plate(grid(count, pitch), outline=outline, thinner_outer=12.0), IS)


def test_rivets_in_a_row_of_140_mm() -> None:
    """E = 1.5 x 22 = 33, p = 2.5 x 20 = 50: (140 - 66) / 50 + 1 = 2.48, so two go in and three do not."""
    assert across(140.0, 2, 74.0) == []
    assert across(140.0, 3, 37.0) == ["least-pitch"]
    assert across(140.0, 3, 50.0) == ["least-end-distance"]
    assert across(166.0, 3, 50.0) == []


def test_least_pitch_counts_in_nominal_diameters() -> None:
    """24 mm rivets in 25.5 mm holes: 2.5 x 24 = 60 by the code of 2007; 63.75 by that of 1984, which took the hole.

    The worked joint of IS 800:1984 stands at 71.4 and 75 mm.
    """

    def spaced(pitch: float) -> list[str]:
        return checks(plate(grid(4, pitch), rivet_diameter=24.0, hole=25.5, thinner_outer=12.0), IS)

    assert spaced(60.0) == spaced(71.4) == spaced(75.0) == []
    assert spaced(59.99) == ["least-pitch"]


def test_sheared_edges_need_more() -> None:
    """1.7 x 22 = 37.4 for a sheared edge, 1.5 x 22 = 33 for a machine-cut one."""
    outline = rectangle(-200.0, -35.0, 400.0, 200.0)
    assert checks(plate(grid(4, 60.0), outline=outline, edge="machine"), IS) == []
    (found,) = findings(plate(grid(4, 60.0), outline=outline, edge="sheared"), IS)
    assert found.check == "least-edge-distance"
    assert found.required == pytest.approx(37.4)
    assert "from memory" in found.source


@pytest.mark.parametrize(("d", "hole"), [(18, 19.5), (20, 21.5), (22, 23.5), (24, 25.5), (27, 29.0)])
def test_holes_of_the_tables_suit_their_rivets(d: float, hole: float) -> None:
    """IS 800:1984: d + 1.5 up to 25 mm, d + 2.0 above."""
    assert checks(plate(grid(3, 200.0), rivet_diameter=d, hole=hole), "practice") == []


@pytest.mark.parametrize(("d", "hole"), [(3, 3.2), (4, 4.3), (5, 5.3), (6, 6.4), (8, 8.4), (10, 10.5), (10, 11)])
def test_holes_of_small_rivets(d: float, hole: float) -> None:
    """Hole practice for DIN 660 rivets driven cold, and 10 mm rivets in 10.5 or 11 mm holes."""
    layout = plate(grid(3, 200.0), rivet_diameter=d, hole=hole, thickest=d, grip=2.0 * d)
    assert checks(layout, "practice") == []
