"""The foreman's own order on the bowser: the tool's order given back breaks nothing; one swapped step does."""

from collections.abc import Callable
from pathlib import Path

import pytest

from fabplan.errors import JobError
from fabplan.job.read import read_job
from fabplan.model.plan import Plan
from fabplan.way.plan import plan

ROOT = Path(__file__).parents[2]
Given = Callable[[list[tuple[list[str], list[str]]]], Plan]
TOP = {"T1", "H1"}
LOOSE = {"P1", "G1R", "G1L"}


@pytest.fixture(scope="module")
def own() -> Plan:
    return plan(ROOT / "examples" / "bowser" / "job.toml")


@pytest.fixture
def given(tmp_path: Path) -> Given:
    """The plan of the bowser with an order: pieces and seams of each step."""

    def make(order: list[tuple[list[str], list[str]]]) -> Plan:
        text = (ROOT / "examples" / "bowser" / "job.toml").read_text("utf-8")
        text = text.replace('"../../drawings/bowser"', f'"{ROOT / "drawings" / "bowser"}"')
        steps = "".join(f"[[order]]\npieces = {pieces}\nseams = {seams}\n" for pieces, seams in order)
        (tmp_path / "job.toml").write_text(f"{text}\n{steps}".replace("'", '"'), "utf-8")
        return plan(tmp_path / "job.toml")

    return make


def steps_of(own: Plan) -> list[tuple[list[str], list[str]]]:
    """The bowser open, then its loose pieces, then its top, each with the seams that the tool drives then."""
    assert own.body is not None
    assert own.sequence is not None
    marks = [one.mark for one in own.body.instances]
    groups = [[mark for mark in marks if mark not in TOP | LOOSE], sorted(LOOSE), sorted(TOP)]
    standing = [set(marks) - TOP - LOOSE, set(marks) - TOP, set(marks)]
    seams: list[list[str]] = [[], [], []]
    for step in own.sequence.steps:
        present = {marks[i] for i in step.present}
        for run in step.work:
            number = next(k for k, pieces in enumerate(standing) if present <= pieces)
            seams[number].append(own.job.seams[run.seam].mark)
    return [(pieces, list(dict.fromkeys(names))) for pieces, names in zip(groups, seams, strict=True)]


def test_what_is_turned_back_is_what_stood_before_pieces_come_in(own: Plan, given: Given) -> None:
    """The floor riveted upside down, then the walls: the hoist of 250 kg turns the floor back, not floor and walls.

    Floor 2400 x 1200 x 6 at 7.85e-6 kg/mm3 is 135.6 kg, less 194 holes of 11 mm, 0.9 kg; 7,024 mm of L40x40x6 at
    3.52 kg/m (DIN 1028) 24.7 kg, less as many holes and 190 in the other legs, 1.7 kg; 194 rivets of some 25 g 5 kg.
    """
    floor, seams = ["F1", "A1R", "A1L", "A2", "A3"], ["As", "An", "Aw", "Ae"]
    pieces, others = steps_of(own)[0]
    walls = [mark for mark in pieces if mark not in floor], [mark for mark in others if mark not in seams]
    made = given([(floor, seams), walls, *steps_of(own)[1:]])
    assert made.sequence is not None
    turned = [step for step in made.sequence.steps if step.lie is not None and step.lie.turned]
    assert [step.kind for step in turned] == ["rivet", "close"]
    back = turned[1].lifts[0]
    assert back.what == "what stands, turned over: as drawn"
    assert back.mass == pytest.approx(135.6 - 0.9 + 24.7 - 1.7 + 5.0, abs=3.0)
    assert made.body is not None
    assert {made.body.instances[i].mark for i in back.pieces} == set(floor)


def test_the_tools_own_order_given_back_breaks_nothing(own: Plan, given: Given) -> None:
    made = given(steps_of(own))
    assert {finding.check for finding in made.findings} & {"order-broken", "order-incomplete", "no-way-on"} == set()
    assert made.sequence is not None
    assert [step.title for step in made.sequence.steps if "closing" in step.title] == ["Fit the closing pieces T1, H1"]
    driven = [rivet for step in made.sequence.steps for run in step.work for rivet in run.rivets.tolist()]
    assert made.stacks is not None
    assert sorted(driven) == list(range(len(made.stacks)))


def test_a_top_put_on_too_early_is_told_with_what_it_shuts_off(own: Plan, given: Given) -> None:
    """The swapped order rivets top and baffles in one another's step: the baffles' seams wait for pieces not there."""
    body, loose, top = steps_of(own)
    made = given([body, (top[0], loose[1]), (loose[0], top[1])])
    broken = [finding for finding in made.findings if finding.check == "order-broken"]
    assert any("before" in finding.what and "P1" in finding.what for finding in broken)
    assert all(finding.blocks for finding in broken)


def test_a_bulkhead_that_no_longer_comes_into_the_shut_body_is_told(own: Plan, given: Given) -> None:
    """The bulkhead, 1196 by 880, does not pass the hatch of 620: it had its way while the top was off."""
    body, loose, top = steps_of(own)
    broken = [finding for finding in given([body, top, loose]).findings if finding.check == "order-broken"]
    shut = [finding for finding in broken if "no way on" in finding.what]
    assert {finding.where.part for finding in shut} == LOOSE
    assert all("while T1, H1 are off" in finding.what or "while H1, T1 are off" in finding.what for finding in shut)


def test_what_the_order_does_not_name_is_put_last(own: Plan, given: Given) -> None:
    body, loose, _ = steps_of(own)
    made = given([body, loose])
    (told,) = [finding for finding in made.findings if finding.check == "order-incomplete"]
    assert all(mark in told.what for mark in (*TOP, "R"))


@pytest.mark.parametrize(
    ("step", "fault"),
    [
        ('pieces = ["F9"]', '"F9" is no piece'),
        ('seams = ["Zz"]', 'there is no seam "Zz"'),
        ("", "`pieces` that are put on"),
    ],
)
def test_faults_of_an_order_are_told(tmp_path: Path, step: str, fault: str) -> None:
    text = (ROOT / "examples" / "first-lap" / "job.toml").read_text("utf-8")
    for name in ("P1.dxf", "P2.dxf"):
        (tmp_path / name).touch()
    (tmp_path / "job.toml").write_text(f"{text}\n[[order]]\n{step}\n", "utf-8")
    with pytest.raises(JobError) as caught:
        read_job(tmp_path / "job.toml")
    assert any(fault in str(one) for one in caught.value.faults)
