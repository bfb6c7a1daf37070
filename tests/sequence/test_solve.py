"""Orders by CP-SAT: small choices against every way of choosing, counted apart from the model."""

import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from fabplan.model.plan import Plan
from fabplan.rules.tables import read_tables
from fabplan.sequence.access import site
from fabplan.sequence.batches import PART, propose
from fabplan.sequence.choice import RANK, TIME, Choice, Cut
from fabplan.sequence.order import order
from fabplan.sequence.orders import orders, proven
from fabplan.sequence.peel import peel, plies
from fabplan.sequence.phases import Phase, held_back, phases
from fabplan.sequence.reach import panels_of, ways
from fabplan.sequence.scene import Scene
from fabplan.sequence.shifts import Yard
from fabplan.sequence.solve import solve
from fabplan.sequence.tools import seats
from tests.body.made import Made, made
from tests.kits import random_kits

STATES, WAYS = 2, 2
STATE = np.repeat(np.arange(STATES), WAYS)
DRAWN = np.tile(np.arange(WAYS) == 0, STATES)


def random_choice(seed: int) -> Choice:
    """Up to five pieces and five batches, two states of the body, in each as drawn and one other way of lying."""
    rng = np.random.default_rng(seed)
    pieces, batches = int(rng.integers(3, 6)), int(rng.integers(3, 6))
    plies = np.zeros((batches, pieces), dtype=np.bool_)
    for row in plies:
        row[rng.choice(pieces, int(rng.choice([2, 2, 2, 3])), replace=False)] = True
    able = rng.random((batches, STATES * WAYS)) < 0.6
    able[:, 0] |= ~able.any(axis=1)
    early = rng.random(pieces) < 0.6
    onto = (rng.random((pieces, pieces)) < 0.6) & ~np.eye(pieces, dtype=np.bool_) & (early[:, None] == early[None])
    return Choice(
        many=rng.integers(1, 9, batches),
        plies=plies,
        bench=rng.random(batches) < 0.8,
        able=able,
        short=rng.integers(0, 3, able.shape) * (rng.random(able.shape) < 0.2),
        hard=rng.integers(0, 30, able.shape),
        minutes=rng.integers(9, 40, able.shape),
        downhand=rng.integers(5, 15, batches),
        each=(20, 6),
        late=rng.integers(0, 9, batches),
        state=STATE,
        drawn=DRAWN,
        onto=onto,
        mass=rng.choice([5.0, 12.0, 24.0, 60.0], pieces),
        early=early,
        fewest=4,
        by_hand=25.0,
        cuts=tuple(Cut(rng.random(batches) < 0.5, tuple(rng.permutation(pieces)[:3].tolist())) for _ in range(2)),
    )


def groupings(choice: Choice) -> Iterator[tuple[int, ...]]:
    """Every way of riveting pieces to others on the bench: -1, or the piece, itself for one that bears others."""
    pieces = len(choice.mass)
    for chosen in product(range(-1, pieces), repeat=pieces):
        bearing = {h for i, h in enumerate(chosen) if h >= 0}
        if all(h < 0 or ((i == h or choice.onto[i, h]) and chosen[h] == h) for i, h in enumerate(chosen)) and all(
            any(chosen[i] == h and i != h for i in range(pieces)) for h in bearing
        ):
            yield chosen


def can_be_on(choice: Choice, batch: int, group: tuple[int, ...]) -> int:
    """The sub-assembly in which a batch can be driven, -1 for none."""
    own = np.nonzero(choice.plies[batch])[0].tolist()
    head = group[own[0]]
    unit = {i for i, h in enumerate(group) if h == head}
    together = head >= 0 and all(group[i] == head for i in own) and bool(choice.bench[batch])
    cut = any(cut.batches[batch] and set(cut.pieces) <= unit | set(own) for cut in choice.cuts)
    return head if together and not cut else -1


def cost(choice: Choice, group: tuple[int, ...], place: tuple[int, ...]) -> dict[str, int] | None:
    """What one choice comes to; None where it is none: a sub-assembly that its rivets do not hold."""
    on = [(g, can_be_on(choice, g, group)) for g, p in enumerate(place) if p < 0]
    if any(head < 0 for _, head in on):
        return None
    for head in {h for h in group if h >= 0}:
        own = [g for g, h in on if h == head]
        if sum(int(choice.many[g]) for g in own) < choice.fewest:
            return None
        for i, h in enumerate(group):
            if h == head and i != head and not any(choice.plies[g, i] and choice.plies[g, head] for g in own):
                return None
    body = [(g, p) for g, p in enumerate(place) if p >= 0]
    turned = [{p for _, p in body if STATE[p] == k and not DRAWN[p]} for k in range(STATES)]
    turns, lifted = sum(len(ways) + 1 for ways in turned if ways), lifts(choice, group)
    driving = sum(int(choice.minutes[g, p]) for g, p in body) + sum(int(choice.downhand[g]) for g, _ in on)
    return {
        "short": sum(int(choice.short[g, p]) for g, p in body),
        "body": sum(int(choice.many[g]) for g, _ in body),
        "lifted": turns + lifted,
        "hard": sum(int(choice.hard[g, p]) for g, p in body),
        "late": sum(int(choice.late[g]) * int(STATE[p]) for g, p in body),
        "time": driving + choice.each[0] * turns + choice.each[1] * lifted,
    }


def lifts(choice: Choice, group: tuple[int, ...]) -> int:
    """Heavy pieces set up; those off again; those on again, a sub-assembly as one."""
    heads = {h for h in group if h >= 0}
    whole = any(choice.early[h] for h in heads)
    heavy = [i for i, mass in enumerate(choice.mass.tolist()) if mass > 25.0]
    off = [i for i in heavy if whole or not choice.early[i]]
    again = sum(group[i] < 0 for i in off)
    loads = [sum(float(choice.mass[i]) for i, h in enumerate(group) if h == head) for head in heads]
    return len(heavy) + len(off) + again + sum(load > 25.0 for load in loads)


@pytest.mark.parametrize("ranks", [RANK, TIME])
@pytest.mark.parametrize("seed", range(24))
def test_the_best_of_every_choice_is_found_and_proven(seed: int, ranks: tuple[str, ...]) -> None:
    choice = random_choice(seed)
    places = [[-1, *np.nonzero(row)[0].tolist()] for row in choice.able]
    costs = [cost(choice, group, place) for group in groupings(choice) for place in product(*places)]
    best = min(tuple(one[name] for name in ranks) for one in costs if one is not None)
    answer = solve(choice, ranks)
    assert answer is not None
    assert answer.found == answer.bound == best
    chosen = cost(choice, tuple(answer.group.tolist()), tuple(answer.place.tolist()))
    assert chosen is not None
    assert tuple(chosen[name] for name in ranks) == best


def test_the_small_choices_are_true_ones() -> None:
    """In some of them a sub-assembly is best, in some none; some wait for the second state; some are turned over."""
    answers = [answer for answer in (solve(random_choice(seed), TIME) for seed in range(24)) if answer is not None]
    benches = sum(bool((answer.place < 0).any()) for answer in answers)
    assert 4 < benches < 20
    assert sum(bool((answer.place >= WAYS).any()) for answer in answers) > 4
    assert sum(bool((answer.place % WAYS == 1).any() and not DRAWN[answer.place].all()) for answer in answers) > 4


def test_the_same_choice_is_answered_alike_each_time() -> None:
    for seed in range(5):
        one, other = solve(random_choice(seed)), solve(random_choice(seed))
        assert one is not None
        assert other is not None
        assert one.place.tolist() == other.place.tolist()
        assert one.group.tolist() == other.group.tolist()


@pytest.fixture(scope="module")
def box(tmp_path_factory: pytest.TempPathFactory) -> Made:
    return made(random_kits.box(3), tmp_path_factory.mktemp("box"))


@pytest.fixture(scope="module")
def yard(box: Made) -> tuple[Yard, tuple[Phase, ...]]:
    """The yard of an open box, and the phases of its order."""
    job, body, stacks, tables = box.job, box.body, box.stacks, read_tables()
    panels, member = panels_of(body), plies(stacks, len(body.instances))
    place = site(job, body, stacks, panels, ways(job, body, stacks, panels, tables))
    standing, datum = np.ones(len(body.instances), dtype=np.bool_), box.index("F1")
    peeling = peel(place, member, standing, datum)
    found, _ = phases(place, member, peeling, held_back(body, place, member, standing, datum))
    none = np.zeros(len(stacks), dtype=np.bool_)
    scene = Scene(job, body, stacks, place, none, datum, member, none)
    return Yard(scene, seats(job, stacks, tables)), found


def test_an_order_is_proven_whoever_proposes_it(yard: tuple[Yard, tuple[Phase, ...]]) -> None:
    """One that leaves a rivet out, drives it twice, or before a ply of it is on, is no order."""
    place, states = yard
    for one in orders(place, states, benches=True):
        assert proven(place.scene, states, one)
        *before, last = one.shifts
        lost = replace(last, rivets=last.rivets[:-1])
        twice = replace(last, rivets=np.append(last.rivets, last.rivets[0]))
        off = last.phase.present.copy()
        off[np.nonzero(place.scene.member[last.rivets[0]])[0][0]] = False
        early = replace(last, phase=replace(last.phase, present=off))
        for wrong in (lost, twice, early):
            assert not proven(place.scene, states, replace(one, shifts=(*before, wrong)))


def test_a_sub_assembly_is_proven_too(yard: tuple[Yard, tuple[Phase, ...]]) -> None:
    """One whose rivets go through a piece that is not in it is none."""
    place, states = yard
    one = next(one for one in orders(place, states, benches=True) if one.bench.units)
    less = replace(one.bench, units=tuple(unit[:-1] for unit in one.bench.units))
    assert not proven(place.scene, states, replace(one, bench=less))


def test_proposed_orders_are_no_worse_than_the_others(yard: tuple[Yard, tuple[Phase, ...]]) -> None:
    """By time and by rank; what is told as bounds is met by each order: none drives more on the bench, or faster."""
    place, states = yard
    found = [one.tally for one in orders(place, states, benches=True)]
    least, most = proposals(place, states)
    assert min(one.minutes for one in found) == pytest.approx(found[0].minutes)
    for one in found:
        assert one.minutes >= least - 0.02 * found[0].bench
        assert one.bench <= most
    assert max(one.bench for one in found) == most


def proposals(place: Yard, states: tuple[Phase, ...]) -> tuple[float, int]:
    """The bounds of CP-SAT: minutes of any order, rivets on the bench of any."""
    by_rank, by_time = propose(place, states)
    return by_time.bound[1] / PART, by_rank.many - by_rank.bound[1]


def test_without_the_extra_the_plain_orders_stand_and_it_is_told(box: Made, monkeypatch: pytest.MonkeyPatch) -> None:
    whole, _ = order(box.job, box.body, box.stacks, read_tables(), ())
    assert not [line for line in whole.assumptions if "OR-Tools" in line]
    monkeypatch.setitem(sys.modules, "ortools", None)
    plain, _ = order(box.job, box.body, box.stacks, read_tables(), ())
    assert [line for line in plain.assumptions if "OR-Tools is not here (pip install '.[solve]')" in line]
    assert not [one for one in plain.orders if "CP-SAT" in one.name + one.why]
    assert whole.orders[0].minutes <= plain.orders[0].minutes


def test_the_bowser_is_ordered_no_worse_with_it(bowser_plan: Plan) -> None:
    assert bowser_plan.sequence is not None
    found = bowser_plan.sequence.orders
    plain, proposed = ([one for one in found if ("CP-SAT" in one.name) == own] for own in (False, True))
    assert min((one.short, one.minutes) for one in found) == (found[0].short, found[0].minutes)
    assert max(one.bench for one in proposed) >= max(one.bench for one in plain)
    assert [one for one in found if "turn-overs and lifts by this count" in one.why]
    assert [one for one in found if "no order can take less than" in one.why]
