"""All lists together."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fabplan.body.parts import make_parts
from fabplan.model.body import Body
from fabplan.model.drawing import Drawing
from fabplan.model.driven import driven
from fabplan.model.holes import NO_HOLES
from fabplan.model.job import PartSpec
from fabplan.model.lookup import find_section
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


def test_masses_of_plate_and_angle_as_published() -> None:
    # plate 4 x 1000 x 2000 at 7850 kg/m3: 62.8 kg; angle 100x100x10 of EN 10056-1: 15.04 kg/m, 2.5 m
    drawing = replace(plate("P1", NO_HOLES).blank or Drawing("P1.dxf"), holes=NO_HOLES)
    specs = (
        PartSpec("P1", drawing="P1.dxf", thickness=4.0),
        PartSpec("A1", section="L100x100x10", length=2500.0, quantity=2),
    )
    kit = replace(job(), parts=specs)
    parts, instances = make_parts(kit, {"P1": drawing}, TABLES, lambda name: find_section(TABLES, name), lambda d: d)
    whole = Body(parts, instances, (None,) * 3, ("",) * 3, ("",) * 3)
    supply, _ = count(kit, whole, None, TABLES)
    assert supply.plates[0].mass_each == pytest.approx(62.8, abs=1e-6)
    assert supply.bars[0].mass_each == pytest.approx(15.04 * 2.5, abs=0.0125)
    assert supply.total_mass == pytest.approx(62.8 + 2 * 15.04 * 2.5, abs=0.025)


def test_bolt_holes_are_found_through_the_parts_of_repeated_pieces() -> None:
    first, second = plate("P1", row_of_holes(2)), plate("P2", row_of_holes(2, "bolt"))
    kit = body(first, second, quantity=2)  # pieces P1-1, P1-2, P2-1, P2-2
    run = replace(stacks((12.0,) * 4), ply_instance=np.array([0, 2, 1, 2, 2, 0, 3, 1]), ply_hole=np.array([0, 1] * 4))
    assert driven(job(), kit, run).tolist() == [True, True, False, False]


def test_same_input_same_lists() -> None:
    grips = tuple(10.0 + (i * 7) % 13 for i in range(50))
    first, second = (count(job(), two_plates(50), stacks(grips), TABLES) for _ in range(2))
    assert first == second
