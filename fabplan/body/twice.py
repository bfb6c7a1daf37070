"""Holes that are to take two fasteners: of two seams, or of a seam and a dummy head."""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from fabplan.body.found import count_of, finding, point, some
from fabplan.body.stacks import claims_of
from fabplan.model.body import Body, Stacks
from fabplan.model.dummies import placed
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job

ONE = "A hole takes one rivet: list all its plies in one seam, or name the rows apart where a seam ends."


def check_twice(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Stacks that two seams claim, and dummy heads in holes that are not free."""
    claims = {hole: [seam for seam, _ in listed] for hole, listed in claims_of(job, body).items()}
    groups: dict[tuple[int, int], list[int]] = {}
    for i in range(len(stacks)):
        holes = _holes(stacks, i)
        counts = Counter(seam for hole in holes for seam in claims.get(hole, ()))
        shared = {seam for hole in holes for seam in claims.get(hole, ()) if len(claims[hole]) > 1}
        both = sorted(seam for seam, many in counts.items() if many > 1)
        for other in both[1:] if shared.issuperset(both) else ():
            groups.setdefault((both[0], other), []).append(i)
    for (one, other), own in groups.items():
        yield _told(job, stacks, own, job.seams[one].mark, f"seam {job.seams[other].mark}")
    yield from _under_dummies(job, body, stacks)


def _holes(stacks: Stacks, i: int) -> list[tuple[int, int]]:
    """Piece and hole of each ply of a stack."""
    plies = slice(int(stacks.first[i]), int(stacks.first[i + 1]))
    return list(zip(stacks.ply_instance[plies].tolist(), stacks.ply_hole[plies].tolist(), strict=True))


def _under_dummies(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Dummy heads where a rivet goes through, or another dummy head sits."""
    owner = np.repeat(np.arange(len(stacks)), np.diff(stacks.first)).tolist()
    holes = zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True)
    taken = dict(zip(holes, owner, strict=True))
    sitting: dict[tuple[int, int], int] = {}
    groups: dict[tuple[int, str], list[int]] = {}
    doubled: dict[tuple[int, int], int] = {}
    for seam, hole in placed(job, body):
        if hole in taken:
            i = taken[hole]
            with_it = f"seam {job.seams[int(stacks.seam[i])].mark}" if stacks.seam[i] >= 0 else "no seam"
            groups.setdefault((seam, with_it), []).append(i)
        elif hole in sitting:
            doubled[sitting[hole], seam] = doubled.get((sitting[hole], seam), 0) + 1
        sitting.setdefault(hole, seam)
    for (seam, with_it), own in groups.items():
        yield _told(job, stacks, own, job.seams[seam].mark, with_it)
    for (one, other), many in doubled.items():
        marks = job.seams[one].mark, job.seams[other].mark
        what = f"seams {marks[0]} and {marks[1]} both put dummy heads on {count_of(many, 'place')}"
        yield finding("hole-used-twice", what, "List the row once.", Where(seam=marks[1]), measured=many, required=0)


def _told(job: Job, stacks: Stacks, own: list[int], mark: str, other: str) -> Finding:
    numbers = tuple(stacks.number[i] for i in own)
    what = f"seam {mark} and {other} both take {count_of(len(own), 'hole')}: {some(numbers)}"
    where = Where(seam=mark, holes=numbers, point=point(stacks.point[own[0]]))
    return finding("hole-used-twice", what, ONE, where, measured=len(own), required=0)
