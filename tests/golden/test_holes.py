"""Published holes for rivets, all within what the works takes without asking: over the rivet by 0.2 to 2.0 mm."""

import pytest

from fabplan.model.finding import Level
from fabplan.rules.drawn import holes_as_stated
from tests.rules.plate import checks, findings, grid, plate

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


@pytest.mark.parametrize(
    ("stated", "drawn", "found"),
    [(12, 11, True), (14, 11, True), (11.05, 11, False), (11.06, 11, True), (11, 11.06, True), (11, 11, False)],
)
def test_a_drawn_hole_is_the_one_that_the_job_states(stated: float, drawn: float, found: bool) -> None:
    """Of 10 mm rivets in 11 mm holes, by what the job states; the tables take 10.2 to 12 without asking."""
    layout = plate(grid(3, 200.0), rivet_diameter=10.0, hole=drawn, thickest=10.0, stated_hole=stated)
    told = [one for one in findings(layout, "practice") if one.check == "hole-for-rivet"]
    assert [(one.measured, one.required) for one in told] == [(drawn, stated)] * found
    assert all(one.level is Level.STOP and len(one.where.holes) == 3 for one in told)


@pytest.mark.parametrize(("drawn", "found"), [(8.0, 0), (11.0, 0), (11.1, 1)])
def test_a_pilot_hole_is_smaller_than_the_stated_one_and_never_larger(drawn: float, found: int) -> None:
    layout = plate(grid(3, 200.0), rivet_diameter=10.0, hole=drawn, stated_hole=11.0, opened_later=1.0)
    assert len(list(holes_as_stated(layout))) == found


@pytest.mark.parametrize(("d", "stated", "drawn"), [(10.0, 11.0, 13.0), (12.0, 13.0, 11.0), (12.0, 13.0, 12.1)])
def test_the_stated_hole_is_the_one_remedy(d: float, stated: float, drawn: float) -> None:
    """Over any table, less than the rivet, under any table; the hole of the job is d + 1, as German practice has it."""
    layout = plate(grid(3, 200.0), rivet_diameter=d, hole=drawn, thickest=d, grip=2.0 * d, stated_hole=stated)
    (told,) = findings(layout, "practice")
    assert (told.check, str(told.level), told.required) == ("hole-for-rivet", "stop", stated)
    assert f"Draw the hole at {stated:g} mm" in told.mend


def test_the_tables_judge_a_hole_that_is_drawn_as_stated() -> None:
    """13 mm for a 10 mm rivet, drawn and stated: over the largest clearance of IS 800:1984, 2.0 mm."""
    layout = plate(grid(3, 200.0), rivet_diameter=10.0, hole=13.0, thickest=10.0, stated_hole=13.0)
    (told,) = findings(layout, "practice")
    assert (told.check, str(told.level), told.mend) == ("hole-for-rivet", "query", "Draw the hole at 12.0 mm or less.")


def test_a_pilot_hole_is_judged_as_opened() -> None:
    """6 mm for a 10 mm rivet, opened to 11 when the body stands."""
    layout = plate(grid(3, 200.0), rivet_diameter=10.0, hole=6.0, thickest=10.0, stated_hole=11.0, opened_later=1.0)
    assert findings(layout, "practice") == ()
