"""Spanners at bolts: what they sweep, held against rays; bolts that are moved, missed, or want a man inside."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fabplan.model.finding import Finding, Level
from fabplan.model.joints import RivetSpec
from fabplan.model.plan import Plan
from fabplan.model.sequence import Sequence
from fabplan.model.tool import Tool
from fabplan.rules.tables import read_tables
from fabplan.sequence.order import order
from fabplan.sequence.tools import Seat, chains
from tests.body.made import Made, made
from tests.sequence.rays import Judge
from tests.sequence.test_cures import LONG, lidded
from tests.sequence.test_tools import covered, one_seat

SPANNERS = [tool for tool in read_tables().tools if tool.use in ("turn", "keep")]


@pytest.mark.parametrize("tool", SPANNERS, ids=lambda tool: tool.name)
def test_what_a_spanner_sweeps_lies_within_its_envelope(tool: Tool) -> None:
    """Jaw and handle turned about the bolt step by step, as drawn on paper: all of it is in the bars."""
    seat: Seat = one_seat()
    ((chain, turned),) = chains(tool, seat)
    rng = np.random.default_rng(4)
    n, high = 40_000, tool.nose_length
    turn = np.radians(tool.swing) * rng.uniform(-0.5, 0.5, n)
    along_it, across = rng.uniform(0.0, tool.handle, n), tool.body_diameter / 2.0 * rng.uniform(-1.0, 1.0, n)
    tall = high - tool.body_length * rng.uniform(0.0, 1.0, n)
    handle = np.column_stack([
        np.cos(turn) * along_it - np.sin(turn) * across, np.sin(turn) * along_it + np.cos(turn) * across, tall,
    ])  # fmt: skip
    around, out = rng.uniform(0.0, 2.0 * np.pi, n), (seat.head[0] + tool.nose_over_head) / 2.0
    jaw = np.column_stack([np.cos(around) * out, np.sin(around) * out, high * rng.uniform(0.0, 1.0, n)])
    hand = np.column_stack([np.cos(turn) * tool.handle, np.sin(turn) * tool.handle, np.full(n, high - 1.0)])
    for points in (handle, jaw, hand):
        assert covered(chain.pieces, points).all()
    assert turned
    assert not covered(chain.pieces, np.array([[-tool.handle, 0.0, high / 2.0]])).any()


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(lidded(lid=False), tmp_path_factory.mktemp("open"))


def test_no_spanner_called_clear_is_blocked(box: Made) -> None:
    """64 rays of embree in each piece of the free ways; 1,000 in those called blocked, of which 2 % may be free."""
    bolts = np.ones(len(box.stacks), dtype=np.bool_)
    judge = Judge(box.job, box.body, box.stacks, read_tables(), bolts)
    standing = np.ones(len(box.body.instances), dtype=np.bool_)
    free = judge.ways.blocked.free(standing)
    clear, blocked = np.nonzero(free)[0], np.nonzero(~free)[0]
    assert len(clear) > 200
    assert judge.touched(clear, 64, inset=1.0).tolist() == []
    blocked = np.sort(np.random.default_rng(5).choice(blocked, 200, replace=False))
    assert len(np.setdiff1d(blocked, judge.touched(blocked, 1000, inset=0.01))) <= 4


def spanners(over: float) -> tuple[Tool, ...]:
    """Open-ended spanners alone, their jaws wider than the head of 16 mm by so much."""
    kept = [tool for tool in SPANNERS if tool.name in ("open-ended spanner to M12", "spanner on the head to M12")]
    return tuple(replace(tool, nose_over_head=over) for tool in kept)


def ordered(box: Made, bolted: list[str], tools: tuple[Tool, ...]) -> tuple[Sequence, list[Finding]]:
    """The order of a box with some service bolts and spanners; what nobody tightens."""
    tables = read_tables()
    others = tuple(tool for tool in tables.tools if tool.use not in ("turn", "keep"))
    chosen = [box.stacks.number.index(name) for name in bolted]
    found, told = order(box.job, box.body, box.stacks, replace(tables, tools=(*others, *tools)), chosen)
    return found, [one for one in told if one.check == "no-spanner"]


@pytest.mark.parametrize(("over", "free"), [(17.9, True), (18.1, False)])
def test_a_jaw_beside_the_other_leg_of_the_angle(box: Made, over: float, free: bool) -> None:
    """Legs of 40 x 5 with rows 22 from the heel leave 17 mm to the other leg; a jaw is head, 16 mm, and more wide."""
    sequence, missed = ordered(box, ["A 7"], spanners(over))
    assert (missed == []) == free
    assert any("spanner to M12 (turn)" in line for line in sequence.assumptions) == free
    for one in missed:
        assert one.level is Level.QUERY
        assert one.where.holes == ("A 7",)
        assert "1 service bolt" in one.what
        assert one.what.endswith(", A1")


def beside(folder: Path, span: tuple[float, float]) -> Made:
    """The open box with an angle outside, its standing leg 10 mm over the row B of a pitch of 38 from x = 34."""
    return made(lidded(lid=False, stiffener=10.0, span=span), folder)


def test_a_service_bolt_goes_into_a_hole_nearby(tmp_path: Path) -> None:
    """An angle from x = 200 to 330: holes at 224 to 300 lie 10 mm from it, 338 lies 12.8, 186 lies 17.2 and 376 free.

    A jaw of 33 mm wants 16.5, and 17 are there on the inside.
    """
    box = beside(tmp_path, (200.0, 330.0))
    x = {name: float(box.stacks.point[k, 0]) for k, name in enumerate(box.stacks.number) if name.startswith("B ")}
    at = {round(value): name for name, value in x.items()}
    for wrong, right in ((224, 186), (300, 376), (338, 376)):
        sequence, missed = ordered(box, [at[wrong]], spanners(17.0))
        assert missed == []
        assert [(box.stacks.number[a], box.stacks.number[b]) for a, b in sequence.moved] == [(at[wrong], at[right])]
        (dry,) = [step for step in sequence.steps if step.kind == "dry-fit"]
        assert sum(count for _, count in dry.bolts) == 1
    sequence, _ = ordered(box, [at[186], at[376]], spanners(17.0))
    assert sequence.moved == ()


def test_where_no_hole_nearby_is_better_it_is_told(tmp_path: Path) -> None:
    box = beside(tmp_path, (20.0, LONG - 20.0))
    sequence, missed = ordered(box, ["B 5", "B 9"], spanners(17.0))
    assert sequence.moved == ()
    assert {hole for one in missed for hole in one.where.holes} == {"B 5", "B 9"}
    assert all("X1" in one.what and "no hole nearby is better" in one.what for one in missed)


def test_bolts_that_stay_are_proved_alike(tmp_path: Path) -> None:
    """The row B fitted with bolts: none can be tightened beside the angle, each can without it.

    Their heads are 1.75 d, 17.5 mm, where no table lists them: a jaw of 33.5 mm wants 16.75, and 17 are there inside.
    """
    for span, free in (((20.0, LONG - 20.0), False), (None, True)):
        folder = tmp_path / str(free)
        folder.mkdir()
        box = beside(folder, span) if span is not None else made(lidded(lid=False), folder)
        bolt = RivetSpec("M10", 10.0, 11.0, "hexagon", "nut", kind="bolt")
        row = box.stacks.seam == [seam.mark for seam in box.job.seams].index("B")
        stacks = replace(box.stacks, rivet=np.where(row, len(box.job.rivets), box.stacks.rivet))
        box = replace(box, job=replace(box.job, rivets=(*box.job.rivets, bolt)), stacks=stacks)
        _, missed = ordered(box, [], spanners(16.0))
        told = {hole for one in missed for hole in one.where.holes}
        assert told == (set() if free else {stacks.number[k] for k in np.nonzero(row)[0].tolist()})
        assert all("staying bolt" in one.what and "when they are fitted" in one.what for one in missed)


def test_the_dry_fit_of_the_bowser_is_tightened_by_a_man_inside(bowser_plan: Plan) -> None:
    """Bolts that want him have an end inside the tank of 2400 x 1200 x 1100; permit and cautions stand on the sheet."""
    sequence, stacks = bowser_plan.sequence, bowser_plan.stacks
    assert sequence is not None
    assert stacks is not None
    (dry,) = [step for step in sequence.steps if step.kind == "dry-fit"]
    ends = np.stack([stacks.head_face, stacks.point_face])
    inside = np.all((ends >= -0.01) & (ends <= np.array([2400.0, 1200.0, 1100.0]) + 0.01), axis=2).any(axis=0)
    (line,) = [line for line in dry.checks if "wanted from inside" in line]
    assert 0 < int(line.split()[0]) <= int(inside[list(bowser_plan.supply.bolted)].sum())
    assert [line for line in dry.cautions if line.startswith("Confined space")]
    assert "no-spanner" not in {one.check for one in bowser_plan.findings}


def test_moved_bolts_are_counted_where_they_stand(bowser_plan: Plan) -> None:
    """As many as the shares ask for: half of each row of tight seams, a third of others, both ends always."""
    sequence, supply = bowser_plan.sequence, bowser_plan.supply
    assert sequence is not None
    for one, to in sequence.moved:
        assert one not in supply.bolted
        assert to in supply.bolted
    assert len(set(supply.bolted)) == len(supply.bolted)
    (dry,) = [step for step in sequence.steps if step.kind == "dry-fit"]
    assert dict(supply.seam_bolts) == {mark: 0 for mark, _ in supply.seam_bolts} | {
        bowser_plan.job.seams[seam].mark: count for seam, count in dry.bolts
    }
