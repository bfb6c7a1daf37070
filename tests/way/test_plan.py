"""The whole road on the demos: nothing lost, everything in one step, the counts add up."""

import math
from collections import Counter
from pathlib import Path

import pytest

from fabplan.model.plan import Plan
from fabplan.sheets.record import plan_record
from fabplan.way.plan import plan
from tests.kits.bowser import bowser


def test_every_piece_comes_in_once_and_every_rivet_is_driven_once(bowser_plan: Plan) -> None:
    assert bowser_plan.sequence is not None
    assert bowser_plan.stacks is not None
    steps = bowser_plan.sequence.steps
    dry = next(step.number for step in steps if step.kind == "dry-fit")
    erected = Counter(part for step in steps[:dry] for part in step.parts)
    assert set(erected.values()) == {1}
    assert len(erected) == len(bowser().pieces)  # the body as described in space
    driven = Counter(int(i) for step in steps for work in step.work for i in work.rivets)
    assert set(driven.values()) == {1}
    assert len(driven) == sum(len(seam.points) for seam in bowser().seams)
    assert len(bowser_plan.sequence.core.rivets) == 0


def test_a_rivet_is_driven_only_while_all_its_plies_stand(bowser_plan: Plan) -> None:
    assert bowser_plan.sequence is not None
    stacks = bowser_plan.stacks
    assert stacks is not None
    for step in bowser_plan.sequence.steps:
        for work in step.work:
            for i in work.rivets.tolist():
                plies = stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]].tolist()
                assert set(plies) <= set(step.present), (step.number, stacks.number[i])


def test_the_record_tells_which_service_bolts_come_out(bowser_plan: Plan) -> None:
    """Each bolt put in at the dry fit comes out once, as its rivet is driven."""
    steps = plan_record(bowser_plan)["steps"]
    out = [work["bolts_out"] for step in steps for work in step["work"]]
    assert sum(out) == len(bowser_plan.supply.bolted)
    assert all(
        0 <= bolts <= len(work["rivets"]) for step in steps for work in step["work"] for bolts in [work["bolts_out"]]
    )


def test_the_counts_add_up(bowser_plan: Plan) -> None:
    for account in bowser_plan.accounts:
        assert sum(count for _, count in account.shares) == account.total
    assert [str(finding.level) for finding in bowser_plan.findings].count("stop") == 0


@pytest.mark.parametrize(
    ("old", "new", "pieces", "lost"),
    [
        ("[[seam]]", "#", {"placed": 1, "not placed": 1}, 10),
        ('drawing = "P2.dxf"\nthickness = 6', 'drawing = "P2.dxf"', {"placed": 1, "without a known form": 1}, 10),
    ],
)
def test_holes_of_what_is_not_placed_are_counted(
    old: str, new: str, pieces: dict[str, int], lost: int, tmp_path: Path
) -> None:
    """Two plates with a row of 10 holes each; one loses its seam, or its thickness."""
    lap = Path(__file__).parents[2] / "examples" / "first-lap"
    text = (lap / "job.toml").read_text("utf-8")
    assert old in text
    head, _, tail = text.partition(old)
    text = head if old == "[[seam]]" else head + new + tail
    (tmp_path / "job.toml").write_text(text, "utf-8")
    for name in ("P1.dxf", "P2.dxf"):
        (tmp_path / name).write_bytes((lap / name).read_bytes())
    accounts = {one.what: one for one in plan(tmp_path / "job.toml").accounts}
    assert {what: count for what, count in accounts["pieces"].shares if count} == pieces
    holes = accounts["holes of all pieces"]
    assert (holes.total, dict(holes.shares)["of pieces not placed"]) == (20, lost)
    assert sum(count for _, count in holes.shares) == 20


def test_masses_of_the_floor_and_the_whole(bowser_plan: Plan) -> None:
    """Floor 2400 x 1200 x 6 less 194 holes of 11 mm, steel 7850 kg/m3 (EN 1991-1-1 gives 77 to 78.5 kN/m3)."""
    floor = next(line for line in bowser_plan.supply.plates if line.mark == "F1")
    assert floor.holes == 194
    expected = (2400.0 * 1200.0 - 194 * math.pi * 5.5**2) * 6.0 * 7.85e-6
    assert floor.mass_each == pytest.approx(expected, rel=1e-6)


def test_the_demo_is_as_large_as_a_tank(bowser_plan: Plan) -> None:
    assert bowser_plan.body is not None
    assert bowser_plan.stacks is not None
    assert len(bowser_plan.body.instances) >= 25
    assert len(bowser_plan.stacks) >= 1200
