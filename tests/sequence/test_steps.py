"""The steps of the demo as a foreman reads them: what stands, what is heavier, which bolts come out."""

import math
from collections import Counter

import numpy as np
import pytest

from fabplan.model.plan import Plan
from fabplan.model.sequence import Step


@pytest.fixture(scope="module")
def steps(bowser_plan: Plan) -> tuple[Step, ...]:
    assert bowser_plan.sequence is not None
    return bowser_plan.sequence.steps


def neighbours(plan: Plan) -> dict[int, set[int]]:
    """Pieces that share a rivet, by a double loop over the plies of every stack."""
    assert plan.stacks is not None
    joined: dict[int, set[int]] = {}
    for i in range(len(plan.stacks)):
        plies = plan.stacks.ply_instance[plan.stacks.first[i] : plan.stacks.first[i + 1]].tolist()
        for one in plies:
            joined.setdefault(one, set()).update(set(plies) - {one})
    return joined


def test_each_piece_goes_onto_what_its_step_says_and_that_stands(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    assert bowser_plan.body is not None
    joined, standing = neighbours(bowser_plan), set(steps[0].parts)
    marks = [instance.mark for instance in bowser_plan.body.instances]
    bolted_on = [step for step in steps if step.title.startswith("Bolt on")]
    for step in steps[1 : 1 + len(bolted_on)]:
        onto = {i for part in step.parts for i in joined[part] & standing}
        assert all(joined[part] & standing for part in step.parts)
        named = step.reason.partition(", which stand")[0].partition("join")[2].lstrip("s ")
        assert named == "pieces that stand; heaviest first; bolts finger tight" or set(named.split(", ")) == {
            marks[i] for i in onto
        }
        standing |= set(step.parts)
    assert len(bolted_on) > 2


def test_heaviest_first_where_it_says_so(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """Masses of plates by hand from the job: length x width x thickness x 7.85e-6 kg/mm3, openings left out."""
    assert bowser_plan.body is not None
    body = bowser_plan.body
    for step in steps:
        masses = [body.part_of(i).mass for i in step.parts]
        if "heaviest first" in step.reason:
            assert masses == sorted(masses, reverse=True)
            assert step.kind == "erect"
    by_mark = {body.instances[i].mark: body.part_of(i).mass for step in steps for i in step.parts}
    assert by_mark["S1"] == pytest.approx(1306.0 * 1106.0 * 6.0 * 7.85e-6, rel=0.02)
    assert by_mark["S2"] == pytest.approx(1106.0 * 1106.0 * 6.0 * 7.85e-6, rel=0.02)


def test_service_bolts_come_out_in_the_step_that_drives_their_rivets(
    bowser_plan: Plan, steps: tuple[Step, ...]
) -> None:
    """All bolts of the dry fit come out in the end, each in one step; as many as the store gives out for each seam."""
    assert bowser_plan.stacks is not None
    bolted = set(bowser_plan.supply.bolted)
    out: Counter[int] = Counter()
    for step in steps:
        for work in step.work:
            assert work.bolts_out == sum(rivet in bolted for rivet in work.rivets.tolist())
            out[work.seam] += work.bolts_out
    given = {seam.mark: i for i, seam in enumerate(bowser_plan.job.seams)}
    assert out == {given[mark]: count for mark, count in bowser_plan.supply.seam_bolts}
    (dry,) = [step for step in steps if step.kind == "dry-fit"]
    assert sum(count for _, count in dry.bolts) == len(bolted) == sum(out.values())


def test_bolts_of_a_piece_that_was_off_go_in_again_with_it(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """Posts and surge plate hang on seams P and Q of either side: of 23 in each 8 bolted, once both plies are on."""
    loose, closing = [step for step in steps if step.kind == "close"]
    marks = [seam.mark for seam in bowser_plan.job.seams]
    assert bowser_plan.body is not None
    plates = [bowser_plan.body.instances[i].mark for i in closing.parts]
    own = {seam.mark for seam in bowser_plan.job.seams if set(plates) & {ply.instance for ply in seam.plies}}
    bench = {marks[run.seam] for step in steps if "bench" in step.title for run in step.work}
    assert {"R", "Qs", "Qn"} <= bench
    assert {marks[seam] for seam, _ in closing.bolts} == own - bench
    posts = {"Ps": 8, "Pn": 8}
    assert {marks[seam]: count for seam, count in loose.bolts} == {k: v for k, v in posts.items() if k not in own}
    assert {marks[seam]: count for seam, count in closing.bolts if marks[seam] in posts} == {
        k: 8 for k in posts if k in own
    }
    (part,) = [step for step in steps if step.kind == "part"]
    (dry,) = [step for step in steps if step.kind == "dry-fit"]
    away = sum(count for _, count in dry.bolts)
    assert f"the whole body parted again, {away} service bolts out; marks read before each piece" in part.checks[0]


def test_diagonals_are_asked_of_plates_with_square_corners_only(steps: tuple[Step, ...]) -> None:
    """Floor 2400 x 1200, sides 1306 x 1106 by Pythagoras; the top has round corners, a ring none."""
    (square,) = [step for step in steps if step.kind == "square"]
    asked = [check for check in square.checks if "diagonals" in check]
    assert asked[0].startswith(f"F1: both diagonals {math.hypot(2400.0, 1200.0):.0f} mm")
    assert f"S1: both diagonals {math.hypot(1306.0, 1106.0):.0f} mm" in " ".join(asked)
    assert not any(check.startswith(("T1", "H1")) for check in asked)


def test_staging_is_asked_for_over_a_mans_height(bowser_plan: Plan, steps: tuple[Step, ...]) -> None:
    """Over 1.8 m, common practice; the tank stands on its trestles, so that z and their height are that of a rivet.

    Ds lies 1100 + 6 mm over the foot of the tank; the bench is 900 mm high, no sub-assembly reaches 900 over it.
    """
    assert bowser_plan.stacks is not None
    table = bowser_plan.job.shop.table_height
    foot = float(np.minimum(bowser_plan.stacks.head_face, bowser_plan.stacks.point_face)[:, 2].min())
    seen = 0
    for step in (step for step in steps if step.work):
        assert step.lie is not None
        told = [line for line in step.checks if line.startswith("staging for")]
        bench = step.title.startswith("On the bench")
        high = 0
        for run in [] if bench else step.work:
            face = bowser_plan.stacks.point_face if run.driver_side == "point" else bowser_plan.stacks.head_face
            high += int((face[run.rivets, 2] - foot + table > 1800.0).sum())
        assert step.lie.high == high
        assert bool(told) == (high > 0)
        if high:
            seen += 1
            assert f"staging for {high} rivet" in told[0]
            assert step.lie.heights is not None
            assert 1100.0 <= step.lie.heights[1] - step.lie.boards <= 1300.0
    assert seen > 0


def test_service_bolts_of_each_step_of_the_dry_fit_make_up_the_whole(steps: tuple[Step, ...]) -> None:
    """A bolt goes in with the last of its plies: A with the floor angles, none before; all of them once."""
    (dry,) = [step for step in steps if step.kind == "dry-fit"]
    put = Counter[int]()
    for step in steps[: dry.number - 1]:
        put.update(dict(step.bolts))
    assert put == Counter(dict(dry.bolts))
    assert steps[0].bolts == ()
    assert sum(count for _, count in steps[1].bolts) == 98  # As, An 33, Aw, Ae 16: the half of 66 and of 31, both ends


def test_titles_and_reasons_are_plain(steps: tuple[Step, ...]) -> None:
    for step in steps:
        assert 0 < len(step.reason) < 100
        assert " 1 rivets" not in step.title
        off = step.reason.partition(" reached while ")[2]
        assert not off or off.endswith((" are off" if "," in off else " is off", "the whole body stands"))


def test_a_step_with_a_man_inside_names_his_way_and_warns(steps: tuple[Step, ...]) -> None:
    """While the top is off he goes in over its place; once it is on only by the hatch of 620 mm that the demo has."""
    inside = [step for step in steps if any("man inside" in (w.driver_access, w.holder_access) for w in step.work)]
    ways = {
        step.number: [line for line in step.checks if line.startswith("man inside, in and out by")] for step in steps
    }
    assert {number for number, lines in ways.items() if lines} == {step.number for step in inside}
    last = inside[-1]
    assert last.kind == "close"
    assert ways[last.number][0].split(": kept")[0].endswith("the opening of H1, 620 mm, at 1850 600 1108")
    assert all("T1 is off" in ways[step.number][0] for step in inside[:-1])
    told = [words for step in steps for run in step.work for words in (run.driver_by, run.holder_by)]
    told += [line for lines in ways.values() for line in lines]
    assert not [line for line in told if "H1 is off" in line]  # T1, which bears it, is off too
    (dry,) = [step for step in steps if step.kind == "dry-fit"]
    assert [line for line in dry.checks if "wanted from inside; man inside, in and out by the opening of H1" in line]
    inside += [dry, *(step for step in steps if step.kind == "part")]  # what was tightened from inside is loosened so
    for step in steps:
        assert any(line.startswith("Confined space: permit, air test") for line in step.cautions) == (step in inside)
        for work in step.work:
            assert ("arm" in (work.driver_access, work.holder_access)) <= bool(work.driver_by or work.holder_by)
