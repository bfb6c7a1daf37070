"""The finding on a row that as a whole does not meet its mate: set out elsewhere, longer, askew, its face apart."""

import numpy as np

from fabplan.body.blame import Case, blame, by_master
from fabplan.body.compare import Shift, Skew, Stretch
from fabplan.body.fit import touching
from fabplan.body.found import finding, flat, point
from fabplan.body.joint import row_name
from fabplan.geom.tolerance import TOUCH
from fabplan.model.clearance import CLEARANCE
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Where


def shifted(case: Case, shift: Shift) -> Finding:
    """All holes of one of two rows lie elsewhere by the same."""
    rows = " and ".join(_rows(case))
    what = (
        f"{case.joint.found.count} holes of {rows} lie {shift.along:.2f} mm along the row and {shift.across:.2f} mm "
        f"across it from one another, all alike, faces {shift.gap:.2f} mm apart"
    )
    mend = "One of the rows is set out from a wrong point: look at its end distance and back mark."
    return _misfit(case, what, mend, shift.size, shift.across)


def stretched(case: Case, stretch: Stretch) -> Finding:
    """One of two rows is longer, all spaces alike."""
    runs = (f"{row} runs {length:.2f} mm" for row, length in zip(_rows(case), stretch.lengths, strict=True))
    what = (
        f"{' and '.join(runs)} from the first of {len(case.joint.link.row_a.points)} holes to the last: "
        f"{stretch.step:.3f} mm a space apart, growing to {_out(case, stretch.worst)} mm as placed"
    )
    mend = "Correct the pitch of the row that is wrong, or divide its length anew."
    return _misfit(case, what, mend, stretch.worst)


def skewed(case: Case, skew: Skew) -> Finding:
    """The lines of a row lie otherwise against one another in one piece than in the other."""
    off = (f"{length:.2f} mm off in {row}" for row, length in zip(_rows(case), skew.apart, strict=True))
    what = (
        f"line {skew.line} of holes lies {' and '.join(off)} from line 1, and {skew.along:.2f} mm elsewhere along it: "
        f"holes out by {_out(case, skew.worst)} mm as placed"
    )
    mend = "Set the lines of one row out from one point, and at the same distance in both pieces."
    return _misfit(case, what, mend, skew.worst)


def apart(case: Case) -> Finding:
    """The faces of two plies do not touch, or lie into one another."""
    mark, gap = case.job.seams[case.joint.link.seam].mark, case.joint.found.gap
    how = f"{gap:.1f} mm apart" if gap > 0.0 else f"{-gap:.1f} mm into one another"
    first, why = blame(case)
    between = _between(case, gap)
    if between:
        why = f"{between}, a ply of the same seam, fills the gap: list the plies in the order in which they lie"
    link = case.joint.link
    return finding(
        "plies-apart",
        f"seam {mark}: the faces of {case.mark(link.a)} and {case.mark(link.b)} are "
        f"{how if np.isfinite(gap) else 'not parallel'}; look first at {case.mark(first)}: {why}",
        "Look at the thickness of both plies and of what lies between, and at the back marks of the rows that hold "
        "them; a packing is a part of the kit.",
        _where(case, first),
        measured=gap,
        required=0.0,
    )


def _rows(case: Case) -> tuple[str, str]:
    """The names of both rows, with their pieces."""
    link = case.joint.link
    one, other = (
        f"row {row_name(case.body, i, row)} of {case.mark(i)}"
        for i, row in ((link.a, link.row_a), (link.b, link.row_b))
    )
    return one, other


def _out(case: Case, worst: float) -> str:
    """How far holes are out, in as many figures as tell it from what is allowed."""
    return unlike(worst, case.joint.link.allowed)[0]


def _misfit(case: Case, what: str, mend: str, size: float, across: float = 0.0) -> Finding:
    """The finding on a row out by `size` mm; `across`: how much of it lies across the row."""
    allowed = case.joint.link.allowed
    first, why = blame(case, across)
    ends = (case.joint.link.a, case.joint.link.b)
    steel = [case.mark(i) for i in ends if case.body.part_of(i).spec.master]
    drawn = [case.mark(i) for i in ends if case.mark(i) not in steel]
    return finding(
        "misfit",
        f"seam {case.job.seams[case.joint.link.seam].mark}: {what}; usable clearance {unlike(size, allowed)[1]} mm; "
        f"look first at {case.mark(first)}: {why}",
        by_master(steel, drawn) if steel else mend,
        _where(case, first),
        measured=size,
        required=allowed,
        source=CLEARANCE,
    )


def _where(case: Case, first: int) -> Where:
    """The row of the piece to look at first; of a piece that only holds one of the joint, the piece."""
    link, part = case.joint.link, case.body.part_of(first)
    points = touching(link, case.joint.found, *case.joint.poses)[1]
    own = [int(hole) for i, row in ((link.a, link.row_a), (link.b, link.row_b)) if i == first for hole in row.holes]
    return Where(
        drawing=part.spec.drawing,
        part=case.mark(first),
        seam=case.job.seams[link.seam].mark,
        holes=tuple(part.holes.holes.number[hole] for hole in own),
        xy=flat(part.holes.holes.xy[own[0]]) if own else None,
        point=point(points.mean(axis=0)),
    )


def _between(case: Case, gap: float) -> str:
    """The mark of another ply of the seam that is as thick as a gap, mm; "" for none."""
    seam, link = case.job.seams[case.joint.link.seam], case.joint.link
    for index, instance in enumerate(case.body.instances):
        listed = instance.mark in {ply.instance for ply in seam.plies} and index not in (link.a, link.b)
        if listed and any(abs(panel.thickness - gap) <= TOUCH for panel in case.body.part_of(index).panels):
            return instance.mark
    return ""
