"""Feasibility: the whole body taken apart backwards, rivet by rivet and piece by piece. What stays cannot be built."""

from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.flood import no_space
from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Stacks
from fabplan.sequence.access import BY_OPENINGS, Access, Site, access


@dataclass(frozen=True, slots=True, eq=False)
class Peeling:
    """How a body comes apart.

    Attributes:
        round: (n,) in which round each rivet was undone, from 0; -1 for the core.
        present: for each round the instances (m,) that stood.
        last: access in the state that stayed, or in the last round.
    """

    round: IntArray
    present: tuple[BoolArray, ...]
    last: Access


def plies(stacks: Stacks, instances: int) -> BoolArray:
    """(n, m) True where an instance is a ply of a rivet."""
    member = np.zeros((len(stacks), instances), dtype=np.bool_)
    member[np.repeat(np.arange(len(stacks)), np.diff(stacks.first)), stacks.ply_instance] = True
    return member


def peel(
    site: Site,
    member: BoolArray,
    standing: BoolArray,
    datum: int,
    men: int = BY_OPENINGS,
    done: BoolArray | None = None,
) -> Peeling:
    """Undo every rivet that both sides reach, take off every piece that nothing holds, again until nothing comes.

    Args:
        site: the site.
        member: (n, m) plies of each rivet.
        standing: (m,) True for the instances that stand at first; a rivet of another one is not driven yet.
        datum: index of the datum, which stays till the last.
        men: where men go, see `fabplan.sequence.access`.
        done: (n,) True for rivets that are driven on the bench, before their pieces are here; the others hold all of
            what they are riveted to, see `fabplan.sequence.bench.held_by`.
    """
    rivets = len(member)
    undone = np.full(rivets, -1, dtype=np.int64)
    undone[done if done is not None else []] = 0
    whole = ~(member & ~standing).any(axis=1)
    present = standing.copy()
    states: list[BoolArray] = []
    last = access(site, rivets, present, men)
    while True:
        states.append(present.copy())
        fresh = (undone < 0) & whole & last.reached
        undone[fresh] = len(states) - 1
        left = (undone < 0) & whole
        loose = present & ~member[left].any(axis=0)
        loose[datum] = False
        if not left.any() or not loose.any():
            return Peeling(undone, tuple(states), last)
        present &= ~loose
        last = access(site, rivets, present, men)


def in_no_order(site: Site, member: BoolArray, left: IntArray, datum: int) -> IntArray:
    """Of the rivets `left` (k,) those that no order drives, whatever else it leaves out.

    They are out of reach while nothing but their plies and the datum stands. Most others are reached from outside then,
    which is asked first: the room in the body need not be known for it.
    """
    bare = replace(site, space=no_space(site.space), openings=(), answers={}, entries={})
    found: list[int] = []
    for own in np.unique(member[left], axis=0):
        rivets = left[(member[left] == own).all(axis=1)]
        present = own.copy()
        present[datum] = True
        for ground in (bare, site):
            rivets = rivets[~access(ground, len(member), present).reached[rivets]] if len(rivets) else rivets
        found += rivets.tolist()
    return np.array(sorted(found), dtype=np.int64)
