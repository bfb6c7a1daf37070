"""The rivet order: lines, counts, queries, at their limits."""

import numpy as np
import pytest

from fabplan.model.checks import CHECKS
from fabplan.model.driven import driven
from fabplan.model.finding import Finding, Level
from fabplan.model.job import Job, Shop
from fabplan.model.joints import RivetSpec
from fabplan.model.supply import RivetLine
from fabplan.rules.tables import read_tables
from fabplan.supply.rivets import rivet_lines
from tests.supply.stacked import RIVET, body, job, plate, row_of_holes, stacks, two_plates, with_rivet

TABLES = read_tables()
Lines = tuple[tuple[RivetLine, ...], tuple[int, ...], tuple[Finding, ...]]


def ordered(grips: tuple[float, ...], rivet: RivetSpec = RIVET, hole: float = 11.0) -> Lines:
    run = stacks(grips, hole)
    return rivet_lines(job(rivet), run, driven(job(), two_plates(len(grips)), run), TABLES)


def names(findings: tuple[Finding, ...]) -> list[str]:
    assert all(finding.check in CHECKS for finding in findings)
    return [finding.check for finding in findings]


def test_a_seam_of_one_grip_is_one_line() -> None:
    # R10 hot in 11: 12 x 1.21 = 14.52, cap of 16 x 6.5 / 78.54 = 10.15, sum 24.67 x 1.03 = 25.41: 26 is stocked
    lines, line_of, findings = ordered((12.0,) * 40)
    (line,) = lines
    assert line_of == (0,) * 40
    assert (line.length, line.count, line.spares, line.head, line.standard) == (26.0, 40, 2, "round", "DIN 124")
    assert line.computed == pytest.approx(25.41, abs=0.01)
    assert (line.thumb, line.thumb_rule, line.grips, line.seams) == (27.0, "grip + 1.5 d", (12.0, 12.0), ("A",))
    # (797 + 78.54 x 26) mm3 x 7.85e-6 = 22.29 g
    assert line.mass_each == pytest.approx(0.02229, abs=1e-5)
    assert findings == ()


def test_grips_that_need_one_length_share_a_line() -> None:
    lines, line_of, _ = ordered((12.0, 12.2, 18.0))
    assert [line.length for line in lines] == [26.0, 34.0]
    assert line_of == (0, 0, 1)
    assert lines[0].grips == (12.0, 12.2)
    assert lines[0].thumb == pytest.approx(12.2 + 15.0)
    assert sum(line.count for line in lines) == 3


def test_near_lengths_are_noted_up_to_their_limit() -> None:
    # grips 12 and 13 need 26 and 28 mm (13 x 1.21 + 10.15 = 25.88 x 1.03 = 26.66): 2 apart
    _, _, findings = ordered((12.0, 13.0))
    assert names(findings) == ["near-lengths"]
    assert findings[0].level is Level.NOTE
    # 12 and 15 need 26 and 30 mm (15 x 1.21 + 10.15 = 28.30 x 1.03 = 29.15): 4 apart
    assert names(ordered((12.0, 15.0))[2]) == []


def test_near_lengths_at_three_millimetres() -> None:
    # DIN 660 8 cold in 8.4: 20 x 1.1025 + 8.502 = 30.55 -> 32; 22.5 -> 33.31 -> 35; stocked 3 apart
    rivet = with_rivet(diameter=8.0, hole=8.4, closing="cold")
    lines, _, findings = ordered((20.0, 22.5), rivet, 8.4)
    assert [line.length for line in lines] == [32.0, 35.0]
    assert names(findings) == ["near-lengths"]


@pytest.mark.parametrize(("apart", "asked"), [(-0.001, False), (0.0, False), (0.001, True)])
def test_length_is_asked_for_beyond_three_tenths_of_a_diameter(apart: float, asked: bool) -> None:
    # grip 8 in a hole of 11: volume gives (8 x 1.21 + cap 797.4 / 78.54) (1 + margin), thumb 23; the margin is set so
    # that they differ by 0.3 d + apart
    cap = np.pi * 6.5 / 6.0 * (3.0 * 8.0**2 + 6.5**2) / (np.pi * 25.0)
    margin = float((23.0 - 3.0 - apart) / (8.0 * 1.21 + cap) - 1.0)
    plain = job()
    asking = Job(plain.path, plain.drawings, rivets=plain.rivets, seams=plain.seams, shop=Shop(trial_margin=margin))
    run = stacks((8.0,))
    findings = rivet_lines(asking, run, driven(job(), two_plates(1), run), TABLES)[2]
    assert names(findings) == (["rivet-length"] if asked else [])


def test_no_stocked_length() -> None:
    lines, _, findings = ordered((80.0,))
    # 80 x 1.21 + 10.15 = 106.95 x 1.03 = 110.16, over the longest of 80: made to the next millimetre
    assert lines[0].length == 111.0
    assert "not a stocked length" in lines[0].note
    assert "no-stock-length" in names(findings)
    assert "from memory" in next(finding for finding in findings if finding.check == "no-stock-length").source


def test_no_head_table() -> None:
    lines, line_of, findings = ordered((12.0, 12.0), with_rivet(diameter=11.5))
    assert (lines, line_of, names(findings)) == ((), (-1, -1), ["no-head-table"])
    assert "2 rivets" in findings[0].what
    assert "10 or 12 mm" in findings[0].mend  # DIN 124


def test_an_inch_rivet_is_named_in_inches_with_the_nearest_of_the_tables() -> None:
    """12.7 mm is half an inch; DIN 124 has 12 and 14 mm."""
    (found,) = ordered((12.0,), with_rivet(diameter=12.7, hole=14.3))[2]
    assert "12.7 mm (1/2 in)" in found.what
    assert "12 or 14 mm" in found.mend


@pytest.mark.parametrize(
    ("stated", "head", "used"),
    [
        ("DIN 660", "round", "DIN 124"),  # DIN 660:2012 ends at 8 mm, DIN 124 begins at 10
        ("DIN 302", "round", "DIN 124"),  # DIN 302 is of countersunk heads
        ("DIN 124", "countersunk", "DIN 302"),
    ],
)
def test_a_standard_that_does_not_list_the_rivet_is_asked_for(stated: str, head: str, used: str) -> None:
    lines, _, findings = ordered((12.0,), with_rivet(standard=stated, head=head))
    assert lines[0].standard == used
    (found,) = (one for one in findings if one.check == "stated-standard")
    assert found.level is Level.QUERY
    assert found.what.startswith(f"rivet R10: {stated} lists no {head} head of 10 mm")
    assert used in found.what
    assert used in found.mend


@pytest.mark.parametrize("stated", ["", "DIN 124", "din124"])
def test_a_standard_that_lists_the_rivet_is_not(stated: str) -> None:
    assert names(ordered((12.0,), with_rivet(standard=stated))[2]) == []


def test_countersunk_points() -> None:
    lines, _, _ = ordered((12.0,), with_rivet(point="countersunk"))
    (line,) = lines
    assert (line.head, line.point, line.standard, line.thumb) == ("round", "countersunk", "DIN 124", 12.0 + 7.5)


def test_bolt_holes_and_unclaimed_stacks_take_no_rivet() -> None:
    bolted = body(plate("P1", row_of_holes(3, "bolt")), plate("P2", row_of_holes(3)))
    run = stacks((12.0,) * 3)
    assert driven(job(), bolted, run).tolist() == [False] * 3
    lost = stacks((12.0,) * 3, rivet=-1, seam=-1)
    assert rivet_lines(job(), lost, driven(job(), two_plates(3), lost), TABLES) == ((), (-1, -1, -1), ())
    none = stacks(())
    assert rivet_lines(job(), none, driven(job(), two_plates(1), none), TABLES) == ((), (), ())


@pytest.mark.parametrize(("percent", "spares"), [(0.0, 0), (5.0, 1), (10.0, 2), (10.1, 3)])
def test_spares_round_up(percent: float, spares: int) -> None:
    run = stacks((12.0,) * 20)
    plain = job()
    asked = Job(plain.path, plain.drawings, rivets=plain.rivets, seams=plain.seams, shop=Shop(spares_percent=percent))
    lines, _, _ = rivet_lines(asked, run, driven(job(), two_plates(20), run), TABLES)
    assert lines[0].spares == spares


def test_every_driven_rivet_is_in_the_order() -> None:
    grips = tuple(float(grip) for grip in np.random.default_rng(5).integers(8, 60, 500))
    lines, line_of, _ = ordered(grips)
    assert sum(line.count for line in lines) == 500
    for number, line in enumerate(lines):
        own = [grip for grip, of in zip(grips, line_of, strict=True) if of == number]
        assert line.count == len(own)
        assert line.grips == (min(own), max(own))
        assert line.length >= line.computed - 1e-6
