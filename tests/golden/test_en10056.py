"""Equal angles of EN 10056-1: published masses per metre."""

import pytest

from fabplan.errors import RuleDataError
from fabplan.model.lookup import find_section
from fabplan.rules.tables import read_tables


@pytest.mark.parametrize(
    ("name", "mass"),
    [("L50x50x5", 3.77), ("l 60 x 60 x 6", 5.42), ("L 80x80x8", 9.63), ("L100x100x10", 15.04), ("L30x30x3", 1.36)],
)
def test_published_masses(name: str, mass: float) -> None:
    """kg/m, printed to two places."""
    assert find_section(read_tables(), name).mass == pytest.approx(mass, abs=0.0051)


@pytest.mark.parametrize(("name", "mass"), [("FL30x5", 1.178), ("fl 40 X 6", 1.884), ("FL100x12", 9.420)])
def test_flats(name: str, mass: float) -> None:
    """0.00785 b t kg/m, EN 10058 sizes."""
    section = find_section(read_tables(), name)
    assert section.kind == "flat"
    assert section.mass == pytest.approx(mass, abs=0.0006)


def test_unknown_section_names_the_nearest() -> None:
    with pytest.raises(RuleDataError, match="L50x50x5"):
        find_section(read_tables(), "L50x50x55")
