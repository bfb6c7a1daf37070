"""J. A. L. Waddell, De Pontibus, p. 165, with the 7/8 in rivets of that page: no countersunk rivet under 7/16 in plate.

The heads are those of DIN 302, d 22, 11 mm high, from memory; a head is never higher than its plate (common practice).
"""

import numpy as np
import pytest

from fabplan.model.finding import Level
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import find_head
from fabplan.rules.tables import read_tables
from tests.rules.plate import findings, grid, plate

INCH = 25.4


@pytest.mark.parametrize(("t", "level"), [(7 / 16, Level.QUERY), (3 / 8, Level.STOP)])
def test_countersunk_heads_in_thin_plate(t: float, level: Level) -> None:
    """11 mm in 11.1 mm goes through, and is asked about for being over two thirds; in 9.5 mm it does not."""
    head = find_head(read_tables(), RivetSpec("R", 22.0, 23.0), "countersunk")
    assert head is not None
    sunk = plate(
        grid(4, 100.0),
        rivet_diameter=22.0,
        hole=23.0,
        thickest=t * INCH,
        thickness=t * INCH,
        countersunk=np.ones(4, dtype=np.bool_),
        sink_depth=head.head_height,
    )
    found = findings(sunk, "practice")
    assert {one.check for one in found} == {"countersink-depth"}
    assert min(one.level for one in found) == level
