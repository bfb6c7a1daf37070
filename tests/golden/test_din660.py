"""Round and countersunk rivets: published masses of DIN 660 and DIN 661 per 1000 against head volume and shank."""

from math import pi

import pytest

from fabplan.geom.heads import cap_volume, head_volume, sink_depth
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import find_head
from fabplan.rules.tables import read_tables


@pytest.mark.parametrize(
    ("form", "d", "length", "published"),
    [
        ("round", 8.0, 10.0, 7.29),
        ("round", 8.0, 20.0, 11.2),
        ("round", 6.0, 20.0, 5.88),
        ("round", 5.0, 20.0, 3.88),
        ("countersunk", 8.0, 20.0, 9.36),
        ("countersunk", 6.0, 20.0, 5.07),
    ],
)
def test_published_masses_per_thousand(form: str, d: float, length: float, published: float) -> None:
    """Mass, kg per 1000 = (head + shank) mm3 x 7.85 g/cm3; a countersunk length is overall. Within 1 %: rounded."""
    tables = read_tables()
    head = find_head(tables, RivetSpec("R", d, d + 0.4, form, form, "cold"), form)
    assert head is not None
    shank = length - (head.head_height if form == "countersunk" else 0.0)
    mass = (head_volume(head) + shank * pi * d**2 / 4.0) * 7.85e-3
    assert mass == pytest.approx(published, rel=0.01)


@pytest.mark.parametrize(
    ("form", "heights"),
    [("round", (1.8, 2.1, 2.4, 3.0, 3.6, 4.2, 4.8)), ("countersunk", (1.4, 1.8, 2.0, 2.5, 3.0, 3.5, 4.0))],
)
def test_sizes_of_the_standards(form: str, heights: tuple[float, ...]) -> None:
    """D 5.2 to 14 for both; a page that gives D = 2.0 d (16 for 8) is contradicted by two others and by the masses."""
    wide = (5.2, 6.2, 7.0, 8.8, 10.5, 12.2, 14.0)
    for d, diameter, height in zip((3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0), wide, heights, strict=True):
        head = find_head(read_tables(), RivetSpec("R", d, d + 0.4, form, form, "cold"), form)
        assert head is not None
        assert (head.head_diameter, head.head_height) == (diameter, height)


@pytest.mark.parametrize(
    ("d", "volume"),
    [(10, 797), (12, 1284), (14, 2092), (16, 2978), (18, 4337), (20, 6378), (22, 8562), (24, 12198), (36, 36755)],
)
def test_din_124_volumes(d: int, volume: int) -> None:
    """Handbook column of head volumes, rounded to 1 mm3."""
    head = find_head(read_tables(), RivetSpec("R", float(d), d + 1.0), "round")
    assert head is not None
    assert head.standard == "DIN 124"
    assert "from memory" in head.source
    assert cap_volume(head.head_diameter, head.head_height) == pytest.approx(volume, abs=0.5)


@pytest.mark.parametrize(("d", "hole", "depth"), [(10, 11, 2.28), (12, 13, 3.26), (20, 21, 9.09), (30, 31, 13.88)])
def test_sink_depth(d: int, hole: float, depth: float) -> None:
    """(D - d0) / (2 tan(angle / 2)): (18 - 13) / (2 tan 37.5) = 3.258; (14.5 - 11) / (2 tan 37.5) = 2.281."""
    head = find_head(read_tables(), RivetSpec("R", float(d), hole), "countersunk")
    assert head is not None
    assert sink_depth(head, hole) == pytest.approx(depth, abs=0.006)
