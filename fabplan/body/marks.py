"""Marks that stand for two things on the steel: a seam's and a piece's."""

from collections.abc import Iterator

from fabplan.body.found import count_of, finding
from fabplan.model.body import Body
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job


def check_marks(job: Job, body: Body) -> Iterator[Finding]:
    """One query for the seams that bear the mark of a piece: both are written on the steel and called out."""
    pieces = {part.mark for part in job.parts} | {one.mark for one in body.instances}
    both = [seam.mark for seam in job.seams if seam.mark in pieces]
    if both:
        bear = "bears the mark of a piece" if len(both) == 1 else "bear marks of pieces"
        yield finding(
            "one-mark",
            f"{count_of(len(both), 'seam')} {bear}: {', '.join(both)}; both are written on the steel",
            f"Give seams marks of their own, as J{both[0]}, and their rows with them.",
            Where(seam=both[0]),
        )
