"""Bolts, fitted bolts, tap rivets, packings and welds: holes that suit them, thread enough, and no weld at rivets."""

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from fabplan.geom.apart import apart
from fabplan.geom.prism import solid
from fabplan.geom.tolerance import FIGURE
from fabplan.model.body import Body, Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.clearance import ply_diameters
from fabplan.model.driven import driven
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.joints import RivetSpec, WeldSpec
from fabplan.model.tables import Tables

JOB = "the job file"
APART = "common practice: heat slackens the rivets beside a weld, and welds take the load before rivets do"


def check_fasteners(job: Job, body: Body, stacks: Stacks, tables: Tables) -> tuple[Finding, ...]:
    """All findings on what is not a rivet, and on packings, in the order of the job."""
    return (
        *(found for spec in job.rivets for found in _hole(spec, tables)),
        *_no_such_hole(job, stacks),
        *_leaky(job, body, stacks),
        *_not_reamed(job, body, stacks),
        *_short_thread(job, stacks, tables),
        *_thick_packing(job, body, stacks, tables),
        *(found for weld in job.welds for found in _weld(job, body, weld, tables)),
    )


def _finding(
    check: str, what: str, where: Where, figures: tuple[float | None, float | None], ends: str, mend: str
) -> Finding:
    return Finding(check, CHECKS[check].level, what, where, *figures, "mm", ends, mend)


def _hole(spec: RivetSpec, tables: Tables) -> Iterator[Finding]:
    """The hole of a bolt or fitted bolt against its shank."""
    over, limits = spec.hole - spec.diameter, tables.fasteners
    if spec.kind == "fitted bolt" and not over <= limits.fitted_play + FIGURE:
        most = spec.diameter + limits.fitted_play
        what = f"fitted bolt {spec.mark}: a hole of {spec.hole:g} mm for a shank of {spec.diameter:g} mm"
        mend = f"State a hole of {spec.diameter:g} to {most:g} mm, reamed in place, or call it a bolt."
        yield _finding("fitted-hole", what, Where(), (spec.hole, most), limits.fitted_source, mend)
    if spec.kind == "bolt":
        row = next((row for row in tables.bolt_holes if abs(row.d - spec.diameter) <= FIGURE), None)
        if row is not None and not abs(over - row.add) <= FIGURE:
            usual = row.d + row.add
            what = f"bolt {spec.mark}: a hole of {spec.hole:g} mm, a normal one for M{spec.diameter:g} is {usual:g} mm"
            mend = "Take the normal hole, or ask whether the joint may slip by what there is more."
            yield _finding("bolt-hole", what, Where(), (spec.hole, usual), row.source, mend)


def _no_such_hole(job: Job, stacks: Stacks) -> Iterator[Finding]:
    """Other fasteners asked for in holes beyond the count of their seam."""
    counts = np.bincount(stacks.seam[stacks.seam >= 0], minlength=len(job.seams)).tolist()
    for seam, count in zip(job.seams, counts, strict=True):
        for hole in (hole for one in seam.instead for hole in one.holes if hole > count):
            what = f"seam {seam.mark}: another fastener is asked for in hole {hole}, and it has {count} rivets"
            yield _finding("no-such-hole", what, Where(seam=seam.mark), (hole, count), JOB, "Correct `instead`.")


def _leaky(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Tight seams with bolts in holes with play: water passes along their shanks."""
    plain = np.array([spec.kind == "bolt" for spec in job.rivets] + [False], dtype=np.bool_)
    takes = driven(job, body, stacks)
    kept = np.array([spec.kind == "rivet" for spec in job.rivets] + [False], dtype=np.bool_)
    loose = plain[stacks.rivet] | (kept[stacks.rivet] & ~takes)  # rivets whose holes stand on a layer of bolts
    for number, seam in enumerate(job.seams):
        own = np.nonzero(loose & (stacks.seam == number))[0]
        if seam.tight and len(own):
            what = f"seam {seam.mark} is to hold water, and {len(own)} of its fasteners are bolts in clearance holes"
            mend = "Take fitted bolts or rivets, or compound and sealing washers under head and nut; state the test."
            where = Where(seam=seam.mark, holes=tuple(stacks.number[int(i)] for i in own))
            yield _finding("leaky-bolt", what, where, (None, None), "common practice", mend)


def _not_reamed(job: Job, body: Body, stacks: Stacks) -> Iterator[Finding]:
    """Seams of fitted bolts with a ply whose holes are cut full: nothing is left in it to ream with the others."""
    fitted = [number for number, spec in enumerate(job.rivets) if spec.kind == "fitted bolt"]
    for number, seam in enumerate(job.seams):
        own = (stacks.seam == number) & np.isin(stacks.rivet, fitted)
        full = {ply.instance for ply in seam.plies if ply.state == "full"}
        cut = sorted({mark for i in np.nonzero(own)[0].tolist() for mark in _full_size(body, stacks, i)} & full)
        if cut:
            which = "all holes" if len(cut) == len(seam.plies) else f"the holes of {', '.join(cut)}"
            what = f"seam {seam.mark}: {int(own.sum())} fitted bolts, and {which} cut full: nothing is left to ream"
            mend = 'State `state = "pilot"` or "reamed", with the holes drawn smaller, or take plain bolts.'
            yield _finding("not-reamed", what, Where(seam=seam.mark), (None, None), "common practice", mend)


def _full_size(body: Body, stacks: Stacks, i: int) -> Iterator[str]:
    """Marks of the plies of a stack whose holes are drawn as large as the finished one."""
    plies = range(int(stacks.first[i]), int(stacks.first[i + 1]))
    for k, drawn in zip(plies, ply_diameters(body, stacks, i).tolist(), strict=True):
        if drawn >= stacks.hole[i] - FIGURE:
            yield body.instances[int(stacks.ply_instance[k])].mark


def _short_thread(job: Job, stacks: Stacks, tables: Tables) -> Iterator[Finding]:
    """Tap rivets in a last ply thinner than the thread that they want."""
    limits, last = tables.fasteners, stacks.ply_thickness[stacks.first[1:] - 1]
    for number, spec in enumerate(job.rivets):
        least = limits.thread * spec.diameter
        own = np.nonzero((stacks.rivet == number) & ~(last >= least - FIGURE))[0] if spec.tapped is not None else ()
        if len(own):
            holes = tuple(stacks.number[int(i)] for i in own)
            thin = float(last[own].min())
            what = f"tap rivet {spec.mark}: {thin:g} mm of thread in the last ply of {len(own)} holes, from {holes[0]}"
            mend = f"Tap into {least:g} mm or more, take a smaller thread, or a nut behind."
            yield _finding("short-thread", what, Where(holes=holes), (thin, least), limits.thread_source, mend)


def _thick_packing(job: Job, body: Body, stacks: Stacks, tables: Tables) -> Iterator[Finding]:
    """Rivets through more packing than a share of their diameter: by how much they count less."""
    packed = np.array([body.part_of(i).spec.packing for i in range(len(body.instances))], dtype=np.bool_)
    if not packed.any():
        return
    thick = np.where(packed[stacks.ply_instance], stacks.ply_thickness, 0.0)
    total = np.add.reduceat(thick, stacks.first[:-1])
    limits = tables.fasteners
    over = (stacks.diameter > 0.0) & ~(total <= limits.packing * stacks.diameter + FIGURE)
    for number, seam in enumerate(job.seams):
        own = np.nonzero(over & (stacks.seam == number))[0]
        if len(own):
            worst = int(own[np.argmax(total[own])])
            d, packing = float(stacks.diameter[worst]), float(total[worst])
            share = 9.0 * d / (8.0 * d + 3.0 * packing)
            what = (
                f"seam {seam.mark}: {packing:g} mm of packing under {len(own)} rivets of {d:g} mm: each counts as "
                f"{100.0 * share:.0f} % of one in shear"
            )
            holes = tuple(stacks.number[int(i)] for i in own)
            mend = "Reckon the seam with it, or carry the packing beyond the joint and rivet it there."
            where = Where(seam=seam.mark, holes=holes)
            yield _finding("thick-packing", what, where, (packing, limits.packing * d), limits.packing_source, mend)


def _weld(job: Job, body: Body, weld: WeldSpec, tables: Tables) -> Iterator[Finding]:
    """The size of a weld, and rivets between the pieces that it joins."""
    where = Where(part=weld.pieces[0])
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    thin = min((body.part_of(index[mark]).thickness for mark in weld.pieces), default=float("nan"))
    if weld.kind == "fillet":
        yield from _fillet(weld, thin, tables, where)
    elif not np.isnan(thin) and not weld.size <= thin + FIGURE:
        what = f"weld {weld.mark}: a butt weld {weld.size:g} mm deep in a plate of {thin:g} mm"
        yield _finding("weld-size", what, where, (weld.size, thin), "geometry", "Correct `size` or the pieces.")
    yield from _weld_apart(body, weld, tables, where)
    joined = [seam.mark for seam in job.seams if len({ply.instance for ply in seam.plies} & set(weld.pieces)) > 1]
    if joined:
        between = f"{', '.join(weld.pieces)}, which rivets of {', '.join(joined)} join too"
        what = f"weld {weld.mark}, {weld.when}, joins {between}"
        mend = "Weld before riveting and away from the rivets, or leave the load to one of both; caulk after."
        yield _finding("weld-at-rivets", what, where, (None, None), APART, mend)


def _weld_apart(body: Body, weld: WeldSpec, tables: Tables, where: Where) -> Iterator[Finding]:
    """Pieces of a weld too far from all that it joins to the first of them; what has no form or place is left out."""
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    metal = {
        mark: [solid(panel, pose) for panel in body.part_of(index[mark]).panels]
        for mark in weld.pieces
        for pose in [body.poses[index[mark]]]
        if pose is not None and body.part_of(index[mark]).panels
    }
    limits, joined, left = tables.fasteners, list(metal)[:1], list(metal)[1:]
    while left:
        gaps = {mark: min(apart(a, b) for one in joined for a in metal[one] for b in metal[mark]) for mark in left}
        nearest = min(left, key=lambda mark: (gaps[mark], mark))
        if not gaps[nearest] <= limits.weld_gap + FIGURE:
            what = f"weld {weld.mark}: {nearest} lies {gaps[nearest]:.1f} mm from {', '.join(joined)}, which it joins"
            mend = "Correct the pieces of the weld, their sizes or their places."
            figures = gaps[nearest], limits.weld_gap
            yield _finding("weld-apart", what, replace(where, part=nearest), figures, limits.weld_gap_source, mend)
        joined.append(nearest)
        left.remove(nearest)


def _fillet(weld: WeldSpec, plate: float, tables: Tables, where: Where) -> Iterator[Finding]:
    """A fillet by its throat and length; `plate` is the thinner plate's thickness, mm, NaN where not known."""
    limits = tables.fasteners
    most = np.inf if np.isnan(plate) else limits.throat_share * plate
    long = max(limits.length_least, limits.length_throats * weld.size)
    thin, ends = limits.throat_least, (limits.throat_source, limits.share_source, limits.length_source)
    for kept, what, value, limit, source in (
        (weld.size >= thin - FIGURE, "throat under", weld.size, thin, ends[0]),
        (weld.size <= most + FIGURE, "throat over", weld.size, most, ends[1]),
        (weld.length >= long - FIGURE, "length under", weld.length, long, ends[2]),
    ):
        if not kept:
            told = f"weld {weld.mark}: {what} {limit:g} mm (throat {weld.size:g}, {weld.length:g} long)"
            mend = "Ask the welder, and whoever answers for the strength."
            yield _finding("weld-size", told, where, (value, limit), source, mend)
