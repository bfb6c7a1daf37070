"""All lists together."""

import math
from dataclasses import replace

import pytest

from fabplan.rules.tables import read_tables
from fabplan.supply.count import count
from tests.supply.stacked import bar, body, job, plate, row_of_holes, stacks, two_plates

TABLES = read_tables()


def test_masses_add_up() -> None:
    kit = two_plates(40)
    supply, findings = count(job(), kit, stacks((12.0,) * 40), TABLES)
    assert findings == ()
    assert supply.rivet_mass == pytest.approx(40 * supply.rivets[0].mass_each)
    assert supply.total_mass == pytest.approx(2 * 10.0 + supply.rivet_mass)
    assert supply.rivet_line == (0,) * 40
    assert supply.seam_bolts == (("A", 20),)


def test_without_stacks_only_pieces_are_listed() -> None:
    supply, findings = count(job(), body(plate("P1", row_of_holes(3)), bar("A1", (20.0,))), None, TABLES)
    assert ([line.mark for line in supply.plates], [line.mark for line in supply.bars]) == (["P1"], ["A1"])
    assert (supply.rivets, supply.bolts, supply.rivet_line, findings) == ((), (), (), ())
    assert supply.total_mass == pytest.approx(18.9)


def test_a_mass_that_is_not_known_leaves_the_total_open() -> None:
    unknown = replace(plate("P1", row_of_holes(3)), mass=math.nan)
    assert math.isnan(count(job(), body(unknown), None, TABLES)[0].total_mass)


def test_same_input_same_lists() -> None:
    grips = tuple(10.0 + (i * 7) % 13 for i in range(50))
    first, second = (count(job(), two_plates(50), stacks(grips), TABLES) for _ in range(2))
    assert first == second
