"""Room beside a rivet for the special dolly, US detailing text of 1912: half the head and 1/4 in to the standing leg.

Head diameters D of DIN 660 (8 mm) and DIN 124 (from memory), D / 2 + 6.35 as worked out for metric heads.
"""

import numpy as np
import pytest

from fabplan.geom.envelope import Rods, metal, rods_hit
from fabplan.geom.prism import Solid, solid
from fabplan.geom.profile import rectangle
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import find_head
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose
from fabplan.rules.tables import read_tables

STANDING = Pose(np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]]), np.zeros(3))
"""A leg whose marked face stands upright at y = 0, its metal behind, in y from 0 to t."""


def standing_leg(height: float, t: float) -> Solid:
    return solid(Panel("flat", rectangle(-200.0, 0.0, 200.0, height), t), STANDING)


def nose_hits(d: float, closing: str, apart: float) -> bool:
    """True where the nose of the special dolly, `apart` mm before the face of a standing leg, meets it."""
    tables = read_tables()
    head = find_head(tables, RivetSpec("R", d, d + 1.0, closing=closing), "round")
    dolly = next(tool for tool in tables.tools if tool.name == "special dolly")
    assert head is not None
    radius = (head.head_diameter + dolly.nose_over_head) / 2.0
    start = np.array([[0.0, -apart, 0.0]])
    up, length = np.array([[0.0, 0.0, 1.0]]), np.array([dolly.nose_length])
    nose = Rods(start, up, length, np.array([radius]), np.zeros((1, 3)))
    one = np.zeros(1, dtype=np.int64)
    return len(rods_hit(metal([standing_leg(60.0, 6.0)]), one, nose, one)) > 0


@pytest.mark.parametrize(
    ("d", "room"),
    [
        (8, 13.35),
        (10, 14.35),
        (12, 15.85),
        (14, 17.35),
        (16, 18.85),
        (18, 20.35),
        (20, 22.35),
        (22, 24.35),
        (24, 26.35),
        (27, 27.85),
        (30, 30.35),
        (33, 32.85),
        (36, 35.35),
    ],
)
def test_least_room_for_the_special_dolly(d: float, room: float) -> None:
    closing = "cold" if d == 8 else "hot"
    assert not nose_hits(float(d), closing, room + 0.01)
    assert nose_hits(float(d), closing, room - 0.01)


@pytest.mark.parametrize(("back_mark", "t", "d", "closing"), [(30.0, 5.0, 12.0, "hot"), (17.0, 3.0, 8.0, "cold")])
def test_rivets_in_angles_at_their_back_marks(back_mark: float, t: float, d: float, closing: str) -> None:
    """L50x50x5 with rivets of 12 at 30: 25 mm to the face; L30x30x3 with 8 at 17: 14.0 over 13.35, both drivable."""
    assert not nose_hits(d, closing, back_mark - t)


@pytest.mark.parametrize(
    ("d", "least", "ordinary"),
    [(8, 13.3, 15.7), (10, 14.3, 17.0), (12, 15.8, 19.0), (16, 18.9, 23.0), (20, 22.4, 27.7), (24, 26.4, 33.0)],
)
def test_the_rule_applied_to_metric_heads(d: float, least: float, ordinary: float) -> None:
    """Half the head and 1/4 inch, ordinarily two thirds of it and 1/4 inch; worked out by hand for DIN heads."""
    tables = read_tables()
    head = find_head(tables, RivetSpec("R", d, d + 1.0, closing="cold" if d == 8 else "hot"), "round")
    assert head is not None
    for share, room in ((tables.near.least, least), (tables.near.ordinary, ordinary)):
        assert share * head.head_diameter + tables.near.plus == pytest.approx(room, abs=0.051)
