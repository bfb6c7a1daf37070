"""Countersunk rivets of DIN 302 (from memory): sink in a hole d + 1 and the shank that it takes, in mm.

Worked out from head diameter and angle: depth (D - d0) / (2 tan(angle / 2)); the cone outside the hole over the area of
the shank.
"""

import pytest

from fabplan.geom.heads import closing_volume, sink_depth
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import find_head
from fabplan.rules.tables import read_tables

# d, D, k, angle, hole, sink, extra shank
ROWS = [
    (12, 18.0, 4.0, 75, 13, 3.26, 1.66),
    (14, 21.5, 5.0, 75, 15, 4.24, 2.41),
    (16, 26.0, 6.5, 75, 17, 5.86, 4.12),
    (18, 30.0, 8.0, 75, 19, 7.17, 5.52),
    (20, 31.5, 10.0, 60, 21, 9.09, 5.85),
    (22, 34.5, 11.0, 60, 23, 9.96, 6.35),
    (24, 38.0, 12.0, 60, 25, 11.26, 7.45),
    (27, 42.0, 13.5, 60, 28, 12.12, 7.61),
    (30, 42.5, 15.0, 45, 31, 13.88, 6.18),
    (33, 46.5, 16.5, 45, 34, 15.09, 6.61),
    (36, 51.0, 18.0, 45, 37, 16.90, 7.61),
    (10, 14.5, 3.0, 75, 10.5, 2.61, 1.23),
]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"d {row[0]}")
def test_sink_and_extra_shank(row: tuple[float, ...]) -> None:
    d, diameter, height, angle, hole, depth, extra = row
    head = find_head(read_tables(), RivetSpec("R", float(d), float(hole)), "countersunk")
    assert head is not None
    assert (head.standard, head.head_diameter, head.head_height, head.angle) == ("DIN 302", diameter, height, angle)
    assert "from memory" in head.source
    assert sink_depth(head, hole) == pytest.approx(depth, abs=0.0051)
    assert closing_volume(head, hole) / (3.14159265 / 4.0 * d**2) == pytest.approx(extra, abs=0.0051)
