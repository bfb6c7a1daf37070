"""The programme over ways of lying, against every way of doing it on small cases; one case worked out by hand."""

from itertools import product

import numpy as np
import pytest

from fabplan.sequence.lying import Stage, lie

INF = float("inf")


def least(stages: list[Stage], last: int) -> float:
    """Every direction for every run, every order of those used: the least sum, by plain enumeration."""
    best = INF
    choices = [[k for k in range(len(stage.allowed)) if stage.allowed[k]] for stage in stages]
    for picks in product(
        *(product(own, repeat=len(stage.minutes)) for own, stage in zip(choices, stages, strict=True))
    ):
        work = sum(
            float(stage.minutes[run, way])
            for stage, chosen in zip(stages, picks, strict=True)
            for run, way in enumerate(chosen)
        )
        best = min(best, work + turning(stages, [set(chosen) for chosen in picks], last))
    return best


def turning(stages: list[Stage], used: list[set[int]], last: int) -> float:
    """The least minutes of turn-overs that pass each stage through its ways of lying, by breadth over single turns."""
    reached = {0: 0.0}
    before = 0.0
    for stage, wanted in zip(stages, used, strict=True):
        if stage.begins >= 0:
            reached = {
                stage.begins: min(cost + (before if way != stage.begins else 0.0) for way, cost in reached.items())
            }
        states = {(way, frozenset({way} & wanted)): cost for way, cost in reached.items()}
        for _ in range(len(wanted) + 1):
            for (way, seen), cost in list(states.items()):
                for to in wanted - {way}:
                    key = (to, seen | {to})
                    states[key] = min(states.get(key, INF), cost + stage.turn)
        reached = {}
        for (way, seen), cost in states.items():
            if seen >= wanted:
                reached[way] = min(reached.get(way, INF), cost)
        before = stage.turn
    return min((cost + (before if last != way else 0.0) for way, cost in reached.items()), default=INF)


def random_stages(rng: np.random.Generator) -> list[Stage]:
    found = []
    for number in range(3):
        allowed = np.array([True, *(rng.random(2) < 0.8)])
        minutes = rng.integers(1, 40, (int(rng.integers(0, 4)), 3)).astype(float)
        turn = float(rng.choice([5.0, 12.0, 30.0]))
        found.append(Stage(minutes, allowed, turn, 0 if number else -1))
    return found


@pytest.mark.parametrize("seed", range(25))
def test_the_least_way_is_found(seed: int) -> None:
    rng = np.random.default_rng(seed)
    stages, last = random_stages(rng), int(rng.choice([0, 1]))
    found = lie(stages, 0, last)
    assert found.minutes == pytest.approx(least(stages, last))
    for stage, order, of_run in zip(stages, found.orders, found.of_run, strict=True):
        assert set(of_run.tolist()) <= set(order)
        assert all(stage.allowed[list(order)])


def test_a_body_that_cannot_be_turned_stays_as_it_is() -> None:
    stage = Stage(np.array([[9.0, 1.0], [9.0, 1.0]]), np.ones(2, dtype=np.bool_), INF)
    found = lie([stage], 0, 0)
    assert (found.minutes, found.turns, found.orders) == (18.0, 0, ((0,),))


def test_a_turn_over_pays_by_hand() -> None:
    """100 rivets overhead at 2 x 2.4 min and 20 downhand: turned over and back at 60 min each saves 240 - 120 min.

    The 20 are driven before the turn-over.
    """
    stage = Stage(np.array([[480.0, 240.0], [48.0, 96.0]]), np.ones(2, dtype=np.bool_), 60.0)
    found = lie([stage], 0, 0)
    assert (found.minutes, found.turns, found.orders) == (240.0 + 48.0 + 120.0, 2, ((0, 1),))
    assert found.of_run[0].tolist() == [1, 0]
