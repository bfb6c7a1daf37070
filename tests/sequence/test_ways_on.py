"""Ways on of the bowser's pieces, and of boxes whose answer is plain."""

from pathlib import Path

import pytest

from fabplan.model.plan import Plan
from fabplan.way.plan import plan

ROOT = Path(__file__).parents[2]


def test_pieces_that_do_not_come_on_straight_are_told(bowser_plan: Plan) -> None:
    """By the demo's sizes: surge plate 1196 wide between angles whose legs leave 1200 - 2 x 50, so it comes on turned.

    Corner angles stand between the legs of floor and top angles: off their corner first.
    """
    assert bowser_plan.sequence is not None
    lines = [line for step in bowser_plan.sequence.steps[:7] for line in step.checks]
    assert [line for line in lines if line.startswith("P1: comes on turned by 30 degrees about the upright axis")]
    assert [line for line in lines if "G1R" in line and "comes" in line] == []  # one with P1 after the bench alone
    after = [line for step in bowser_plan.sequence.steps[7:] for line in step.checks if "comes" in line]
    assert [line.partition(":")[0] for line in after] == ["P1, G1R, G1L"]
    corners = [line.split(":")[0] for line in lines if "off its seat first" in line]
    assert corners == ["C1", "C2", "C3", "C4"]
    assert not [one for one in bowser_plan.findings if one.check == "no-way-on"]


def test_a_stated_order_that_shuts_a_piece_out_is_told(tmp_path: Path) -> None:
    """Top on first, then the surge plate: its hatch of 620 mm lets no plate of 1196 x 880 pass."""
    text = (ROOT / "examples" / "bowser" / "job.toml").read_text("utf-8")
    text = text.replace('"../../drawings/bowser"', f'"{ROOT / "drawings" / "bowser"}"')
    loose = {"P1", "G1R", "G1L"}
    marks = ["A1R", "A1L", "A2", "A3", "S1", "S2", "S3", "S4", "E1", "E2", "B1", "B2", "C1", "C2", "C3", "C4"]
    first = [*marks, "D1R", "D1L", "D2", "D3", "T1", "H1"]
    steps = "".join(f"[[order]]\npieces = {pieces}\nseams = []\n" for pieces in (first, sorted(loose)))
    (tmp_path / "job.toml").write_text(f"{text}\n{steps}".replace("'", '"'), "utf-8")
    told = [one for one in plan(tmp_path / "job.toml").findings if "has no way on" in one.what]
    assert {one.check for one in told} == {"order-broken"}
    assert any(": P1 has no way on" in one.what for one in told)
    assert all(one.where.part in loose for one in told)


@pytest.mark.parametrize("mark", ["F1", "T1", "S1"])
def test_plates_of_the_skin_come_on_straight(bowser_plan: Plan, mark: str) -> None:
    assert bowser_plan.sequence is not None
    lines = [line for step in bowser_plan.sequence.steps for line in step.checks]
    assert not [line for line in lines if line.startswith(f"{mark}: comes")]
