"""Which of two pieces whose rows do not meet is the one to look at first, and on what evidence."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.body.found import count_of
from fabplan.body.joint import Joint, row_name
from fabplan.body.rows import Row
from fabplan.geom.tolerance import FIGURE
from fabplan.model.body import Body
from fabplan.model.job import Job

IN_LINE = 0.1
"""Rows of one panel that lie within this of one line, mm, were set out from one back mark."""

Blame = tuple[int, str]
"""The instance to look at first, and why in words."""


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """One joint whose rows do not meet, and all joints of the body.

    Attributes:
        job, body: the job and its body.
        fits, out: the joints that close and those that do not.
        joint: the one in question.
        named: the mark that a likely cause names, "" for none.
    """

    job: Job
    body: Body
    fits: tuple[Joint, ...]
    out: tuple[Joint, ...]
    joint: Joint
    named: str = ""

    @property
    def ways(self) -> tuple[tuple[int, int], tuple[int, int]]:
        """Both pieces, each with the other."""
        return (self.joint.link.a, self.joint.link.b), (self.joint.link.b, self.joint.link.a)

    def mark(self, instance: int) -> str:
        """Mark of a piece."""
        return self.body.instances[instance].mark

    def fitting(self, instance: int) -> list[Joint]:
        """The other joints of a piece that close."""
        return [one for one in self.fits if one is not self.joint and instance in _ends(one)]

    def seams(self, joints: list[Joint]) -> str:
        """Marks of seams."""
        return ", ".join(dict.fromkeys(self.job.seams[one.link.seam].mark for one in joints))


def blame(case: Case, across: float = 0.0) -> Blame:
    """The piece to look at first; where nothing tells, the second of the seam, and that it is not known.

    Args:
        case: the joint.
        across: how far its rows lie apart across them, mm.
    """
    for rule in (_named, _master, _stated, _several_out, _twin):
        found = rule(case)
        if found is not None:
            return found
    found = _in_line(case) if across > IN_LINE else None
    return found or _hung(case) or _undecided(case)


def _ends(joint: Joint) -> tuple[int, int]:
    return joint.link.a, joint.link.b


def _row(joint: Joint, instance: int) -> Row:
    return joint.link.row_a if joint.link.a == instance else joint.link.row_b


def _named(case: Case) -> Blame | None:
    """The piece that a likely cause names: with one thing changed of it the whole body closes."""
    named = [i for i in _ends(case.joint) if case.named and case.body.part_of(i).spec.mark == case.named]
    return (named[0], "the finding likely-cause says why") if len(named) == 1 else None


def _master(case: Case) -> Blame | None:
    """The piece that is drawn, against one whose holes were measured: those are steel."""
    drawn = [i for i in _ends(case.joint) if not case.body.part_of(i).spec.master]
    if len(drawn) != 1:
        return None
    other = next(i for i in _ends(case.joint) if i != drawn[0])
    return drawn[0], f"the holes of {case.mark(other)} are where they were measured, and are master"


def by_master(marks: Sequence[str], drawn: Sequence[str]) -> str:
    """The remedy where the holes of some plies were measured (`marks`) and those of others are `drawn`."""
    steel, others = " and ".join(marks), " and ".join(drawn)
    if not drawn:
        return f"{steel} are steel: open to the next size of rivet by a concession, or weld up and drill again."
    return (
        f"Draw the holes of {others} where those of {steel} were measured, or drill them through from there "
        '(`state = "drilled from mate"`); measure again first where the figures look wrong.'
    )


def _stated(case: Case) -> Blame | None:
    """A piece that stands where a [[place]] puts it, against one that a seam or the datum puts there."""
    stated = [case.body.reasons[i].startswith("placed as the job states") for i in _ends(case.joint)]
    if sum(stated) != 1:
        return None
    one = _ends(case.joint)[stated.index(True)]
    return one, f"{case.mark(one)} stands where its [[place]] puts it"


def _several_out(case: Case) -> Blame | None:
    """The piece with several seams out, against one that is out at this one alone or at fewer."""
    for one, other in case.ways:
        mine, yours = ([joint for joint in case.out if i in _ends(joint)] for i in (one, other))
        if len(mine) > max(1, len(yours)):
            return _hung_on(case, one, f"{case.mark(one)} is out at {len(mine)} seams ({case.seams(mine)})")
    return None


def _twin(case: Case) -> Blame | None:
    """The piece without a twin whose same row fits, against one with such a twin: they are made to the same figures."""
    twins = [_fitting_twin(case, i, _row(case.joint, i)) for i in _ends(case.joint)]
    if (twins[0] is None) == (twins[1] is None):
        return None
    right = 0 if twins[0] is not None else 1
    cleared, wrong = _ends(case.joint)[right], _ends(case.joint)[1 - right]
    row = row_name(case.body, cleared, _row(case.joint, cleared))
    return wrong, f"row {row} of {case.mark(twins[right] or 0)}, made to the same figures as {case.mark(cleared)}, fits"


def _fitting_twin(case: Case, instance: int, row: Row) -> int | None:
    """Another piece of the same part whose row of that name closes its seam."""
    part, name = case.body.part_of(instance).spec.mark, row_name(case.body, instance, row)
    for joint in case.fits:
        for end in _ends(joint):
            same = end != instance and case.body.part_of(end).spec.mark == part
            if same and name == row_name(case.body, end, _row(joint, end)):
                return end
    return None


def _in_line(case: Case) -> Blame | None:
    """The piece whose row stands alone, against one whose row lies in line with another that fits."""
    ranged = [any(_ranged(case, i, one) for one in case.fitting(i)) for i in _ends(case.joint)]
    if ranged[0] == ranged[1]:
        return None
    right = ranged.index(True)
    cleared, wrong = _ends(case.joint)[right], _ends(case.joint)[1 - right]
    row = row_name(case.body, cleared, _row(case.joint, cleared))
    return wrong, f"row {row} of {case.mark(cleared)} lies in line with another row of it that fits"


def _ranged(case: Case, instance: int, other: Joint) -> bool:
    """True where the row of the joint in question and that of another are one line on one panel."""
    one, two = _row(case.joint, instance), _row(other, instance)
    if one.panel != two.panel or min(len(one.points), len(two.points)) < 2 or np.array_equal(one.holes, two.holes):
        return False
    both = np.vstack([one.points, two.points])
    spread = np.linalg.svd(both - both.mean(axis=0), full_matrices=False)
    off = (both - both.mean(axis=0)) @ spread[2][1:].T
    return bool(np.abs(off).max() <= IN_LINE + FIGURE)


def _hung(case: Case) -> Blame | None:
    """The piece that one other seam or none holds, against one that is held by several."""
    for one, other in case.ways:
        if len(case.fitting(one)) <= 1 and len(case.fitting(other)) >= 2:
            why = f"the other {count_of(len(case.fitting(other)), 'seam')} of {case.mark(other)} fit"
            return _hung_on(case, one, why)
    return None


def _hung_on(case: Case, one: int, why: str) -> Blame:
    """A piece that stands by one seam alone may have been led astray by the piece that holds it there."""
    held = case.fitting(one)
    if len(held) != 1:
        return one, why
    (hook,) = held
    holder = next(i for i in _ends(hook) if i != one)
    row = f"row {row_name(case.body, holder, _row(hook, holder))} of {case.mark(holder)}"
    stands = f"{case.mark(one)} stands by seam {case.seams(held)} alone"
    mine = [joint for joint in (*case.out, *case.fits) if one in _ends(joint)]
    if all(_fitting_twin(case, one, _row(joint, one)) is not None for joint in mine):
        return holder, f"{stands} and its twin, made to the same figures, fits: look at {row}"
    return one, f"{why}; {stands}, so look at {row} too"


def _undecided(case: Case) -> Blame:
    """The second of the seam, with what speaks for each."""
    one, other = _ends(case.joint)
    fit = [len(case.fitting(i)) for i in (one, other)]
    if not any(fit):
        return other, f"nothing tells it from {case.mark(one)}, and no other seam of either fits"
    return other, (
        f"nothing tells it from {case.mark(one)}, of which {count_of(fit[0], 'other seam')} "
        f"{'fits' if fit[0] == 1 else 'fit'}, of {case.mark(other)} {fit[1]}"
    )
