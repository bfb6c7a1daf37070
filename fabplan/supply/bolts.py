"""Service bolts of the dry fit, bolts and other fasteners that stay, and drifts."""

import math
from collections import Counter

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.dummies import dummy_count
from fabplan.model.job import Job
from fabplan.model.plugs import left_open, names_of
from fabplan.model.supply import BoltLine

SIZES = (3, 4, 5, 6, 8, 10, 12, 16, 20, 24, 27, 30, 36)
"""Bolt sizes that a store keeps, mm: the first choice of ISO 262, with M27 (from memory)."""

LENGTH_RULE = "grip + 2 d for two washers, nut and thread, rounded up to 5 mm (common practice)"
ROW_APART = 1.0  # mm across the seam: rivets further apart than this stand in rows of their own
ROWS, IN_ROW = 4, 3  # a straight seam has at most so many rows, each of at least so many rivets
DRIFT_SHARE = 0.1  # one drift for ten holes, and two to set the piece (planning practice, from memory)


def bolt_lines(
    job: Job, stacks: Stacks, takes: BoolArray, chosen: IntArray
) -> tuple[tuple[BoltLine, ...], tuple[tuple[str, int], ...]]:
    """Lines for bolts and drifts, and the service bolts of each seam.

    Args:
        job: the job.
        stacks: all stacks.
        takes: (n,) True for stacks that take a rivet; the other claimed ones keep bolts.
        chosen: (k,) stacks that have a service bolt in the dry fit.
    """
    service = _lines("service bolt", stacks, chosen, f"length: {LENGTH_RULE}; out as rivets go in")
    kinds = np.array([rivet.kind != "rivet" for rivet in job.rivets] + [False], dtype=np.bool_)
    stays = np.nonzero(~takes & (stacks.seam >= 0) & ~kinds[stacks.rivet])[0]
    staying = _lines("bolt that stays", stacks, stays, f"length: {LENGTH_RULE}; ask for its grade")
    of_seam = np.bincount(stacks.seam[chosen], minlength=len(job.seams)).tolist()
    seam_bolts = tuple((seam.mark, number) for seam, number in zip(job.seams, of_seam, strict=True))
    return (*service, *staying, *_fasteners(job, stacks), *_drifts(stacks, takes)), seam_bolts


def _fasteners(job: Job, stacks: Stacks) -> list[BoltLine]:
    """Lines for what the job states in place of rivets, by mark and length."""
    lines = []
    for number, spec in enumerate(job.rivets):
        if spec.kind not in LENGTHS:
            continue
        length_of, rule = LENGTHS[spec.kind]
        nuts = spec.point == "nut"
        grips = stacks.grip[stacks.rivet == number].tolist()
        counts = Counter(length_of(spec.diameter, grip) for grip in grips)
        note = f"{spec.head} head, hole {spec.hole:g}, grade {spec.grade or 'not stated: ask'}; length: {rule}"
        lines += [
            BoltLine(f"{spec.kind} {spec.mark}", spec.diameter, length, count, count * nuts, 2 * count * nuts, note)
            for length, count in sorted(counts.items())
        ]
    return lines


def dummy_lines(job: Job, body: Body) -> tuple[BoltLine, ...]:
    """Lines for dummy heads."""
    specs = {rivet.mark: rivet for rivet in job.rivets}
    note = "a head alone, for looks; holds nothing"
    return tuple(
        BoltLine(f"dummy head {mark}", specs[mark].diameter, 0.0, count, 0, 0, f"{specs[mark].head} head; {note}")
        for mark, count in sorted(dummy_count(job, body).items())
    )


def plug_lines(job: Job, body: Body, stacks: Stacks) -> tuple[BoltLine, ...]:
    """Lines for the fasteners that close holes which no fitting takes."""
    specs = {rivet.mark: rivet for rivet in job.rivets}
    found: dict[tuple[str, float], set[tuple[int, int]]] = {}
    for location in job.locations:
        for instance, hole in left_open(job, body, stacks)[location.mark] if location.plug else ():
            part = body.part_of(instance)
            panel = part.panels[int(part.holes.panel[hole])]
            length = bolt_length(specs[location.plug].diameter, panel.thickness)
            found.setdefault((location.plug, length), set()).add((instance, hole))
    return tuple(
        BoltLine(
            f"plug {mark}",
            specs[mark].diameter,
            length,
            len(holes),
            len(holes),
            2 * len(holes),
            f"closes holes that no fitting takes: {names_of(holes, body)}; length: {LENGTH_RULE}",
        )
        for (mark, length), holes in sorted(found.items())
    )


def service_bolts(job: Job, stacks: Stacks, takes: BoolArray) -> IntArray:
    """Indices (k,) of the stacks that are bolted in the dry fit, seam by seam; other arguments as of `bolt_lines`.

    Holes for bolts are bolted like those for rivets: theirs go in when the body stands, reamed where they are fitted.
    Holes that are not there yet take none.
    """
    nutted = np.array([rivet.point == "nut" for rivet in job.rivets] + [False], dtype=np.bool_)
    open_yet = (takes | nutted[stacks.rivet]) & (stacks.clear > 0.0)
    bolted = [_bolted(job, stacks, open_yet, seam) for seam in range(len(job.seams))]
    return np.concatenate([*bolted, np.zeros(0, dtype=np.int64)]).astype(np.int64)


def _bolted(job: Job, stacks: Stacks, takes: BoolArray, seam: int) -> IntArray:
    """Indices of the stacks of a seam that are bolted in the dry fit: a share of each row, its ends always."""
    own = np.nonzero(takes & (stacks.seam == seam))[0]
    shop = job.shop
    share = shop.service_bolt_share_tight if job.seams[seam].tight else shop.service_bolt_share
    rows = [own[row[spread(len(row), share)]] for row in rows_along(stacks.point[own])]
    return np.concatenate(rows) if rows else own


def spread(holes: int, share: float) -> IntArray:
    """Places of the bolts in a row of `holes`: evenly, both ends, at least `share` of them.

    >>> spread(10, 1 / 3).tolist()
    [0, 3, 6, 9]
    """
    bolts = max(min(holes, 2), math.ceil(holes * share - FIGURE))
    return np.unique(np.rint(np.linspace(0, holes - 1, bolts)).astype(np.int64))


def rows_along(points: FloatArray) -> list[IntArray]:
    """Rows of a seam: indices into `points` (n, 3), mm, each row in order along the seam.

    A straight seam falls into parallel rows; any other, such as a ring round a hatch, is one row in the order given.
    """
    whole = np.arange(len(points))
    if len(points) < IN_ROW:
        return [whole] if len(points) else []
    middle = points - points.mean(axis=0)
    axes = np.linalg.svd(middle, full_matrices=False)[2]
    along, across = middle @ axes[0], middle @ axes[1]
    order = np.argsort(across, kind="stable")
    rows = np.split(order, np.nonzero(np.diff(across[order]) > ROW_APART)[0] + 1)
    if len(rows) > ROWS or min(map(len, rows)) < IN_ROW:
        return [whole]
    return [row[np.argsort(along[row], kind="stable")] for row in rows]


def bolt_length(diameter: float, grip: float) -> float:
    """Length of a bolt under its head, mm: see `LENGTH_RULE`.

    >>> bolt_length(10.0, 12.0)
    35.0
    """
    return 5.0 * math.ceil((grip + 2.0 * diameter) / 5.0 - FIGURE)


def screw_length(diameter: float, grip: float) -> float:
    """Length of a tap rivet under its head, mm: through all plies, the last one's thread filled."""
    return float(math.ceil(grip - FIGURE))


LENGTHS = {
    "bolt": (bolt_length, LENGTH_RULE),
    "fitted bolt": (bolt_length, f"{LENGTH_RULE}; plain shank over the whole grip"),
    "tap rivet": (screw_length, "through all plies, flush behind; the square to turn it by cut off (common practice)"),
}
"""How long each fastener is under its head, from diameter and grip, and the rule in words."""


def bolt_size(hole: float) -> float:
    """The largest stocked bolt that goes into a hole, mm; the smallest of all where none does."""
    return float(max((size for size in SIZES if size < hole - FIGURE), default=SIZES[0]))


def service_sizes(stacks: Stacks, chosen: IntArray) -> tuple[tuple[int, float, float], ...]:
    """Of each stack of `chosen` (k,) its index, and diameter and length of the bolt that goes into it, mm."""
    holes, grips = stacks.clear[chosen].tolist(), stacks.grip[chosen].tolist()
    sizes = [bolt_size(hole) for hole in holes]
    return tuple((i, d, bolt_length(d, grip)) for i, d, grip in zip(chosen.tolist(), sizes, grips, strict=True))


def stay_sizes(job: Job, stacks: Stacks, takes: BoolArray) -> tuple[tuple[int, str, float, float], ...]:
    """Of each stack that keeps a fastener which is not driven its index, what it is, diameter and length, mm."""
    found = []
    for i in np.nonzero(~takes & (stacks.seam >= 0))[0].tolist():
        spec, grip = job.rivets[int(stacks.rivet[i])], float(stacks.grip[i])
        if spec.kind in LENGTHS:
            found.append((i, f"{spec.kind} {spec.mark}", spec.diameter, LENGTHS[spec.kind][0](spec.diameter, grip)))
        elif spec.kind == "rivet":
            ((_, size, length),) = service_sizes(stacks, np.array([i]))
            found.append((i, "bolt that stays", size, length))
    return tuple(found)


def _lines(what: str, stacks: Stacks, chosen: IntArray, note: str) -> list[BoltLine]:
    counts = Counter((size, length) for _, size, length in service_sizes(stacks, chosen))
    return [
        BoltLine(what, size, length, count, nuts=count, washers=2 * count, note=note)
        for (size, length), count in sorted(counts.items())
    ]


def _drifts(stacks: Stacks, takes: BoolArray) -> list[BoltLine]:
    """Drifts for each size of hole: enough for its longest seam, used again from seam to seam."""
    sizes = np.round(stacks.clear, 2)
    takes = takes & (sizes > 0.0)
    lines = []
    for hole in np.unique(sizes[takes]).tolist():
        longest = int(np.bincount(stacks.seam[takes & (sizes == hole)]).max())
        count = 2 + math.ceil(longest * DRIFT_SHARE - FIGURE)
        note = f"for holes of {hole:g} mm; used again from seam to seam; brings holes fair, never enlarges them"
        lines.append(BoltLine("drift", bolt_size(hole), 0.0, count, 0, 0, note))
    return lines
