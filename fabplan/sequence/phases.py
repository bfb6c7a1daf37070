"""Phases of riveting: which pieces stand while which rivets are driven, and which closing pieces are held back."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Body
from fabplan.sequence.access import MAN, NOBODY, Access, Site, access
from fabplan.sequence.peel import Peeling

TRIED = 4  # pieces tried as the closing one, those that gain most


@dataclass(frozen=True, slots=True, eq=False)
class Phase:
    """One phase: what stands, which rivets are driven, how they are reached, what is new since the phase before.

    `fitted` are the bolts and tap rivets that are fitted when its rivets are in.
    """

    present: BoolArray
    rivets: IntArray
    reach: Access
    added: IntArray
    fitted: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class HeldBack:
    """Pieces that are bolted in the dry fit and lifted off again: loose ones, and those that close the body."""

    loose: IntArray
    closing: IntArray
    why: str


def held_back(body: Body, site: Site, member: BoolArray, placed: BoolArray, datum: int) -> tuple[HeldBack, ...]:
    """Loose pieces as the job states them, with closing pieces: as stated, else plates that keep most men outside.

    Of plates that the job does not state those that gain most come first; the last has no closing piece.
    """
    specs = [body.part_of(i).spec for i in range(len(body.instances))]
    loose = np.array([i for i, spec in enumerate(specs) if spec.loose and placed[i] and i != datum], dtype=np.int64)
    stated = np.array([i for i, spec in enumerate(specs) if spec.closing and placed[i] and i != datum], dtype=np.int64)
    none = HeldBack(loose, np.zeros(0, dtype=np.int64), "")
    if len(stated):
        return HeldBack(loose, with_hangers(stated, member, placed, datum), "a closing piece by the job file"), none
    if not (access(site, len(member), placed).kind == MAN).any():
        return (none,)
    base = int(access(site, len(member), placed, NOBODY).reached.sum())
    gains: list[tuple[int, IntArray]] = []
    for candidate in np.nonzero(placed)[0].tolist():
        if candidate == datum or specs[candidate].section or specs[candidate].loose:
            continue
        off = with_hangers(np.array([candidate]), member, placed, datum)
        without = placed.copy()
        without[off] = False
        reached = access(site, len(member), without, NOBODY).reached & ~member[:, off].any(axis=1)
        gains.append((int(reached.sum()) - base, off))
    best = sorted((one for one in gains if one[0] > 0), key=lambda one: -one[0])[:TRIED]
    return (*(HeldBack(loose, off, _gained(gain, off, number)) for number, (gain, off) in enumerate(best)), none)


def _gained(gain: int, off: IntArray, number: int) -> str:
    """Why pieces are held back that gain so many rivets: the first of all, or the first that can close the body."""
    them = "it is" if len(off) == 1 else "they are"
    other = "piece that can close" if number else "other piece"
    return f"while {them} off {gain} more rivets are reached from outside: more than for any {other}"


def with_hangers(off: IntArray, member: BoolArray, placed: BoolArray, datum: int) -> IntArray:
    """The pieces `off` and those that hang on nothing else, as indices."""
    gone = np.zeros(len(placed), dtype=np.bool_)
    gone[off] = True
    standing = _tied(datum, member, placed & ~gone)
    return np.nonzero(placed & ~standing)[0].astype(np.int64)


def _tied(datum: int, member: BoolArray, present: BoolArray) -> BoolArray:
    """(m,) True for pieces that rivets tie to the datum through pieces that are present."""
    tied = np.zeros(len(present), dtype=np.bool_)
    tied[datum] = present[datum]
    whole = member[(member & ~present).sum(axis=1) == 0]
    while True:
        grown = tied | (whole[(whole & tied).any(axis=1)].any(axis=0) & present)
        if (grown == tied).all():
            return tied
        tied = grown


def phases(
    site: Site, member: BoolArray, peeling: Peeling, backs: Sequence[HeldBack]
) -> tuple[tuple[Phase, ...], HeldBack]:
    """The phases in order, and what is held back; every rivet outside the core is in one.

    Rivets are driven in the first phase in which they are reached: driving early shuts nobody out. The fewest phases
    that drive every rivet are taken: the whole body with pieces held back, without, then the rounds of the peeling.
    """
    wanted = (peeling.round >= 0) & ~site.nutted & ~site.screwed
    stay = site.nutted | site.screwed
    none = np.zeros(0, dtype=np.int64)
    for rounds in (peeling.present[:1], peeling.present):
        for held in (*backs, HeldBack(none, none, "")):
            found = _run(site, member, _states(rounds, held), wanted)
            wanted_all = int(wanted.sum()) + int((stay & (peeling.round >= 0)).sum())
            if sum(len(phase.rivets) + len(phase.fitted) for phase in found) == wanted_all:
                break
        else:
            continue
        break
    return found, held


def _states(rounds: Sequence[BoolArray], back: HeldBack) -> list[BoolArray]:
    """Growing sets of standing pieces: rounds of peeling backwards without held-back pieces, with the loose, all."""
    off = np.concatenate([back.loose, back.closing])
    states: list[BoolArray] = []
    for present in reversed(rounds):
        state = present.copy()
        state[off] = False
        states.append(state)
    with_loose = rounds[0].copy()
    with_loose[back.closing] = False
    kept: list[BoolArray] = []
    for state in [*states, with_loose, rounds[0]]:
        if not kept or not (state == kept[-1]).all():
            kept.append(state)
    return kept


def _run(site: Site, member: BoolArray, states: list[BoolArray], wanted: BoolArray) -> tuple[Phase, ...]:
    driven = np.zeros(len(member), dtype=np.bool_)
    stay = site.nutted | site.screwed
    before = np.zeros(member.shape[1], dtype=np.bool_)
    found: list[Phase] = []
    for present in states:
        reach = access(site, len(member), present)
        whole = (member & ~present).sum(axis=1) == 0
        now = (wanted | stay) & ~driven & whole & reach.reached
        driven |= now
        rivets, fitted = np.nonzero(now & ~stay)[0], np.nonzero(now & stay)[0]
        found.append(Phase(present, rivets, reach, np.nonzero(present & ~before)[0], fitted))
        before = present
    return tuple(found)
