"""Shank beyond the grip by volume alone, over all diameters of DIN 124 and DIN 302 (heads from memory).

Worked out from the heads' volumes in holes d + 1, 10.5 for 10 mm: 1.08 to 1.25 d at a grip of 1.5 d and 1.17 to 1.47 d
at 3 d under round heads, 0.28 to 0.48 d at 1.5 d in countersinks. The trade's rule is 1.5 d and 0.75 d.
"""

import numpy as np
import pytest

from fabplan.model.arrays import FloatArray
from fabplan.model.tables import HeadForm
from fabplan.rules.tables import read_tables
from fabplan.supply.length import by_volume


def allowances(standard: str, grip: float) -> FloatArray:
    """Shank beyond a grip of so many diameters, in diameters."""
    heads = [head for head in read_tables().heads if head.standard == standard]
    holes = [10.5 if head.d == 10.0 else head.d + 1.0 for head in heads]
    snaps = [HeadForm("BS 275", "round", head.d, 1.6 * head.d, 0.7 * head.d, 0.0, "BS 275:1927") for head in heads]
    return np.array(
        [
            by_volume(snap, head, grip * head.d, hole, 0.0) / head.d - grip
            for snap, head, hole in zip(snaps, heads, holes, strict=True)
        ]
    )


@pytest.mark.parametrize(
    ("standard", "grip", "least", "greatest"),
    [("DIN 124", 1.5, 1.08, 1.25), ("DIN 124", 3.0, 1.17, 1.47), ("DIN 302", 1.5, 0.28, 0.48)],
)
def test_range_over_all_diameters(standard: str, grip: float, least: float, greatest: float) -> None:
    found = allowances(standard, grip)
    assert len(found) == 12
    assert found.min() == pytest.approx(least, abs=0.0051)
    assert found.max() == pytest.approx(greatest, abs=0.0051)
