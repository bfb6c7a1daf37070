"""Counts of literals, and what a solver makes of them, against all assignments tried one by one."""

import os
import subprocess
from itertools import combinations, product

import pytest

from fabplan.kit.logic import Logic, Tally

WIDTH, STEPS = 4, 1000


def held(most: int, values: tuple[bool, ...], count: int) -> tuple[bool | None, bool | None]:
    """Whether so many may hold, and whether so many may fail to, where literals have these values."""
    logic = Logic()
    tally = Tally(logic, most)
    literals = [logic.new() for _ in values]
    for literal in literals:
        tally.add(literal)
    fixed = [one if value else -one for one, value in zip(literals, values, strict=True)]
    told = tally.at_least(count)
    return logic.solve([*fixed, told], STEPS), logic.solve([*fixed, -told], STEPS)


@pytest.mark.parametrize("most", [1, 2, 3, 5])
def test_a_tally_tells_how_many_literals_hold_whatever_they_are(most: int) -> None:
    """All sixteen values of four literals: so many hold where Python counts as many, and fail to where fewer."""
    for values in product((False, True), repeat=WIDTH):
        for count in range(1, most + 1):
            enough = sum(values) >= count
            assert held(most, values, count) == (enough, not enough)


def test_a_tally_without_literals_holds_none() -> None:
    logic = Logic()
    assert logic.solve([Tally(logic, 2).at_least(1)], STEPS) is False


def test_a_literal_that_is_counted_twice_weighs_two() -> None:
    logic = Logic()
    tally, one = Tally(logic, 2), logic.new()
    tally.add(one)
    tally.add(one)
    assert logic.solve([one, -tally.at_least(2)], STEPS) is False
    assert logic.solve([one, tally.at_least(2)], STEPS) is True


def test_what_is_preferred_is_found_where_it_can_be() -> None:
    logic = Logic()
    one, two = logic.new(), logic.new()
    logic.add([one, two])
    for wanted, other in ((one, two), (two, one)):
        logic.prefer([wanted, -other])
        assert logic.solve([], STEPS)
        assert logic.true([one, two]) == [wanted]


def test_a_search_that_is_given_up_finds_nothing_out() -> None:
    """Seven pigeons in six holes: no assignment, and no short way to see it."""
    logic = Logic()
    holes = [[logic.new() for _ in range(6)] for _ in range(7)]
    for own in holes:
        logic.add(own)
    for hole in range(6):
        for a in range(7):
            for b in range(a):
                logic.add([-holes[a][hole], -holes[b][hole]])
    assert logic.solve([], 1) is None
    assert logic.solve([], 1_000_000) is False
    assert logic.effort > 1


def test_a_solver_that_is_broken_off_by_hand_stops_as_all_else_does() -> None:
    """Twelve pigeons in eleven holes keep it busy for minutes; another process sends the key after half a second."""
    logic = Logic()
    sits = [[logic.new() for _ in range(11)] for _ in range(12)]
    for own in sits:
        logic.add(own)
    for one, two in combinations(sits, 2):
        for here, there in zip(one, two, strict=True):
            logic.add([-here, -there])
    with subprocess.Popen(["sh", "-c", f"sleep 0.5; kill -INT {os.getpid()}"]), pytest.raises(KeyboardInterrupt):
        logic.solve([], 10_000_000)
