"""How the bowser lies: held by weights and hoist, by the floor under it, and by what a foreman could measure."""

from dataclasses import replace

import numpy as np
import pytest

from fabplan.model.finding import Finding
from fabplan.model.plan import Plan
from fabplan.model.sequence import Sequence, Step, Tally
from fabplan.sequence.access import access, site
from fabplan.sequence.floor import Floor, depths
from fabplan.sequence.order import order
from fabplan.sequence.reach import panels_of, ways
from fabplan.sequence.tools import seats

DOWN = np.array([0.0, 0.0, -1.0])


def ordered(plan: Plan, **shop: float | None) -> tuple[Sequence, tuple[Finding, ...]]:
    """The order of the bowser's body with other settings of the shop."""
    assert plan.body is not None
    assert plan.stacks is not None
    job = replace(plan.job, shop=replace(plan.job.shop, **shop))  # type: ignore[arg-type]
    return order(job, plan.body, plan.stacks, plan.tables, plan.supply.bolted)


def whole(sequence: Sequence) -> Tally:
    """What the best of the orders comes to in which nothing goes on the bench."""
    return next(one for one in sequence.orders if not one.bench)


def worked(sequence: Sequence) -> list[Step]:
    return [step for step in sequence.steps if step.work]


def test_each_step_tells_mass_and_place_of_what_lies_there(bowser_plan: Plan) -> None:
    """Masses of the pieces summed; a floor of 2400 x 1200 bears it, so that its centre lies half the width inside."""
    assert bowser_plan.body is not None
    assert bowser_plan.sequence is not None
    for step in worked(bowser_plan.sequence):
        assert step.lie is not None
        assert step.lie.steady
        assert step.lie.mass == pytest.approx(sum(bowser_plan.body.part_of(i).mass for i in step.present), abs=0.6)


def test_a_hoist_too_weak_turns_nothing_over(bowser_plan: Plan) -> None:
    """The hoist lifts 250 kg, the body weighs 578; with one that lifts it, more rivets are driven downhand."""
    assert bowser_plan.sequence is not None
    free = ordered(bowser_plan, hoist=None)[0]
    weak, strong = (whole(one) for one in (bowser_plan.sequence, free))
    for step in worked(bowser_plan.sequence):
        assert step.lie is not None
        assert step.lie.mass <= 250.0 or not step.lie.turned
    assert strong.turns > 0
    assert strong.downhand > weak.downhand
    assert strong.minutes < weak.minutes


def test_the_bench_makes_nothing_that_the_hoist_does_not_lift(bowser_plan: Plan) -> None:
    """The floor, 135 kg, with 7.02 m of L40x40x6 at 3.52 kg/m (DIN 1028) is 160 kg: too much for a hoist of 140 kg.

    The top, 102 kg, with its ring, 7 kg, is not.
    """
    assert bowser_plan.sequence is not None
    usual = {one.what.partition(",")[0] for step in bowser_plan.sequence.steps for one in step.lifts}
    assert {"F1 with A1R", "T1 with H1"} <= usual
    sequence, findings = ordered(bowser_plan, hoist=140.0)
    lifts = [one for step in sequence.steps for one in step.lifts]
    assert max(one.mass for one in lifts) == pytest.approx(135.0, abs=1.0)
    assert "T1 with H1" in {one.what for one in lifts}
    assert not [one for one in findings if one.check == "too-heavy"]


def test_what_lies_upside_down_at_last_is_turned_back_before_it_is_filled(lap_plan: Plan) -> None:
    """Two plates are riveted upside down; the leak test wants them as they stand: two turn-overs, a step for either."""
    assert lap_plan.sequence is not None
    steps = lap_plan.sequence.steps
    over = [step.number for step in steps if step.kind == "turn" or (step.lie is not None and step.lie.turned)]
    (test,) = [step.number for step in steps if step.kind == "test"]
    assert len(over) == lap_plan.sequence.orders[0].turns == 2
    assert over[-1] == test - 1


def test_dear_turn_overs_are_fewer(bowser_plan: Plan) -> None:
    turns = [whole(ordered(bowser_plan, hoist=None, turn_over_minutes=m)[0]).turns for m in (1.0, 60.0, 1e5)]
    assert turns[0] >= turns[1] >= turns[2] == 0


def test_the_floor_is_as_deep_as_the_tools_by_hand(bowser_plan: Plan) -> None:
    """Below a rivet of the floor a short-stroke hammer wants nose 60, body 240 and a hand 100 mm: 400 in all."""
    plan = bowser_plan
    assert plan.body is not None
    assert plan.stacks is not None
    reach = ways(plan.job, plan.body, plan.stacks, panels_of(plan.body), plan.tables)
    deep = depths(reach, seats(plan.job, plan.stacks, plan.tables), DOWN)
    floor = plan.stacks.seam == [seam.mark for seam in plan.job.seams].index("As")
    hammer = [tool.name for tool in reach.tools].index("short-stroke pneumatic hammer")
    own = floor[reach.rivet] & (reach.tool == hammer) & (reach.side == 1)
    assert deep[own] == pytest.approx(np.full(own.sum(), 6.0 + 400.0), abs=0.5)


def test_what_a_floor_leaves_is_a_share_of_free_space(bowser_plan: Plan) -> None:
    """The lower the trestles, the fewer rivets are reached; on high ones as many as in free space."""
    plan = bowser_plan
    assert plan.body is not None
    assert plan.stacks is not None
    panels = panels_of(plan.body)
    reach = ways(plan.job, plan.body, plan.stacks, panels, plan.tables)
    yard = site(plan.job, plan.body, plan.stacks, panels, reach)
    deep = depths(reach, seats(plan.job, plan.stacks, plan.tables), DOWN)
    present = np.ones(len(plan.body.instances), dtype=np.bool_)
    reached = [access(yard, len(plan.stacks), present).driven_from(1)]
    for height in (2000.0, 700.0, 420.0, 300.0, 100.0, 0.0):
        over = access(yard, len(plan.stacks), present, floor=Floor(DOWN, 6.0 + height, height, deep)).driven_from(1)
        assert not (over & ~reached[-1]).any()
        reached.append(over)
    assert (reached[1] == reached[0]).all()
    marks = [seam.mark for seam in plan.job.seams]
    lost = {marks[k] for k in plan.stacks.seam[reached[0] & ~reached[-1]].tolist()}
    assert {"As", "An", "Aw", "Ae"} <= lost


def test_rivets_without_room_are_told_with_the_height_that_gives_it(bowser_plan: Plan) -> None:
    """On the floor itself nobody gets under; on trestles as high as told, rounded up to 50 mm, all are driven."""
    sequence, findings = ordered(bowser_plan, table_height=0.0)
    (told,) = [one for one in findings if one.check == "no-room-below"]
    short = set(told.where.holes)
    assert short
    assert sequence.orders[0].short == len(short)
    assert told.required is not None
    after, again = ordered(bowser_plan, table_height=told.required)
    assert after.orders[0].short == 0
    assert not [one for one in again if one.check == "no-room-below"]
    assert [line for step in sequence.steps for line in step.checks if "no room between table and floor" in line]


def test_a_body_that_can_be_turned_needs_no_trestles_for_its_floor(bowser_plan: Plan) -> None:
    """Lying on the floor, the rivets of its bottom are short; turned on a side, they are not."""
    held, free = (whole(ordered(bowser_plan, table_height=0.0, hoist=hoist)[0]) for hoist in (250.0, None))
    assert held.short > 0
    assert free.short < held.short
    assert free.turns > 0


def test_upright_walls_hang_from_well_over_their_centre_of_mass(bowser_plan: Plan) -> None:
    """Rectangles 1106 high: centre at half, 553. A line of hooks through it turns over at a touch (common practice).

    Half of what the steel stands over its centre is 553 / 2 = 276 mm; from a line as high, 15 mm beside the centre,
    a wall hangs atan(15 / 276) = 3 degrees out of plumb.
    """
    assert bowser_plan.sequence is not None
    assert bowser_plan.stacks is not None
    number = {name: k for k, name in enumerate(bowser_plan.stacks.number)}
    walls = [one for step in bowser_plan.sequence.steps[:6] for one in step.lifts if one.what[0] in "SE"]
    assert [one.what for one in walls] == ["S1", "S3", "E1", "E2", "S2", "S4"]
    for wall in walls:
        centre = 553.0 - 6.0  # its foot is 6 mm below the top of the floor, from which the body is measured
        names = wall.hooks.removeprefix("holes ").partition(";")[0].split(", ")
        high = bowser_plan.stacks.point[[number[name] for name in names]][:, 2]
        assert len(names) == 2
        assert wall.centre.endswith("y 553 of its own")
        assert high.min() - centre >= 276.0
        assert np.ptp(high) < 40.0  # hooks all but level: one pitch


def test_hooks_lie_even_about_the_centre_of_mass(bowser_plan: Plan) -> None:
    """The floor, 2400 x 1200 with even holes: its centre is 1200, 600, and so is the middle of its four hooks."""
    assert bowser_plan.sequence is not None
    assert bowser_plan.stacks is not None
    number = {name: k for k, name in enumerate(bowser_plan.stacks.number)}
    first = bowser_plan.sequence.steps[0]
    (lift,) = first.lifts
    assert lift.centre == "x 1200, y 600 of its own"
    names = lift.hooks.removeprefix("holes ").partition(";")[0].split(", ")
    points = bowser_plan.stacks.point[[number[name] for name in names]]
    assert len(names) == 4
    assert points.mean(axis=0)[:2] == pytest.approx((1200.0, 600.0), abs=15.0)
    assert np.ptp(points, axis=0)[:2].min() > 900.0
