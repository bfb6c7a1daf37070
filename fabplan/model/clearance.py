"""How far the holes of one rivet may be out: what it has to spare in them, or what opening them in place mends."""

from collections.abc import Sequence

import numpy as np

from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job
from fabplan.model.joints import FROM_MATE, PlySpec, RivetSpec, SeamSpec

CLEARANCE = "ISO 9013 class 1 cutting deviation; growth of a hot rivet 1.2 % from memory"
"""Source of the usable clearance."""

SAME_SIZE = 0.01
"""Drawn diameters that differ by no more than this, mm, are one size."""

OPENED = ("pilot", "reamed")
LATER = (*OPENED, "mark")
"""States of holes that are opened to size through all plies when these are together; all that are not cut to size."""


def usable_clearance(job: Job, rivet: int, hole: float) -> float:
    """How far two holes of one rivet may be out before it no longer passes, mm.

    Smallest hole as cut, less the rivet, fatter when hot (ISO 9013 class 1 deviation and 1.2 % growth, the latter
    from memory; both are settings of the shop).
    """
    spec = job.rivets[rivet]
    growth = 1.0 + (job.shop.hot_growth if spec.closing == "hot" else 0.0)
    return hole - job.shop.cutting_deviation - spec.diameter * growth


def allowed_out(job: Job, rivet: int, plies: Sequence[tuple[str, float]]) -> float:
    """How far two holes of one rivet may be out, mm, at least 0.

    Where the holes of a ply are opened in place, the circle of the finished hole needs only to hold all that are
    drawn: two of them, of diameters a and b, as long as they are out by no more than hole - (a + b) / 2. A centre mark
    is drilled to the finished hole before. A screw stands fixed in its thread: half the play is left on either side.

    Args:
        job: the job.
        rivet: index of the rivet.
        plies: state and drawn diameter, mm, of the hole in each ply that takes the shank.
    """
    spec = job.rivets[rivet]
    drawn = sorted(spec.hole if state == "mark" else diameter for state, diameter in plies)
    spare = usable_clearance(job, rivet, drawn[0])
    if any(state in OPENED for state, _ in plies):
        spare = max(spare, spec.hole - sum(drawn[-2:]) / 2.0)
    return max(spare if spec.tapped is None else spare / 2.0, 0.0)


def row_allowed(job: Job, seam: SeamSpec, ends: Sequence[tuple[PlySpec, Sequence[float]]]) -> float:
    """How far the holes of two rows of a seam may be out, mm; not at all where a fastener is not known.

    That of the fastener with least to spare, in those holes that suit it; of each row the size that leaves least: the
    smallest hole as cut, the largest where it is opened in place. Holes tapped for a screw take no shank.

    Args:
        job: the job.
        seam: the seam.
        ends: both listed plies with the drawn diameters of the holes in their rows, mm.
    """
    rivets = {rivet.mark: number for number, rivet in enumerate(job.rivets)}
    if not rivets.keys() >= set(seam.fasteners):
        return 0.0
    specs = [job.rivets[rivets[mark]] for mark in seam.fasteners]
    tapped = {spec.tapped for spec in specs}
    found = []
    for spec in specs:
        plies = []
        for ply, drawn in ends:
            if spec.tapped is None or ply is not seam.plies[-1]:
                sizes = _suiting(spec, [size for size in drawn if size not in tapped], several=len(specs) > 1)
                plies += [(ply.state, max(sizes) if ply.state in OPENED else min(sizes))] if sizes else []
        found += [allowed_out(job, rivets[spec.mark], plies)] if plies else []
    return min(found, default=0.0)


def _suiting(spec: RivetSpec, sizes: Sequence[float], several: bool) -> Sequence[float]:
    """Of the holes of a row those that suit one of `several` fasteners; all where none has its size."""
    return [size for size in sizes if several and abs(size - spec.hole) <= SAME_SIZE] or sizes


def ply_states(job: Job, body: Body, stacks: Stacks, i: int) -> list[tuple[str, float]]:
    """State and drawn diameter of the holes of one stack that take the shank: not the one tapped for its thread."""
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    if stacks.rivet[i] >= 0 and job.rivets[int(stacks.rivet[i])].tapped is not None:
        plies = plies[:-1]
    plies_of = job.seams[int(stacks.seam[i])].plies if stacks.seam[i] >= 0 else ()
    mate = next((ply.state for ply in plies_of if ply.state != FROM_MATE), "full")  # a drilled ply has its mate's holes
    listed = {ply.instance: mate if ply.state == FROM_MATE else ply.state for ply in plies_of}
    sizes = ply_diameters(body, stacks, i)
    marks = [body.instances[int(stacks.ply_instance[k])].mark for k in plies]
    return [(listed.get(mark, "full"), size) for mark, size in zip(marks, sizes.tolist(), strict=False)]


def ply_diameters(body: Body, stacks: Stacks, i: int) -> FloatArray:
    """(k,) mm, the holes of one stack."""
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    return np.array(
        [body.part_of(int(stacks.ply_instance[k])).holes.holes.diameter[int(stacks.ply_hole[k])] for k in plies]
    )
