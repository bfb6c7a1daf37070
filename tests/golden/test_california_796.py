"""Single-riveted seams of the California Code of Regulations, Title 8, section 796, Table 1, in inches.

Held against the greatest pitch at a caulked edge, 1.31 t + 1 5/8 in, worked out in inches: 12 of the 14 published
pitches lie within it; those of 7/16 and 9/16 in plate lie 0.052 and 0.013 in over it, two practices that disagree.
"""

import pytest

from tests.rules.plate import checks, grid, plate

INCH = 25.4
ROWS = [  # t, hole, pitch, 1.31 t + 1.625
    (1 / 4, 11 / 16, 1 + 7 / 8, 1.953),
    (9 / 32, 3 / 4, 1 + 7 / 8, 1.993),
    (5 / 16, 3 / 4, 1 + 7 / 8, 2.034),
    (11 / 32, 13 / 16, 1 + 15 / 16, 2.075),
    (3 / 8, 13 / 16, 1 + 15 / 16, 2.116),
    (13 / 32, 7 / 8, 2 + 1 / 16, 2.157),
    (7 / 16, 15 / 16, 2 + 1 / 4, 2.198),
    (15 / 32, 15 / 16, 2 + 1 / 8, 2.239),
    (1 / 2, 1.0, 2 + 1 / 4, 2.280),
    (9 / 16, 1 + 1 / 16, 2 + 3 / 8, 2.362),
    (19 / 32, 1 + 1 / 16, 2 + 1 / 4, 2.403),
    (5 / 8, 1 + 1 / 16, 2 + 1 / 4, 2.444),
    (21 / 32, 1 + 1 / 8, 2 + 5 / 16, 2.485),
    (11 / 16, 1 + 1 / 8, 2 + 5 / 16, 2.526),
]
OVER = (7 / 16, 9 / 16)


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"t {row[0]:g}")
def test_published_pitches_at_a_caulked_edge(row: tuple[float, float, float, float]) -> None:
    t, hole, pitch, limit = row

    def asked(apart: float) -> bool:
        layout = plate(
            grid(6, apart * INCH),
            tight=True,
            rivet_diameter=(hole - 1 / 16) * INCH,
            hole=hole * INCH,
            thinner_outer=t * INCH,
        )
        return checks(layout, "tight-seam") == ["tight-pitch"]

    assert asked(pitch) == (t in OVER)
    assert not asked(limit - 0.001)
    assert asked(limit + 0.002)
