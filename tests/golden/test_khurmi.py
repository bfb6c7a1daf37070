"""Pitch of boiler seams in R. S. Khurmi and J. K. Gupta, Machine Design, examples 9.4 and 9.5; V. B. Bhandari's lap 1.

Greatest pitch at a caulked edge C t + 41.28 mm. The book rounds its limit up (65.57 to 66); a limit is never exceeded
here, so the pitch that the book drives is asked about. The rule set has 41.3 for 41.28.
"""

import pytest

from tests.rules.plate import checks, findings, grid, plate

ROUNDED = 0.021


def tight(pitch: float, lines: int, t: float, hole: float) -> list[str]:
    """A lap with rows far enough apart for any rule."""
    layout = plate(
        grid(6, pitch, lines, 60.0), tight=True, rivet_diameter=hole - 1.0, hole=hole, thinner_outer=t, thickest=t
    )
    return checks(layout, "tight-seam")


@pytest.mark.parametrize(
    ("lines", "t", "hole", "limit"),
    [
        (2, 13.0, 23.0, 75.34),  # 9.4: 2.62 x 13 + 41.28; printed 75.28, a misprint
        (3, 7.0, 19.0, 65.57),  # 9.5: 3.47 x 7 + 41.28
        (1, 6.0, 16.0, 49.14),  # 1.31 x 6 + 41.28; 4 d would let 64 pass
        (1, 12.0, 22.0, 57.00),  # 1.31 x 12 + 41.28; 4 d would let 88 pass
    ],
)
def test_greatest_pitch(lines: int, t: float, hole: float, limit: float) -> None:
    assert tight(limit, lines, t, hole) == []
    assert tight(limit + 2.0 * ROUNDED, lines, t, hole) == ["tight-pitch"]


def test_pitches_that_the_book_drives() -> None:
    """9.4 drives 71 mm, inside its 75.34; 9.5 drives 66, over its own 65.57."""
    assert tight(71.0, 2, 13.0, 23.0) == []
    assert tight(66.0, 3, 7.0, 19.0) == ["tight-pitch"]


def test_two_rivets_in_half_inch_plate() -> None:
    """2.62 / 2 + 1 5/8 = 2.935 in."""
    layout = plate(grid(6, 90.0, 2, 60.0), tight=True, rivet_diameter=24.0, hole=25.0, thinner_outer=12.7)
    (found,) = findings(layout, "tight-seam")
    assert (found.required or 0.0) / 25.4 == pytest.approx(2.935, abs=0.001)
