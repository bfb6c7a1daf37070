"""The best choice of an order of work by CP-SAT, rank by rank, with bounds. OR-Tools is imported here, when used."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from typing import TYPE_CHECKING

import numpy as np

from fabplan.sequence.choice import RANK, Answer, Choice

if TYPE_CHECKING:
    from ortools.sat.python import cp_model

    _Terms = list[tuple[cp_model.IntVar, int]]

EFFORT = 4.0
"""Of the solver's own time for each rank, which is the same on every machine and near seconds."""

GRAMS = 1000  # in a kg: masses are whole numbers for the solver


def solver_there() -> bool:
    """True where OR-Tools is installed."""
    return find_spec("ortools") is not None


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """The model with its unknowns, each 0 or 1.

    Attributes:
        at: by batch and place: it is driven there.
        on: by batch and piece: it is driven on the bench, in that piece's sub-assembly.
        into: by piece and piece: the first is in the sub-assembly of the second; its own piece is in each.
    """

    model: "cp_model.CpModel"
    at: "dict[tuple[int, int], cp_model.IntVar]"
    on: "dict[tuple[int, int], cp_model.IntVar]"
    into: "dict[tuple[int, int], cp_model.IntVar]"

    def unknowns(self) -> "list[cp_model.IntVar]":
        """All of them, in the same order each time."""
        return [one for table in (self.at, self.on, self.into) for one in table.values()]


def solve(choice: Choice, ranks: Sequence[str] = RANK) -> Answer | None:
    """The best choice, or the best that was found in `EFFORT`, the same each time; None where none was found.

    Args:
        choice: what is open.
        ranks: `RANK` or `TIME` of `fabplan.sequence.choice`.
    """
    from ortools.sat.python import cp_model

    made = _made(choice, cp_model.CpModel())
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.max_deterministic_time = EFFORT
    found: list[int] = []
    bound: list[int] = []
    sums = _sums(choice, made)
    for rank in (sums[name] for name in ranks):
        made.model.minimize(rank)
        if solver.solve(made.model) not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        found.append(round(solver.objective_value))
        bound.append(int(np.ceil(solver.best_objective_bound - 1e-6)))
        made.model.add(rank <= found[-1])
        made.model.clear_hints()  # type: ignore[no-untyped-call]
        for one in made.unknowns():
            made.model.add_hint(one, solver.value(one))
    place, group = np.full(len(choice.many), -1), np.full(len(choice.mass), -1)
    for table, numbers in ((made.at, place), (made.into, group)):
        for (number, other), chosen in table.items():
            if solver.boolean_value(chosen):
                numbers[number] = other
    return Answer(place, group, tuple(found), tuple(bound))


def _made(choice: Choice, model: "cp_model.CpModel") -> _Made:
    """The unknowns with what holds between them; the plain choice to begin with, each batch in its first place."""
    able, heads = choice.onto | np.eye(len(choice.mass), dtype=np.bool_), choice.onto.any(axis=0)
    fits = choice.bench[:, None] & heads & ~(choice.plies.astype(np.int64) @ ~able > 0)
    at, on, into = (
        {(int(a), int(b)): model.new_bool_var("") for a, b in np.argwhere(table)}
        for table in (choice.able, fits, able & heads)
    )
    first = choice.able.argmax(axis=1).tolist()
    for (g, p), one in at.items():
        model.add_hint(one, int(p == first[g]))
    for one in (*on.values(), *into.values()):
        model.add_hint(one, 0)
    of_batch, of_piece = defaultdict(list), defaultdict(list)
    for (g, _), one in (*at.items(), *on.items()):
        of_batch[g].append(one)
    for (i, _), one in into.items():
        of_piece[i].append(one)
    for every in of_batch.values():
        model.add_exactly_one(every)
    for every in of_piece.values():
        model.add_at_most_one(every)
    made = _Made(model, at, on, into)
    _units(choice, made)
    _cuts(choice, made)
    return made


def _units(choice: Choice, made: _Made) -> None:
    """Sub-assemblies: all plies of what is driven are in, each piece is held to the first one, rivets are enough."""
    model = made.model
    held, of_head, rivets = defaultdict(list), defaultdict(list), defaultdict(list)
    for (g, h), one in made.on.items():
        rivets[h].append((one, int(choice.many[g])))
        for i in np.nonzero(choice.plies[g])[0].tolist():
            model.add_implication(one, made.into[i, h])
            if choice.plies[g, h] and i != h:
                held[i, h].append(one)
    for (i, h), one in made.into.items():
        if i != h:
            of_head[h].append(one)
            model.add_implication(one, made.into[h, h])
            model.add_bool_or([~one, *held[i, h]])
    for h, others in of_head.items():
        model.add_bool_or([~made.into[h, h], *others])
        model.add(_sum([*rivets[h], (made.into[h, h], -choice.fewest)]) >= 0)


def _cuts(choice: Choice, made: _Made) -> None:
    """What is not reached while some pieces are together is not driven there."""
    for cut in choice.cuts:
        for (g, h), one in made.on.items():
            others = [i for i in cut.pieces if not choice.plies[g, i]]
            if cut.batches[g] and all((i, h) in made.into for i in others):
                made.model.add_bool_or([~one, *(~made.into[i, h] for i in others)])


def _sums(choice: Choice, made: _Made) -> "dict[str, cp_model.LinearExprT]":
    """The sums that are made small, by the names of `fabplan.sequence.choice`."""
    waits = choice.late[:, None] * choice.state[None]
    body = np.repeat(choice.many[:, None], len(choice.state), axis=1)
    costs = {"short": choice.short, "body": body, "hard": choice.hard, "late": waits, "time": choice.minutes}
    terms = {name: [(one, int(cost[key])) for key, one in made.at.items()] for name, cost in costs.items()}
    terms["time"] += [(one, int(choice.downhand[g])) for (g, _), one in made.on.items()]
    turns, (lifts, always) = _turns(choice, made), _lifts(choice, made)
    terms["lifted"] = turns + lifts
    terms["time"] += [(one, choice.each[0] * times) for one, times in turns]
    terms["time"] += [(one, choice.each[1] * times) for one, times in lifts]
    more = {"lifted": always, "time": choice.each[1] * always}
    return {name: _sum(own) + more.get(name, 0) for name, own in terms.items()}


def _sum(terms: "_Terms") -> "cp_model.LinearExprT":
    from ortools.sat.python import cp_model

    return cp_model.LinearExpr.weighted_sum([one for one, _ in terms], [times for _, times in terms])


def _turns(choice: Choice, made: _Made) -> "_Terms":
    """Turn-overs: in each state into every way but as drawn in which it is worked on, and back again."""
    model = made.model
    found: _Terms = []
    back: dict[int, cp_model.IntVar] = {}
    at = defaultdict(list)
    for (_, p), one in made.at.items():
        at[p].append(one)
    for p in (p for p in sorted(at) if not choice.drawn[p]):
        state, used = int(choice.state[p]), model.new_bool_var("")
        if state not in back:
            back[state] = model.new_bool_var("")
            found.append((back[state], 1))
        found.append((used, 1))
        model.add_implication(used, back[state])
        for one in at[p]:
            model.add_implication(one, used)
    return found


def _lifts(choice: Choice, made: _Made) -> "tuple[_Terms, int]":
    """Lifts by crane as `fabplan.sequence.orders` counts them, and how many there are in any case.

    Set up, apart, and on again, the pieces of a sub-assembly as one.
    """
    model, heavy = made.model, choice.mass > choice.by_hand
    parted = model.new_bool_var("")
    found: _Terms = [(parted, 2 * int((heavy & choice.early).sum()))]
    found += [(one, -int(heavy[i])) for (i, _), one in made.into.items()]
    grams = np.rint(choice.mass * GRAMS).astype(np.int64)
    loads: defaultdict[int, _Terms] = defaultdict(list)
    for (i, h), one in made.into.items():
        loads[h].append((one, int(grams[i])))
    for h, load in loads.items():
        crane = model.new_bool_var("")
        found.append((crane, 1))
        model.add(_sum([*load, (crane, -int(grams.sum()))]) <= int(choice.by_hand * GRAMS))
        if choice.early[h]:
            model.add_implication(made.into[h, h], parted)
    return found, int(heavy.sum()) + 2 * int((heavy & ~choice.early).sum())
