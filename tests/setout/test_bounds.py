"""The limits that a seam is laid by, against published tables, typed from them.

EN 1993-1-8:2005, clause 3.5, Table 3.3: p1 2.2 d0 to the smaller of 14 t and 200 mm, p2 2.4 d0 (staggered 1.2 d0, slant
2.4 d0), e1 and e2 1.2 d0, exposed to 4 t + 40 mm. IS 800:2007, 10.2: 2.5 d; 16 t tension, 12 t compression; edges
1.7 d0 sheared, 1.5 d0 machine cut. C t + 41.28 mm of caulked laps: Indian Boiler Regulations as two textbooks use them,
57.00 and 72.72 mm for t = 12 with one and two rivets in a pitch.
"""

from dataclasses import replace
from math import sqrt

import pytest

from fabplan.model.setout import SeamCase
from fabplan.rules.bounds import bounds
from fabplan.rules.sets import read_rule_set
from fabplan.setout.limits import Limits, back_pitch

PLAIN = SeamCase(12.0, 13.0, 5.0, 5.0, False, "", True, False, 1, False, True)
TABLE = [  # d0, t, p1 least, p2 least, p2 staggered, e least, p1 greatest, e greatest exposed
    (13.0, 5.0, 28.6, 31.2, 15.6, 15.6, 70.0, 60.0),
    (13.0, 6.0, 28.6, 31.2, 15.6, 15.6, 84.0, 64.0),
    (22.0, 10.0, 48.4, 52.8, 26.4, 26.4, 140.0, 80.0),
    (22.0, 16.0, 48.4, 52.8, 26.4, 26.4, 200.0, 104.0),
]


def limits(case: SeamCase, *names: str) -> Limits:
    return Limits(bounds([read_rule_set(name) for name in names], case), case)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"d0 {row[0]:g} t {row[1]:g}")
def test_en_1993_1_8_table_3_3(row: tuple[float, ...]) -> None:
    hole, outer, *wanted = row
    case = replace(PLAIN, rivet=hole - 1.0, hole=hole, outer=outer, thickest=outer)
    one, two = (limits(replace(case, lines=2, staggered=zigzag), "en1993-1-8-2005") for zigzag in (False, True))
    found = [
        one.least("pitch"),
        one.least("row distance"),
        two.least("row distance"),
        one.least("edge distance"),
        one.greatest("pitch"),
        one.greatest("edge distance"),
    ]
    assert found == pytest.approx(wanted)
    assert (one.least("end distance"), one.greatest("end distance")) == pytest.approx((wanted[3], wanted[5]))
    assert two.least("diagonal") == pytest.approx(2.4 * hole)
    assert one.greatest("row distance") == pytest.approx(wanted[4])


def test_sheltered_tension_has_no_greatest() -> None:
    """Table 3.3, notes: maxima hold for compression, and for exposed tension members."""
    sheltered = limits(replace(PLAIN, load="tension", exposed=False), "en1993-1-8-2005")
    assert (sheltered.greatest("pitch"), sheltered.greatest("end distance")) == (float("inf"), float("inf"))


@pytest.mark.parametrize(("sheared", "edge"), [(True, 1.7 * 22.0), (False, 33.0)])
def test_is_800(sheared: bool, edge: float) -> None:
    """D 20 in 22, t 10: pitch from 50 mm; 160 mm tension, 120 mm compression; 33 mm machine-cut edge, 37.4 sheared."""
    case = replace(PLAIN, rivet=20.0, hole=22.0, outer=10.0, thickest=10.0, sheared=sheared, load="tension")
    tension, pushed = (limits(replace(case, load=load), "is800-2007") for load in ("tension", "compression"))
    assert tension.least("pitch") == pytest.approx(50.0)
    assert (tension.greatest("pitch"), pushed.greatest("pitch")) == pytest.approx((min(160.0, 140.0), 120.0))
    assert tension.least("edge distance") == pytest.approx(edge)


@pytest.mark.parametrize(("lines", "greatest"), [(1, 57.0), (2, 72.72)])
def test_caulked_laps(lines: int, greatest: float) -> None:
    """T = 12: 57.00 and 72.72 mm; a rivet of 22 mm keeps 4.5 d = 99 mm out of it."""
    case = replace(PLAIN, rivet=22.0, hole=23.0, outer=12.0, thickest=12.0, tight=True, lines=lines)
    assert limits(case, "tight-seam").greatest("pitch") == pytest.approx(greatest, abs=0.05)


def test_structural_spacing_never_stands_in_for_tightness() -> None:
    """4.5 d of ship practice (from memory) is under 14 t: 10 mm rivets in 6 mm plate, 45 and not 84 mm."""
    case = replace(PLAIN, rivet=10.0, hole=11.0, outer=6.0, thickest=6.0, tight=True)
    assert limits(case, "en1993-1-8-2005", "tight-seam").greatest("pitch") == pytest.approx(45.0)
    assert limits(replace(case, tight=False), "en1993-1-8-2005", "tight-seam").greatest("pitch") == pytest.approx(84.0)


@pytest.mark.parametrize(
    ("zigzag", "pitch", "least", "words"),
    [
        (False, 60.0, 2.4 * 22.0, "2.4 d0"),
        (True, 60.0, sqrt(52.8**2 - 30.0**2), "slant 2.4 d0"),
        (True, 90.0, 0.33 * 90.0 + 0.67 * 22.0, "reg. 184, eqn 12"),
    ],
)
def test_rows_apart(zigzag: bool, pitch: float, least: float, words: str) -> None:
    """EN's 2.4 d0 between chain rows and on the slant; zigzag 0.33 P + 0.67 D by the Indian Boiler Regulations."""
    case = replace(PLAIN, rivet=20.0, hole=22.0, outer=10.0, thickest=10.0, lines=2, staggered=zigzag)
    apart, whose = back_pitch(limits(case, "en1993-1-8-2005"), pitch)
    assert least <= apart < least + 1.0
    assert words in whose


def test_chain_rows_where_no_code_speaks() -> None:
    """Reg. 184, eqn 13: 2 D = 44 mm, over the 2 d = 40 mm of classical practice."""
    case = replace(PLAIN, rivet=20.0, hole=22.0, outer=10.0, thickest=10.0, lines=2)
    apart, whose = back_pitch(limits(case, "classical"), 60.0)
    assert (apart, "eqn 13" in whose) == (44.0, True)
