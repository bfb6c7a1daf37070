"""Published holes for rivets, all within what the works takes without asking: over the rivet by 0.2 to 2.0 mm."""

import pytest

from tests.rules.plate import checks, grid, plate

# IS 1928:1961 boiler rivets, quoted by Khurmi and Gupta
IS_1928 = [(18, 19), (20, 21), (22, 23), (27, 28.5), (30, 31.5), (33, 34.5)]
# German steelwork practice, d + 1 from 12 mm
GERMAN = [(12, 13), (14, 15), (16, 17), (18, 19), (20, 21), (22, 23), (24, 25), (27, 28), (30, 31), (36, 37)]
# US and British structural and boiler practice: d + 1/16 in
SIXTEENTH = [(inch * 25.4, (inch + 1 / 16) * 25.4) for inch in (1 / 2, 5 / 8, 3 / 4, 7 / 8, 1.0)]


@pytest.mark.parametrize(("d", "hole"), [*IS_1928, *GERMAN, *SIXTEENTH])
def test_published_holes_suit_their_rivets(d: float, hole: float) -> None:
    assert checks(plate(grid(3, 200.0), rivet_diameter=d, hole=hole, thickest=d, grip=2.0 * d), "practice") == []


@pytest.mark.parametrize(("d", "hole", "found"), [(10, 10.1, 1), (10, 9.9, 1), (20, 22.1, 1), (8, 9.2, 0)])
def test_holes_beside_every_table_are_asked_about(d: float, hole: float, found: int) -> None:
    """1.15 d of a press maker (8 in 9.2) is looser than any plate table and still within d + 2."""
    layout = plate(grid(3, 200.0), rivet_diameter=d, hole=hole, thickest=d, grip=2.0 * d)
    assert checks(layout, "practice") == ["hole-for-rivet"] * found
