"""What was set out, read back from what was written: whether the holes of all plies meet, and what is found there."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fabplan.body.check import check_body
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.marks import instance_marks
from fabplan.model.setout import Laid
from fabplan.way.assembly import assembled
from fabplan.way.check import Progress, gravest_first, rule_sets
from fabplan.way.part_checks import check_parts


@dataclass(frozen=True, slots=True)
class Proof:
    """A seam as read back.

    Attributes:
        seam: its mark.
        rivets: stacks of holes in which all its plies have one.
        apart: mm, how far the holes of one rivet are apart at most, across its axis.
    """

    seam: str
    rivets: int
    apart: float


def proved(path: Path, laid: Sequence[Laid], progress: Progress) -> tuple[tuple[Proof, ...], tuple[Finding, ...]]:
    """Seams that were set out as the job that was written has them, and what is found about them.

    Args:
        path: the job file that was written.
        laid: the seams.
        progress: told each stage in a few words.
    """
    made = assembled(path, progress)
    job, stacks = made.job, made.stacks
    progress("reading back")
    plies = np.diff(stacks.first)
    proofs = []
    for one in laid:
        number = next(k for k, seam in enumerate(job.seams) if seam.mark == one.seam)
        drawn = sum(ply.diameter > 0.0 for ply in one.plies)
        whole = (stacks.seam == number) & (plies >= drawn)
        proofs.append(Proof(one.seam, int(whole.sum()), float(stacks.misfit[whole].max(initial=0.0))))
    checked, of_bars = check_parts(job, made.placing.body, stacks, made.tables, rule_sets(job.rules))
    found = [*made.row_findings, *check_body(job, made.placing, made.holes, stacks), *of_bars]
    found += [finding for one in checked for finding in one.findings]
    return tuple(proofs), gravest_first(_about(job, laid, found))


def _about(job: Job, laid: Sequence[Laid], found: Iterable[Finding]) -> Iterator[Finding]:
    """The findings that speak of seams that were set out, or of holes of their rows."""
    seams = {one.seam for one in laid}
    owner = {mark: part.mark for part in job.parts for mark, _ in instance_marks(part)}
    rows = {(mark, ply.row) for one in laid for ply in one.plies for mark in (ply.instance, owner[ply.instance])}
    for finding in found:
        where = finding.where
        parts = {where.part, where.drawing.rsplit(".", 1)[0]}
        own = any((part, hole.rsplit(" ", 1)[0]) in rows for part in parts for hole in where.holes)
        if where.seam in seams or own:
            yield finding
