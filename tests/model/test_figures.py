"""Figures in words against plain rounding."""

import math
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal

from hypothesis import given
from hypothesis import strategies as st

from fabplan.model.figures import at_least, at_most, unlike

FIGURES = st.integers(0, 10**7).map(lambda n: n / 10**4)


@given(FIGURES, FIGURES)
def test_unlike_figures_look_unlike(value: float, limit: float) -> None:
    found, wanted = unlike(value, limit)
    assert (found != wanted) == (value != limit)
    assert float(found) == round(value, len(found.partition(".")[2]))


@given(FIGURES)
def test_a_limit_is_never_rounded_to_its_wrong_side(limit: float) -> None:
    exact, tenth = Decimal(repr(limit)), Decimal("0.1")
    assert Decimal(at_least(limit)) == exact.quantize(tenth, ROUND_CEILING)
    assert Decimal(at_most(limit)) == exact.quantize(tenth, ROUND_FLOOR)


def test_what_is_no_number_is_said_so() -> None:
    assert unlike(math.nan, 3.0) == ("nan", "3.00")
    assert at_least(math.inf) == "inf"
