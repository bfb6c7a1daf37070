"""In which order a body is laid which way while its runs of rivets are driven: the least time, proved by enumeration.

In each stage, a state of the body, any set of its ways of lying may be gone through; each run is driven in that of the
set in which it takes least. A programme over stages and the way in which each ends finds the least sum.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

AS_BEFORE = -1


@dataclass(frozen=True, slots=True, eq=False)
class Stage:
    """One state of the body. Directions are numbered alike in all stages.

    Attributes:
        minutes: (k, d) what each run takes in each direction.
        allowed: (d,) directions in which this state can lie.
        turn: minutes of a turn-over; inf where it cannot be turned.
        begins: the direction in which it lies at first, or `AS_BEFORE`.
    """

    minutes: FloatArray
    allowed: BoolArray
    turn: float
    begins: int = AS_BEFORE


@dataclass(frozen=True, slots=True, eq=False)
class Lying:
    """The outcome: minutes in all, turn-overs, for each stage the directions in order and that of each run (k,)."""

    minutes: float
    turns: int
    orders: tuple[tuple[int, ...], ...]
    of_run: tuple[IntArray, ...]


Way = tuple[float, int, tuple[tuple[int, ...], ...]]
"""Minutes, turn-overs and directions of the stages so far."""


def lie(stages: Sequence[Stage], first: int, last: int, laid: FloatArray | None = None) -> Lying:
    """The way of least minutes through the stages, from one direction to another; of equals that with fewest turns.

    Args:
        stages: states of the body, in order.
        first: direction in which it lies before.
        last: in which it is laid at the end.
        laid: (d,) minutes of bringing it into each direction at first, and of bringing it back at the end, in place of
            turn-overs; each such, where it takes any time, counts as one.
    """
    best: dict[int, Way] = {first: (0.0, 0, ())}
    if laid is not None:
        best = {k: (minutes, int(minutes > 0.0), ()) for k, minutes in enumerate(laid.tolist()) if np.isfinite(minutes)}
    turn = 0.0
    for stage in stages:
        sets = list(_sets(stage))
        following: dict[int, Way] = {}
        for start, way in sorted(best.items()):
            for chosen, work in sets:
                for after in _gone_through(stage, _begun(stage, start, way, turn), chosen, work):
                    end = after[2][-1][-1] if after[2][-1] else _begin(stage, start)
                    following[end] = min(after, following.get(end, after))
        best, turn = following, stage.turn
    return _whole(stages, best, last, turn if laid is None else laid)


def _begin(stage: Stage, start: int) -> int:
    return start if stage.begins == AS_BEFORE else stage.begins


def _begun(stage: Stage, start: int, way: Way, turn: float) -> tuple[int, Way]:
    """The direction in which a stage begins; the way up to it, with a turn-over in the state before where needed."""
    begin = _begin(stage, start)
    turned = begin != start
    return begin, (way[0] + turn, way[1] + 1, way[2]) if turned else way


def _gone_through(stage: Stage, begun: tuple[int, Way], chosen: tuple[int, ...], work: float) -> Iterator[Way]:
    """The ways on through a set of directions."""
    begin, (minutes, turns, orders) = begun
    for visit in _visits(chosen, begin):
        more = len(visit) - 1 if not visit or begin == visit[0] else len(visit)
        more = max(more, 0)
        cost = minutes + work + (more * stage.turn if more else 0.0)
        if np.isfinite(cost):
            yield cost, turns + more, (*orders, visit)


def _sets(stage: Stage) -> Iterator[tuple[tuple[int, ...], float]]:
    """Every set of directions gone through, with what all runs take in it; the empty one where there is no run.

    Sets in which a direction is best for no run are left out: nobody turns it that way.
    """
    able = np.nonzero(stage.allowed)[0].tolist()
    if not len(stage.minutes):
        yield (), 0.0
        return
    for count in range(1, (len(able) if np.isfinite(stage.turn) else 1) + 1):
        for chosen in combinations(able, count):
            minutes = stage.minutes[:, chosen]
            if len(np.unique(minutes.argmin(axis=1))) == count:
                yield chosen, float(minutes.min(axis=1).sum())


def _visits(chosen: tuple[int, ...], begin: int) -> Iterator[tuple[int, ...]]:
    """Orders of a set of directions, one for each end that it may have: first that in which the body lies."""
    if len(chosen) < 2:
        yield chosen
        return
    for end in chosen:
        if end != begin:
            middle = [one for one in chosen if one not in (begin, end)]
            yield (*((begin,) if begin in chosen else ()), *middle, end)


def _whole(stages: Sequence[Stage], best: dict[int, Way], last: int, turn: float | FloatArray) -> Lying:
    """The way chosen, turned to `last` at its end in so many minutes, with the direction of each run."""
    ends = []
    for end, (minutes, turns, orders) in sorted(best.items()):
        more = int(last != end)
        takes = (turn if isinstance(turn, float) else float(turn[end])) if more else 0.0
        if np.isfinite(takes):
            ends.append((minutes + takes, turns + more, orders))
    minutes, turns, orders = min(ends)
    of_run = tuple(
        np.array(order)[stage.minutes[:, order].argmin(axis=1)] if order else np.zeros(0, dtype=np.int64)
        for stage, order in zip(stages, orders, strict=True)
    )
    return Lying(minutes, turns, orders, of_run)
