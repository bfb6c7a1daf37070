"""Rivets whose holes are out by more than the rivet allows: one hole, or a run of holes out alike."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.body.blame import by_master
from fabplan.body.found import finding, flat, point
from fabplan.body.joint import direction
from fabplan.body.rows import out_of_line
from fabplan.geom.pose import turned
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.clearance import CLEARANCE, allowed_out, ply_states
from fabplan.model.figures import unlike
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job

ROW = 3
"""Rivets that must be out alike before their row is spoken of."""

SAME = 0.3
"""Offsets of a row that differ by no more than this, mm, are one and the same."""


@dataclass(frozen=True, slots=True, eq=False)
class _Strayed:
    """A stack whose holes are out by more than its rivet allows: the ply that is most out, and by how much, mm."""

    stack: int
    ply: int
    out: FloatArray
    allowed: float


def check_misfits(
    job: Job, body: Body, stacks: Stacks, explained: set[tuple[int, int]], named: str = ""
) -> Iterator[Finding]:
    """Stacks whose holes are out by more than the rivet allows, those of one row that are out alike told once.

    The hole to look at is that of the piece whose mark a cause has `named`, or the one furthest from its row's pitch.
    """
    groups: dict[tuple[int, int], list[_Strayed]] = {}
    for one in _strayed(job, body, stacks, explained, named):
        groups.setdefault((int(stacks.seam[one.stack]), int(stacks.ply_instance[one.ply])), []).append(one)
    for own in groups.values():
        out = np.array([one.out for one in own])
        alike = len(own) >= ROW and np.abs(out - np.median(out, axis=0)).max() <= SAME
        yield from (_misfit(job, body, stacks, some) for some in ([own] if alike else [[one] for one in own]))


def _strayed(job: Job, body: Body, stacks: Stacks, explained: set[tuple[int, int]], named: str) -> Iterator[_Strayed]:
    for i in np.nonzero(stacks.rivet >= 0)[0].tolist():
        plies = slice(int(stacks.first[i]), int(stacks.first[i + 1]))
        pairs = zip(stacks.ply_instance[plies].tolist(), stacks.ply_hole[plies].tolist(), strict=True)
        if not explained.isdisjoint(pairs):
            continue
        # a hole under its rivet is told by hole-for-rivet, and by nothing here where it lies fair
        allowed = allowed_out(job, int(stacks.rivet[i]), ply_states(job, body, stacks, i))
        if not stacks.misfit[i] <= allowed + FIGURE:
            worst = _most_out(body, stacks, i, named)
            yield _Strayed(i, worst, _from_others(stacks, i, worst), allowed)


def _misfit(job: Job, body: Body, stacks: Stacks, own: list[_Strayed]) -> Finding:
    """One hole that is out, or a row of them that are out alike."""
    first = own[0]
    instance, holes = int(stacks.ply_instance[first.ply]), [int(stacks.ply_hole[one.ply]) for one in own]
    part, mark = body.part_of(instance), body.instances[instance].mark
    numbers = tuple(part.holes.holes.number[hole] for hole in holes)
    worst = max(float(stacks.misfit[one.stack]) for one in own)
    out, allowed = unlike(worst, first.allowed)
    seam = job.seams[int(stacks.seam[first.stack])].mark
    along, across = _split(body, instance, holes[0], first.out)
    if len(own) == 1:
        who = f"rivet {stacks.number[first.stack]}"
        look, mend = (
            f"hole {numbers[0]}",
            f"Move the hole by {np.linalg.norm(first.out):.2f} mm or draw it smaller and ream in place.",
        )
    else:
        who = f"{len(own)} rivets of seam {seam}, all alike"
        look = f"row {part.holes.holes.row[holes[0]] or numbers[0]}"
        mend = "One of the rows is set out from a wrong point: look at its end distances and back mark."
    plies = stacks.ply_instance[stacks.first[first.stack] : stacks.first[first.stack + 1]].tolist()
    steel = [body.instances[i].mark for i in plies if body.part_of(i).spec.master]
    if steel:
        mend = by_master(steel, [body.instances[i].mark for i in plies if body.instances[i].mark not in steel])
    return finding(
        "misfit",
        f"{who}: holes out by {out} mm, {along:.2f} mm along the row and {across:.2f} mm across it, usable "
        f"clearance {allowed} mm; look first at {look} of {mark}",
        mend,
        Where(
            drawing=part.spec.drawing,
            part=mark,
            seam=seam,
            holes=numbers,
            xy=flat(part.holes.holes.xy[holes[0]]),
            point=point(stacks.point[first.stack]),
        ),
        measured=worst,
        required=first.allowed,
        source=CLEARANCE,
    )


def _from_others(stacks: Stacks, i: int, worst: int) -> FloatArray:
    """(3,) mm, how far the hole of one ply lies from the middle of the holes of the others."""
    others = [k for k in range(int(stacks.first[i]), int(stacks.first[i + 1])) if k != worst]
    away: FloatArray = stacks.ply_offset[worst] - stacks.ply_offset[others].mean(axis=0)
    return away


def _split(body: Body, instance: int, hole: int, out: FloatArray) -> tuple[float, float]:
    """An offset (3,) of one hole, body frame, as mm along the way its row runs there and mm across."""
    part, pose = body.part_of(instance), body.poses[instance]
    assert pose is not None, "only placed pieces have stacks"
    holes, panel = part.holes.holes, int(part.holes.panel[hole])
    own = [k for k, row in enumerate(holes.row) if row == holes.row[hole] and part.holes.panel[k] == panel]
    near = sorted(own, key=lambda k: abs(own.index(k) - own.index(hole)))[1:3] if len(own) > 2 else own
    way = direction(np.column_stack([holes.xy[near], np.zeros(len(near))]))
    unit = turned(pose, turned(part.panels[panel].frame, way))
    along = float(out @ unit)
    return abs(along), float(np.linalg.norm(out - along * unit))


def _most_out(body: Body, stacks: Stacks, i: int, named: str) -> int:
    """The ply whose hole strays most from the pitch and line of its own row: the other plies' rows run true there.

    One whose holes were measured is never the one to move while another is drawn.
    """
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    of_named = [k for k in plies if body.part_of(int(stacks.ply_instance[k])).spec.mark == named]
    if len(of_named) == 1:
        return of_named[0]
    stray = [out_of_line(body.part_of(int(stacks.ply_instance[k])).holes, int(stacks.ply_hole[k])) for k in plies]
    length = np.linalg.norm(stacks.ply_offset[plies.start : plies.stop], axis=1)
    drawn = [k for k in plies if not body.part_of(int(stacks.ply_instance[k])).spec.master]
    return max(
        drawn or plies, key=lambda k: (round(stray[k - plies.start], 3), round(float(length[k - plies.start]), 6), -k)
    )
