"""Classical proportions against the pages that print them: detailing tables, Waddell, Rose, Lineham. Inches x 25.4."""

from typing import Any

import numpy as np
import pytest

from fabplan.geom.profile import rectangle
from fabplan.rules.measure import between_rows, lines_of
from tests.rules.plate import checks, grid, plate

INCH = 25.4
CLASSICAL = "classical"


@pytest.mark.parametrize(
    ("d", "s", "passes"),
    [(7 / 8, 2.0, True), (7 / 8, 1 + 7 / 8, False), (3 / 4, 1.5, True), (3 / 4, 1 + 3 / 8, False)],
)
def test_staggered_rivets_at_a_gauge_of_one_and_three_quarters(d: float, s: float, passes: bool) -> None:
    """Cyclopedia of Architecture, Carpentry and Building, part 4: at 3 d of slant, 7/8 in rivets need s = 2 in.

    sqrt(1.75^2 + 2^2) = 2.658 over 2.625; with 1 7/8: 2.565 under it. 3/4 in: 1 1/2 gives 2.305 over 2.25,
    1 3/8 gives 2.226 under it.
    """
    layout = plate(grid(6, 2.0 * s * INCH, 2, 1.75 * INCH, s * INCH), rivet_diameter=d * INCH, hole=d * INCH + 1.5)
    assert checks(layout, CLASSICAL) == ([] if passes else ["stagger-diagonal"])


@pytest.mark.parametrize(("plate_t", "expected"), [(7 / 8, []), (15 / 16, ["diameter-for-thickness"])])
def test_no_rivet_thinner_than_the_thickest_plate(plate_t: float, expected: list[str]) -> None:
    """J. A. L. Waddell, De Pontibus, p. 165, with the 7/8 in rivets of that page."""
    layout = plate(grid(4, 100.0), rivet_diameter=7 / 8 * INCH, hole=15 / 16 * INCH, thickest=plate_t * INCH)
    assert checks(layout, "practice") == expected


def test_zigzag_rows_of_rose() -> None:
    """J. Rose, Modern Machine-Shop Practice: p = 3 in, d = 7/8 in: slant (6 p + 4 d) / 10 = 2.15 in as printed.

    The rows stand sqrt((11 p + 4 d)(p + 4 d)) / 10 = sqrt(36.5 x 6.5) / 10 = 1.5403 in apart.
    """
    apart = np.sqrt((11 * 3.0 + 4 * 0.875) * (3.0 + 4 * 0.875)) / 10.0
    layout = plate(grid(6, 3.0 * INCH, 2, apart * INCH, 1.5 * INCH))
    rows, slants = between_rows(layout, lines_of(layout))
    assert rows.staggered.all()
    assert slants.value / INCH == pytest.approx(2.15, abs=1e-9)
    assert rows.value / INCH == pytest.approx(1.5403, abs=5e-5)


@pytest.mark.parametrize(("p", "d"), [(2.0, 0.75), (3.0, 0.875), (4.0, 1.0), (2.5, 0.5)])
def test_both_rules_of_rose_are_one(p: float, d: float) -> None:
    """Slant^2 = apart^2 + (p / 2)^2 for every pitch and rivet, as measured on the plate."""
    apart = np.sqrt((11 * p + 4 * d) * (p + 4 * d)) / 10.0
    layout = plate(grid(6, p * INCH, 2, apart * INCH, p / 2 * INCH))
    slants = between_rows(layout, lines_of(layout))[1]
    assert slants.value / INCH == pytest.approx((6 * p + 4 * d) / 10.0, abs=1e-9)


@pytest.mark.parametrize(("short", "expected"), [(0.0, []), (0.02, ["least-edge-distance"])])
def test_lap_of_three_diameters(short: float, expected: list[str]) -> None:
    """Lineham, A Text-book of Mechanical Engineering, p. 407: a single-riveted lap is 3 d wide."""
    d = 20.0
    lap = rectangle(-200.0, -(1.5 * d - short), 1000.0, 1.5 * d - short)
    assert checks(plate(grid(5, 80.0), outline=lap), CLASSICAL) == expected


def test_girder_pitch() -> None:
    """Cyclopedia, vol. 5: 3 d at least, 16 t of the thinnest plate at most: 7/8 in rivets in 3/8 in plate."""
    sizes: dict[str, Any] = {"rivet_diameter": 7 / 8 * INCH, "hole": 15 / 16 * INCH, "thinner_outer": 3 / 8 * INCH}
    assert checks(plate(grid(5, 2.625 * INCH), **sizes), CLASSICAL) == []
    assert checks(plate(grid(5, 2.6 * INCH), **sizes), CLASSICAL) == ["least-pitch"]
    assert checks(plate(grid(5, 6.0 * INCH), **sizes), CLASSICAL) == []
    assert checks(plate(grid(5, 6.05 * INCH), **sizes), CLASSICAL) == ["greatest-pitch"]


@pytest.mark.parametrize(("apart", "expected"), [(1.75, []), (1.74, ["least-row-distance"])])
def test_chain_rows_of_rose(apart: float, expected: list[str]) -> None:
    """J. Rose: chain rows stand 2 d apart at least: 1.75 in for 7/8 in rivets, what the Indian boiler rules ask too."""
    layout = plate(grid(6, 3.0 * INCH, 2, apart * INCH), rivet_diameter=7 / 8 * INCH, hole=15 / 16 * INCH)
    assert checks(layout, CLASSICAL) == expected
