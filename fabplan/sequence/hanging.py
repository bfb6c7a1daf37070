"""Pieces that nothing joins to what stands: they wait till something does, or are riveted to one another on the bench.

Peeling asks for reach alone: what it leaves of a body may be in several parts, and a part that hangs in the air beside
the datum is a state in which its rivets are reached, but none in which anybody drives them.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import networkx as nx
import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Body
from fabplan.model.job import Job
from fabplan.sequence.access import Site, access
from fabplan.sequence.phases import Phase


@dataclass(frozen=True, slots=True, eq=False)
class Aside:
    """Pieces (p,) that only their own rivets (k,) hold together, which no later state of the body reaches all of."""

    pieces: tuple[int, ...]
    rivets: IntArray


def ties_of(job: Job, body: Body, member: BoolArray) -> BoolArray:
    """(t, m) True for the pieces that each rivet, bolt or weld joins."""
    marks = [instance.mark for instance in body.instances]
    welded = np.array([np.isin(marks, weld.pieces) for weld in job.welds], dtype=np.bool_).reshape(-1, len(marks))
    return np.unique(np.vstack([member, welded]), axis=0)


def tied(ties: BoolArray, present: BoolArray, start: BoolArray) -> BoolArray:
    """(m,) True for pieces that whole ties join, by way of pieces that are present, to those of `start` (m,)."""
    whole = ties[~(ties & ~present).any(axis=1)]
    found = start & present
    while True:
        grown = found | whole[(whole & found).any(axis=1)].any(axis=0)
        if (grown == found).all():
            return found
        found = grown


def grounded(
    site: Site, member: BoolArray, ties: BoolArray, found: Sequence[Phase], datum: int
) -> tuple[tuple[Phase, ...], tuple[Aside, ...]]:
    """The phases with every piece that comes in joined to what stands, and what is riveted on the bench before them.

    Pieces wait for the phase in which something joins them. Rivets between them that are out of reach by then are
    driven on the bench. What nothing ever joins to the datum is set in its place, as it was. Where neither drives a
    rivet the phases stay as they are.

    Args:
        site: the site.
        member: (n, m) plies of each rivet.
        ties: (t, m) what each rivet, bolt and weld joins.
        found: phases whose states grow.
        datum: index of the datum.
    """
    base = np.arange(member.shape[1]) == datum
    ever = tied(ties, found[-1].present, base)
    states = [phase.present & (tied(ties, phase.present, base) | ~ever) for phase in found]
    if all((state == phase.present).all() for state, phase in zip(states, found, strict=True)):
        return tuple(found), ()
    rivets, fitted = (np.concatenate([getattr(one, name) for one in found]) for name in ("rivets", "fitted"))
    phases = _again(site, member, states, (rivets, fitted))
    left = np.setdiff1d(rivets, np.concatenate([phase.rivets for phase in phases]))
    asides = tuple(_asides(site, member, ties, found, (states, left)))
    none = [np.zeros(0, dtype=np.int64)]
    apart = np.concatenate([*none, *(aside.rivets for aside in asides)])
    bolts = np.concatenate([*none, *(phase.fitted for phase in phases)])
    if np.setdiff1d(left, apart).size or np.setdiff1d(fitted, bolts).size:
        return tuple(found), ()
    return tuple(replace(one, rivets=np.setdiff1d(one.rivets, apart)) for one in phases), asides


def _again(
    site: Site, member: BoolArray, states: Sequence[BoolArray], wanted: tuple[IntArray, IntArray]
) -> tuple[Phase, ...]:
    """Phases of other states: rivets and what is fitted, each in the first that reaches it, from where work begins."""
    phases: list[Phase] = []
    left = [np.isin(np.arange(len(member)), own) for own in wanted]
    before = np.zeros(member.shape[1], dtype=np.bool_)
    for number, present in enumerate(states, start=1):
        reach = access(site, len(member), present)
        now = ~(member & ~present).any(axis=1) & reach.reached
        rivets, fitted = (np.nonzero(own & now)[0] for own in left)
        left = [own & ~now for own in left]
        if phases or len(rivets) or len(fitted) or number == len(states):
            phases.append(Phase(present, rivets, reach, np.nonzero(present & ~before)[0], fitted))
            before = present
    return tuple(phases)


def _asides(
    site: Site, member: BoolArray, ties: BoolArray, found: Sequence[Phase], waits: tuple[Sequence[BoolArray], IntArray]
) -> Iterator[Aside]:
    """What hangs in each phase and holds rivets of those that wait in vain, with all its rivets that are reached."""
    states, left = waits
    for phase, state in zip(found, states, strict=True):
        for pieces in _groups(ties, phase.present & ~state):
            own = np.isin(np.arange(member.shape[1]), pieces)
            within = ~(member & ~own).any(axis=1)
            if np.isin(left, np.nonzero(within)[0]).any():
                reached = within & access(site, len(member), own).reached & ~site.nutted & ~site.screwed
                yield Aside(pieces, np.nonzero(reached)[0])
                left = np.setdiff1d(left, np.nonzero(reached)[0])


def _groups(ties: BoolArray, hanging: BoolArray) -> Iterator[tuple[int, ...]]:
    """Groups of pieces that hang together, of those that hang at all."""
    graph: nx.Graph[int] = nx.Graph()
    for tie in ties[~(ties & ~hanging).any(axis=1)]:
        nx.add_path(graph, np.nonzero(tie)[0].tolist())
    yield from sorted(tuple(sorted(one)) for one in nx.connected_components(graph))
