"""Greatest pitch at a caulked edge, C t + 41.28 mm, C of laps 1.31, 2.62, 3.47, 4.17 (boiler practice in textbooks).

t 12: 1.31 x 12 + 41.28 = 57.00, then 72.72, 82.92, 91.32. The rule set rounds 41.28 up to 41.3.
"""

from typing import Any

import pytest

from tests.rules.plate import checks, findings, grid, plate

TIGHT, EN = "tight-seam", "en1993-1-8-2005"
ROUNDED = 0.021  # 41.3 less 41.28, and the two decimals of the table


@pytest.mark.parametrize(("lines", "published"), [(1, 57.00), (2, 72.72), (3, 82.92), (4, 91.32)])
def test_laps_in_12_mm_plate(lines: int, published: float) -> None:
    """Rivets of 24 mm, so that 4.5 d = 108 does not govern."""
    sizes: dict[str, Any] = {"tight": True, "rivet_diameter": 24.0, "hole": 25.0, "thinner_outer": 12.0}
    assert checks(plate(grid(6, published - 0.01, lines, 60.0), **sizes), TIGHT) == []
    (found,) = findings(plate(grid(6, published + 0.05, lines, 60.0), **sizes), TIGHT)
    assert found.check == "tight-pitch"
    assert found.required == pytest.approx(published, abs=ROUNDED)
    assert str(found.level) == "query"
    assert "from memory" in found.source


def test_half_inch_lap() -> None:
    """T 1/2 in: 1.31 / 2 + 1.625 = 2.28 in."""
    sizes: dict[str, Any] = {"tight": True, "rivet_diameter": 24.0, "hole": 25.0, "thinner_outer": 12.7}
    (found,) = findings(plate(grid(6, 70.0), **sizes), TIGHT)
    assert found.required is not None
    assert found.required / 25.4 == pytest.approx(2.28, abs=0.002)


def test_small_rivets_are_bound_by_their_diameter() -> None:
    """10 mm rivets in 5 mm plate: 4.5 x 10 = 45 is under 1.31 x 5 + 41.3 = 47.85."""
    sizes: dict[str, Any] = {"tight": True, "rivet_diameter": 10.0, "hole": 11.0, "thinner_outer": 5.0}
    assert checks(plate(grid(6, 45.0), **sizes), TIGHT) == []
    (found,) = findings(plate(grid(6, 45.01), **sizes), TIGHT)
    assert found.required == pytest.approx(45.0)


def test_structural_spacing_never_stands_in() -> None:
    """14 t = 70 mm passes the structural table and fails the tight seam; without `tight` nobody asks."""
    sizes: dict[str, Any] = {"rivet_diameter": 10.0, "hole": 11.0, "thinner_outer": 5.0}
    assert checks(plate(grid(6, 70.0), tight=True, **sizes), EN, TIGHT) == ["tight-pitch"]
    assert checks(plate(grid(6, 70.0), **sizes), EN, TIGHT) == []
