"""Sub-assemblies of the bowser and what its orders come to, counted again from the printed steps."""

import numpy as np
import pytest

from fabplan.model.plan import Plan
from fabplan.model.sequence import Step

UP = 0.7  # sine of 45 degrees, rounded


@pytest.fixture(scope="module")
def steps(bowser_plan: Plan) -> tuple[Step, ...]:
    assert bowser_plan.sequence is not None
    return bowser_plan.sequence.steps


def benches(steps: tuple[Step, ...]) -> list[Step]:
    return [step for step in steps if step.title.startswith("On the bench")]


def test_a_sub_assembly_is_all_that_its_rivets_hold(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """On the bench there is nothing but the unit, and each piece of it is held by a rivet driven there."""
    stacks = bowser_plan.stacks
    assert stacks is not None
    assert len(benches(steps)) >= 5
    for step in benches(steps):
        held: set[int] = set()
        for run in step.work:
            assert (run.driver_access, run.holder_access) == ("outside", "outside")
            for i in run.rivets.tolist():
                plies = set(stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]].tolist())
                assert plies <= set(step.present)
                held |= plies
        assert held == set(step.present)


def test_angles_go_to_their_plates_on_the_bench(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """As practice has it: floor angles to the floor, the ring of the hatch to the top, before the body is closed."""
    assert bowser_plan.body is not None
    marks = [one.mark for one in bowser_plan.body.instances]
    units = {marks[step.parts[0]]: {marks[i] for i in step.parts[1:]} for step in benches(steps)}
    assert units["F1"] == {"A1R", "A1L", "A2", "A3"}
    assert units["T1"] == {"H1"}
    every = [piece for unit in units.values() for piece in unit]
    assert len(every) == len(set(every))


def test_what_the_order_comes_to_counted_again(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """Attitudes from the direction of each rivet and how its step lies; men from the words of its run."""
    assert bowser_plan.sequence is not None
    assert bowser_plan.stacks is not None
    count = {"down": 0, "side": 0, "over": 0, "bench": 0}
    for step in steps:
        for run in step.work:
            assert step.lie is not None
            sign = -1.0 if run.driver_side == "point" else 1.0
            up = sign * (bowser_plan.stacks.axis[run.rivets] @ np.array(step.lie.down))
            count["down"] += int((up > UP).sum())
            count["over"] += int((up < -UP).sum())
            count["side"] += int((np.abs(up) < UP).sum())
            count["bench"] += len(run.rivets) if step in benches(steps) else 0
    taken = bowser_plan.sequence.orders[0]
    assert (taken.downhand, taken.sideways, taken.overhead, taken.bench) == tuple(
        count[key] for key in ("down", "side", "over", "bench")
    )
    assert taken.turns == sum(step.lie.turned for step in steps if step.lie is not None)


def test_the_order_taken_is_the_best_of_several(bowser_plan: Plan) -> None:
    assert bowser_plan.sequence is not None
    taken, *others = bowser_plan.sequence.orders
    assert others
    for one in others:
        assert (one.short, one.minutes) > (taken.short, taken.minutes)
        assert one.why.startswith(f"{(one.minutes - taken.minutes) / 60.0:.0f} h longer")
    assert taken.overhead < min(one.overhead for one in others)


def test_the_body_is_bolted_up_again_after_the_bench(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """Heaviest lift: floor 2400 x 1200 x 6 at 7.85e-6 kg/mm3 with its angles; no hook in a hole that has its rivet."""
    again = next(step for step in steps if step.title.startswith("Bolt up again"))
    assert again.number == benches(steps)[-1].number + 1
    assert bowser_plan.stacks is not None
    assert bowser_plan.body is not None
    unit = next(one for one in again.lifts if one.what.startswith("F1 with"))
    plate = 2400.0 * 1200.0 * 6.0 * 7.85e-6
    mark = [one.mark for one in bowser_plan.body.instances].index("A1R")
    assert plate < unit.mass < plate + 6.0 * bowser_plan.body.part_of(mark).mass
    names = unit.hooks.removeprefix("holes ").partition(";")[0].split(", ")
    driven = {bowser_plan.stacks.number[i] for step in benches(steps) for run in step.work for i in run.rivets.tolist()}
    assert names
    assert not driven & set(names)


def test_service_bolts_go_in_before_they_come_out(steps: tuple[Step, ...]) -> None:
    """What is parted once is not parted again, and each bench step puts in the bolts that its rivets take out."""
    parted = [check for step in steps for check in step.checks if "service bolts out" in check]
    assert len(parted) == 1
    for step in benches(steps):
        out = sum(work.bolts_out for work in step.work)
        assert f"{out} service bolts in, finger tight, then from the middle outwards" in step.checks
