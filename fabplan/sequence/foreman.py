"""The foreman's own order of riveting, as the job states it: taken as it is, and what it breaks is said."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.sequence.access import Site, access
from fabplan.sequence.causes import causes
from fabplan.sequence.phases import Phase
from fabplan.sequence.scene import Scene

WHY = "the foreman's order in the job has it so"


def foreman(
    job: Job, marks: Sequence[str], site: Site, member: BoolArray, seams: IntArray, standing: tuple[BoolArray, int]
) -> tuple[tuple[Phase, ...], str]:
    """The phases of the stated order, and one more for what it does not name; why pieces come in when they do.

    Args:
        job: with its order.
        marks: of the instances.
        site: what is asked for access.
        member: (n, m) plies of each rivet.
        seams: (n,) seam of each rivet.
        standing: (m,) True for pieces with a place, and the datum, which stands from the first.
    """
    placed, datum = standing
    present = np.zeros(len(marks), dtype=np.bool_)
    present[datum] = True
    done = np.zeros(len(member), dtype=np.bool_)
    phases: list[Phase] = []
    for step in job.order:
        before = present.copy()
        present = present | (np.isin(marks, step.pieces) & placed)
        asked = np.isin(seams, [k for k, seam in enumerate(job.seams) if seam.mark in step.seams])
        phases.append(_phase(site, member, present, (asked, done), before))
        done[np.concatenate([phases[-1].rivets, phases[-1].fitted])] = True
    if not done.all() or (placed & ~present).any():
        phases.append(_phase(site, member, placed.copy(), (np.ones(len(member), dtype=np.bool_), done), present))
    return tuple(phases), WHY


def _phase(
    site: Site, member: BoolArray, present: BoolArray, wanted: tuple[BoolArray, BoolArray], before: BoolArray
) -> Phase:
    """One step: of the rivets asked for and not done those whose plies all stand, and that are reached."""
    asked, done = wanted
    reach = access(site, len(member), present)
    now = asked & ~done & ~(member & ~present).any(axis=1) & reach.reached
    stay = site.nutted | site.screwed
    return Phase(
        present, np.nonzero(now & ~stay)[0], reach, np.nonzero(present & ~before)[0], np.nonzero(now & stay)[0]
    )


def broken(scene: Scene, phases: Sequence[Phase]) -> Iterator[Finding]:
    """What the stated order breaks, step by step, and what it does not name."""
    driven = np.zeros(len(scene.member), dtype=np.bool_)
    standing = np.zeros(scene.member.shape[1], dtype=np.bool_)
    standing[scene.datum] = True
    for number, (step, phase) in enumerate(zip(scene.job.order, phases, strict=False), start=1):
        yield from _hanging(scene, number, phase, standing)
        standing = phase.present
        driven[np.concatenate([phase.rivets, phase.fitted])] = True
        own = [k for k, seam in enumerate(scene.job.seams) if seam.mark in step.seams]
        left = np.nonzero(np.isin(scene.stacks.seam, own) & ~driven)[0]
        missing = (scene.member[left] & ~phase.present).any(axis=1)
        yield from _not_there(scene, number, phase, left[missing])
        yield from _not_reached(scene, number, phase, left[~missing])
    if len(phases) > len(scene.job.order):
        rest = phases[-1]
        seams = dict.fromkeys(scene.stacks.seam[np.concatenate([rest.rivets, rest.fitted])].tolist())
        unnamed = [scene.job.seams[k].mark for k in seams if k >= 0 and not _named(scene.job, scene.job.seams[k].mark)]
        pieces = [scene.mark(int(i)) for i in rest.added]
        what = [f"{word} {', '.join(own)}" for word, own in (("pieces", pieces), ("seams", unnamed)) if own]
        if what:
            told = f"the stated order does not name {' and '.join(what)}: put last"
            yield _finding("order-incomplete", told, "Name them in a further [[order]].", Where())


def _named(job: Job, seam: str) -> bool:
    return any(seam in step.seams for step in job.order)


def _hanging(scene: Scene, number: int, phase: Phase, standing: BoolArray) -> Iterator[Finding]:
    """Pieces put on that no rivet or bolt ties to anything that stands, or comes in with them."""
    tied = standing.copy()
    marks = [scene.mark(i) for i in range(len(standing))]
    welded = np.array([np.isin(marks, one.pieces) for one in scene.job.welds], dtype=np.bool_).reshape(-1, len(marks))
    member = np.vstack([scene.member, welded])
    whole = member[~(member & ~phase.present).any(axis=1)]
    while (grown := tied | (whole[(whole & tied).any(axis=1)].any(axis=0) & phase.present)).sum() > tied.sum():
        tied = grown
    loose = np.nonzero(phase.present & ~tied)[0]
    if len(loose):
        what = f"step {number} of the stated order puts on {scene.marks(loose)}, which nothing that stands holds"
        mend = "Put on before it what it is riveted to."
        yield _finding("order-broken", what, mend, Where(part=scene.mark(int(loose[0]))))


def _not_there(scene: Scene, number: int, phase: Phase, left: IntArray) -> Iterator[Finding]:
    for seam in dict.fromkeys(scene.stacks.seam[left].tolist()):
        own = left[scene.stacks.seam[left] == seam]
        away = np.nonzero((scene.member[own] & ~phase.present).any(axis=0))[0]
        mark = scene.job.seams[seam].mark
        what = f"step {number} of the stated order rivets seam {mark} before {scene.marks(away)} is on"
        numbers = tuple(scene.stacks.number[int(i)] for i in own)
        mend = f"Put on {scene.marks(away)} in this step or an earlier one, or rivet {mark} later."
        yield _finding("order-broken", what, mend, Where(seam=mark, holes=numbers))


def _not_reached(scene: Scene, number: int, phase: Phase, left: IntArray) -> Iterator[Finding]:
    for cause in causes(scene.ways, phase.reach, phase.present, left) if len(left) else ():
        lacks = {"no-driver": "no tool drives", "no-hold-up": "nobody holds up"}.get(cause.check, "nothing brings in")
        way = f"in the way: {scene.marks(cause.parts)}" if cause.parts else "nobody gets to them"
        numbers = tuple(scene.stacks.number[int(i)] for i in cause.rivets)
        seams = ", ".join(dict.fromkeys(scene.job.seams[k].mark for k in scene.stacks.seam[cause.rivets].tolist()))
        what = f"step {number} of the stated order: {lacks} {len(numbers)} rivets of {seams} on {cause.side}; {way}"
        mend = f"Rivet {seams} before {scene.marks(cause.parts) or 'the body is shut'} goes on."
        yield _finding("order-broken", what, mend, Where(holes=numbers))


def _finding(check: str, what: str, mend: str, where: Where) -> Finding:
    return Finding(check, CHECKS[check].level, what, where, source="[[order]] in the job file", mend=mend)
