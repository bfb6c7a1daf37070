"""A tank without a way in: why its rivets stay, what would help; held against a slow peeling and the demo's hatch."""

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from fabplan.geom import flood
from fabplan.model.arrays import BoolArray
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Level
from fabplan.model.plan import Plan
from fabplan.model.sequence import Sequence
from fabplan.sequence.access import access, site
from fabplan.sequence.causes import causes
from fabplan.sequence.order import order
from fabplan.sequence.reach import panels_of, ways

HATCH = ("T1", "H1")


class Shut:
    """The demo's tank with its hatch filled in: all else as drawn."""

    def __init__(self, plan: Plan) -> None:
        assert plan.body is not None
        assert plan.stacks is not None
        parts = tuple(
            replace(part, panels=tuple(replace(panel, cutouts=()) for panel in part.panels))
            if part.mark in HATCH
            else part
            for part in plan.body.parts
        )
        self.plan, self.stacks = plan, plan.stacks
        self.body: Body = replace(plan.body, parts=parts)
        found: tuple[Sequence, tuple[Finding, ...]] = order(
            plan.job, self.body, self.stacks, plan.tables, plan.supply.bolted
        )
        self.sequence, self.findings = found
        self.marks = [instance.mark for instance in self.body.instances]

    def plies(self, rivet: int) -> set[int]:
        first, last = self.stacks.first[rivet : rivet + 2].tolist()
        return set(self.stacks.ply_instance[first:last].tolist())

    def numbers(self, rivets: list[int] | set[int]) -> set[str]:
        return {self.stacks.number[i] for i in rivets}


@pytest.fixture(scope="module")
def shut(bowser_plan: Plan) -> Shut:
    return Shut(bowser_plan)


def on_the_bench(shut: Shut) -> list[tuple[set[int], set[int]]]:
    """The sub-assemblies of the steps, and the rivets that are driven in each."""
    steps = [step for step in shut.sequence.steps if step.title.startswith("On the bench")]
    return [(set(step.parts), {i for run in step.work for i in run.rivets.tolist()}) for step in steps]


def stuck(shut: Shut, without: set[int]) -> set[int]:
    """Rivets left by a slow peeling, one rivet and one piece at a time, with some pieces put on last.

    Those of the bench are in before; what they hold together comes off as one.
    """
    benches = on_the_bench(shut)
    whole = {i: unit for unit, _ in benches for i in unit}
    panels = panels_of(shut.body)
    tank = shut.plan
    reach = ways(tank.job, shut.body, shut.stacks, panels, tank.tables)
    assert tank.stacks is not None
    assert tank.body is not None
    yard = site(tank.job, tank.body, tank.stacks, panels, reach)
    standing = set(range(len(shut.marks))) - without
    without = without.union(*(whole.get(i, {i}) for i in without))
    standing -= without
    left = set(range(len(shut.stacks))) - {rivet for _, rivets in benches for rivet in rivets}
    while True:
        present: BoolArray = np.array([i in standing for i in range(len(shut.marks))])
        reached = access(yard, len(shut.stacks), present).reached
        gone = {rivet for rivet in left if reached[rivet] and not shut.plies(rivet) & without}
        left -= gone
        held = set().union(*(shut.plies(rivet) for rivet in left if not shut.plies(rivet) & without))
        held = held.union(*(whole.get(i, {i}) for i in held))
        loose = {i for i in standing if i not in held and shut.marks[i] != tank.job.datum}
        if not gone or not loose:
            return left
        standing -= loose


def test_a_tank_with_a_hatch_is_built_and_one_without_is_not(bowser_plan: Plan, shut: Shut) -> None:
    """Exactly the rivets with an end inside lose their hold-up where nobody gets in."""
    assert bowser_plan.sequence is not None
    assert len(bowser_plan.sequence.core.rivets) == 0
    core = set(shut.sequence.core.rivets.tolist())
    assert core == stuck(shut, set())
    bench = {rivet for _, rivets in on_the_bench(shut) for rivet in rivets}
    ends = np.stack([shut.stacks.head_face, shut.stacks.point_face])
    inside = np.array([2400.0, 1200.0, 1100.0])  # of the tank as the demo builds it
    within = np.all((ends >= -0.01) & (ends <= inside + 0.01), axis=2).any(axis=0)
    assert core | bench == set(np.nonzero(within)[0].tolist())
    assert not core & bench


def test_the_bench_is_tried_before_it_is_said_to_be_impossible(shut: Shut) -> None:
    """By hand: each seam that holds a bar or a strap to one plate alone can be driven while nothing else is there.

    Each bar has two such seams, of which one is left to the body. A to F, K and L are of two seams a corner each, the
    posts P and Q, the straps G and H; R holds the ring. No bar is on two plates, and no plate on another on the bench.
    """
    benches = on_the_bench(shut)
    assert sum(len(rivets) for _, rivets in benches) == len(shut.stacks) - len(shut.sequence.core.rivets)
    plates = {"F1", "T1", "P1", "S1", "S2", "S3", "S4", "E1", "E2"}
    pieces = [shut.marks[i] for unit, _ in benches for i in unit]
    assert len(pieces) == len(set(pieces))
    for unit, rivets in benches:
        assert len({shut.marks[i] for i in unit} & plates) == 1
        assert all(shut.plies(rivet) <= unit for rivet in rivets)
    driven = {shut.stacks.number[i].split()[0] for _, rivets in benches for i in rivets}
    for one, other in (("As", "Bs"), ("Ds", "Es"), ("An", "Bn"), ("Aw", "Bw"), ("Dw", "Ew"), ("Lws", "Kws")):
        assert len({one, other} & driven) == 1
    assert {"Gs", "Gn", "R"} <= driven
    (whole,) = [one for one in shut.findings if one.check == "shut-in"]
    assert f"; {sum(len(rivets) for _, rivets in benches)} others can on the bench, before" in whole.what


def test_a_loose_piece_is_fitted_before_what_shuts_its_way(shut: Shut) -> None:
    """P1, 1196 by 880, goes in over the walls: no way is left once the top without its hatch is on."""
    place = {shut.marks[i]: step.number for step in shut.sequence.steps[:8] for i in step.parts}
    assert place["S1"] < place["P1"] < place["T1"]
    told = [one.what.split(":")[0] for one in shut.findings if one.check == "no-way-on"]
    assert f"step {place['P1']}" not in told


def test_every_rivet_of_the_core_is_told_once_by_its_cause(shut: Shut) -> None:
    causes = [one for one in shut.findings if one.check in ("no-driver", "no-hold-up")]
    told = Counter(number for one in causes for number in one.where.holes)
    assert set(told.values()) == {1}
    assert set(told) == shut.numbers(set(shut.sequence.core.rivets.tolist()))
    assert 1 < len(causes) < 15
    ways_told = [one.what.split(" rivet")[0].rstrip("0123456789 ") + one.what.rpartition(";")[2] for one in causes]
    assert len(set(ways_told)) == len(ways_told)
    for one in causes:
        assert f" {len(one.where.holes)} rivet" in one.what


def test_one_finding_sums_the_core_up(shut: Shut) -> None:
    (whole,) = [one for one in shut.findings if one.check == "shut-in"]
    assert whole.level is Level.STOP
    pieces = set().union(*(shut.plies(i) for i in shut.sequence.core.rivets.tolist()))
    assert f"no order builds {len(shut.sequence.core.rivets)} rivets of {len(pieces)} pieces" in whole.what


def test_the_cures_told_do_cure(bowser_plan: Plan, shut: Shut) -> None:
    """A way in: the demo has a hatch of 620 mm and is built. A piece put on last: the slow peeling leaves its own."""
    opening, last = shut.sequence.core.help
    assert "an opening of 575 mm or more" in opening.lower()
    assert "all of them can be driven then (tried)" in opening
    mark, _, words = last.partition(" put on last: ")
    piece = shut.marks.index(mark)
    core = set(shut.sequence.core.rivets.tolist())
    own = {rivet for rivet in core if piece in shut.plies(rivet)}
    assert stuck(shut, {piece}) & core == own
    assert words.startswith(f"{len(core) - len(own)} of {len(core)} can be driven then (tried)")
    assert f"the {len(own)} rivets through it want tap rivets from the side that is reached (tried)" in words


def test_the_datum_is_never_put_on_last(shut: Shut) -> None:
    for one in shut.findings:
        if one.check in ("no-driver", "no-hold-up", "shut-in"):
            assert "F1" not in one.mend
            assert "tried" in one.mend


def test_no_step_claims_work_that_it_has_not(shut: Shut) -> None:
    for step in shut.sequence.steps:
        rivets = sum(len(work.rivets) for work in step.work)
        assert "0 rivets" not in step.title.replace("10 rivets", "")
        assert step.kind != "rivet" or rivets > 0
        assert step.kind != "test"
    driven = [rivet for step in shut.sequence.steps for work in step.work for rivet in work.rivets.tolist()]
    assert sorted([*driven, *shut.sequence.core.rivets.tolist()]) == list(range(len(shut.stacks)))


def test_of_a_body_too_large_to_search_only_what_lies_outside_is_reached(
    bowser_plan: Plan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As for a tank drawn in a wrong unit: no way through it is followed, and so no rivet of its skin held up."""
    monkeypatch.setattr(flood, "COARSEST", 1.0)
    assert bowser_plan.body is not None
    assert bowser_plan.stacks is not None
    sequence, findings = order(bowser_plan.job, bowser_plan.body, bowser_plan.stacks, bowser_plan.tables, ())
    assert any("too large for ways through it" in line for line in sequence.assumptions)
    assert len(sequence.core.rivets) > 0
    assert "no-hold-up" in {one.check for one in findings}


def test_figures_stand_only_where_they_say_something(bowser_plan: Plan, shut: Shut) -> None:
    for one in (*bowser_plan.findings, *shut.findings):
        if one.check in ("man-inside", "heads-change-sides", "no-driver", "no-hold-up", "shut-in"):
            assert one.measured is None
            assert one.required is None
    assert [one.check for one in bowser_plan.findings].count("man-inside") == 1


def test_a_rivet_that_cannot_be_put_in_is_told(bowser_plan: Plan) -> None:
    """Tongs of 2.3 m in a tank of 2.4 m: posts and surge plate, riveted lengthwise at 1 m, want a wall off."""
    plan, body, stacks = bowser_plan, bowser_plan.body, bowser_plan.stacks
    assert body is not None
    assert stacks is not None
    tools = [tool for tool in plan.tables.tools if not (tool.use == "enter" and tool.crank)]
    long = [replace(tool, body_length=2300.0, closing="") if tool.use == "enter" else tool for tool in tools]
    panels = panels_of(body)
    reach = ways(plan.job, body, stacks, panels, replace(plan.tables, tools=tuple(long)))
    yard = site(plan.job, body, stacks, panels, reach)
    standing = np.ones(len(body.instances), dtype=np.bool_)
    found = access(yard, len(stacks), standing)
    told = {
        stacks.number[rivet]: {body.instances[i].mark for i in cause.parts}
        for cause in causes(reach, found, standing, np.nonzero(~found.reached)[0])
        for rivet in cause.rivets.tolist()
        if cause.check == "no-way-in"
    }
    inner = {number: parts for number, parts in told.items() if number.startswith("Q")}
    assert len(inner) == 46
    assert all(parts & {"E1", "E2", "S1", "S3"} for parts in inner.values())
    assert not [one for one in plan.findings if one.check == "no-way-in"]


def test_a_surge_plate_riveted_in_waits_for_the_rivets_that_it_shuts_off(bowser_plan: Plan) -> None:
    """Drawn as fixed it is not put in at first: it stands in front of the rivets of the floor's seams under it."""
    plan, body, stacks = bowser_plan, bowser_plan.body, bowser_plan.stacks
    assert body is not None
    assert stacks is not None
    fixed = replace(body, parts=tuple(replace(part, spec=replace(part.spec, loose=False)) for part in body.parts))
    sequence, _ = order(plan.job, fixed, stacks, plan.tables, plan.supply.bolted)
    assert len(sequence.core.rivets) == 0
    surge = [instance.mark for instance in body.instances].index("P1")
    under = {number for number in stacks.number if number in ("As 28", "An 28")}
    for step in sequence.steps:
        own = {stacks.number[i] for work in step.work for i in work.rivets.tolist()}
        assert not (own & under) or surge not in step.present
    (put_in,) = [step for step in sequence.steps if step.kind == "close" and surge in step.parts]
    assert "rivets of the steps before could not be driven" in put_in.reason
