"""The rivet order: every stack gets a line of one diameter, length and head."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.body import Stacks
from fabplan.model.checks import CHECKS
from fabplan.model.figures import sixteenths
from fabplan.model.finding import Finding, Level, Where
from fabplan.model.job import Job
from fabplan.model.joints import RivetSpec
from fabplan.model.lookup import find_head, is_of, stock_lengths
from fabplan.model.supply import RivetLine
from fabplan.model.tables import HeadForm, Tables
from fabplan.supply import length as shank

NEAR = 3.0
"""Lengths of one diameter closer than this, mm, are mixed up by eye (common practice)."""


@dataclass(frozen=True, slots=True)
class Need:
    """What one kind of stack needs: its rivet, heads, grip and hole, and the length that serves it. Lengths mm."""

    rivet: RivetSpec
    head: HeadForm
    point: HeadForm
    grip: float
    computed: float
    thumb: float
    length: float
    stocked: bool

    @property
    def key(self) -> tuple[float, str, str, str, float]:
        """What makes a line of its own: diameter, head, point, standard, length."""
        return self.rivet.diameter, self.head.form, self.point.form, self.head.standard, self.length


def rivet_lines(
    job: Job, stacks: Stacks, takes: BoolArray, tables: Tables
) -> tuple[tuple[RivetLine, ...], tuple[int, ...], tuple[Finding, ...]]:
    """Lines of the rivet order, the line of each stack (-1 for none), and what to ask about them.

    Args:
        job: the job.
        stacks: all stacks.
        takes: (n,) True for stacks that take a rivet.
        tables: shop tables.
    """
    kinds, kind_of = _kinds(stacks, takes)
    needs = [_need(job, tables, int(kind[0]), kind[1], kind[2]) for kind in kinds]
    keys = sorted({need.key for need in needs if need is not None})
    line_of_kind = np.array([keys.index(need.key) if need else -1 for need in needs] + [-1], dtype=np.int64)
    line_of = line_of_kind[kind_of]
    lines = tuple(
        _line(job, [need for need in needs if need and need.key == key], stacks.seam[line_of == number], tables)
        for number, key in enumerate(keys)
    )
    findings = [
        *_unlisted(job, stacks.rivet[takes & (line_of < 0)], tables),
        *_of_another_standard(needs),
        *_asked(lines, needs, tables),
        *_alike(lines),
    ]
    return lines, tuple(line_of.tolist()), tuple(findings)


def _kinds(stacks: Stacks, takes: BoolArray) -> tuple[list[tuple[float, float, float]], IntArray]:
    """Kinds (rivet, grip, hole) of the stacks that take a rivet, and the kind of each stack, -1 for the others."""
    table = np.column_stack([stacks.rivet, np.round(stacks.grip, 3), np.round(stacks.hole, 3)])[takes]
    kind_of = np.full(len(stacks), -1, dtype=np.int64)
    if len(table) == 0:
        return [], kind_of
    unique, inverse = np.unique(table, axis=0, return_inverse=True)
    kind_of[takes] = inverse.reshape(-1)
    return [(row[0], row[1], row[2]) for row in unique.tolist()], kind_of


def _need(job: Job, tables: Tables, rivet: int, grip: float, hole: float) -> Need | None:
    """The rivet for one kind of stack; None where no head table lists it."""
    spec = job.rivets[rivet]
    head, point = find_head(tables, spec, spec.head), find_head(tables, spec, spec.point)
    if head is None or point is None:
        return None
    margin = job.shop.trial_margin if spec.closing == "hot" else 0.0
    computed = shank.by_volume(head, point, grip, hole, margin)
    stocked = shank.next_stocked(stock_lengths(tables, head.standard, spec.diameter), computed)
    ordered = float(math.ceil(computed - FIGURE)) if stocked is None else stocked
    thumb = shank.by_thumb(spec.diameter, spec.point, grip)[0]
    return Need(spec, head, point, grip, computed, thumb, ordered, stocked is not None)


def _line(job: Job, needs: Sequence[Need], seams: IntArray, tables: Tables) -> RivetLine:
    """One line from all the kinds of stack that it serves; the figures shown are those of the longest."""
    longest = max(needs, key=lambda need: need.computed)
    spec = longest.rivet
    grips = [need.grip for need in needs]
    return RivetLine(
        mark=", ".join(dict.fromkeys(need.rivet.mark for need in needs)),
        diameter=spec.diameter,
        length=longest.length,
        head=longest.head.form,
        point=longest.point.form,
        standard=longest.head.standard,
        count=len(seams),
        spares=math.ceil(len(seams) * job.shop.spares_percent / 100.0 - FIGURE),
        mass_each=shank.mass(longest.head, longest.length, tables.density),
        computed=longest.computed,
        thumb=longest.thumb,
        thumb_rule=shank.by_thumb(spec.diameter, longest.point.form, longest.grip)[1],
        grips=(min(grips), max(grips)),
        seams=tuple(job.seams[number].mark for number in np.unique(seams).tolist()),
        note="" if longest.stocked else "not a stocked length: have it made, or cut from longer ones",
    )


def _unlisted(job: Job, without: IntArray, tables: Tables) -> list[Finding]:
    """Rivets whose diameter and heads no table lists; `without` holds the rivet of each such stack."""
    return [
        Finding(
            check="no-head-table",
            level=Level.QUERY,
            what=f"no head table lists rivet {spec.mark}, {_size(spec.diameter)}, {spec.head} head and {spec.point} "
            f"point: {int(np.sum(without == number))} rivets have no length and are not in the order",
            measured=spec.diameter,
            source="head tables",
            mend=f"Take {_nearest(tables, spec)}, or order these rivets by a trial.",
        )
        for number, spec in enumerate(job.rivets)
        if np.any(without == number)
    ]


def _size(diameter: float) -> str:
    """A diameter as printed, with the fraction of an inch that it is."""
    inch = sixteenths(diameter)
    return f"{diameter:g} mm" + (f" ({inch})" if inch else "")


def _nearest(tables: Tables, spec: RivetSpec) -> str:
    """The one or two listed diameters that are nearest to a rivet's, in its form of head."""
    known = sorted({head.d for head in tables.heads if head.form == spec.head})
    below, above = [d for d in known if d < spec.diameter][-1:], [d for d in known if d > spec.diameter][:1]
    return f"the nearest listed diameter, {' or '.join(f'{d:g}' for d in (*below, *above))} mm"


def _of_another_standard(needs: Sequence[Need | None]) -> list[Finding]:
    """Rivets that the standard stated for them does not list; the point is closed in driving and may be of another."""
    heads = {need.rivet: need.head for need in needs if need is not None}
    row = CHECKS["stated-standard"]
    return [
        Finding(
            row.name,
            row.level,
            f"rivet {spec.mark}: {spec.standard} lists no {spec.head} head of {spec.diameter:g} mm; lengths, masses "
            f"and reach go by {head.standard}",
            measured=spec.diameter,
            source=head.source,
            mend=f"State {head.standard}, or the standard that the rivets are bought to.",
        )
        for spec, head in heads.items()
        if not is_of(head, spec.standard)
    ]


def _asked(lines: Sequence[RivetLine], needs: Sequence[Need | None], tables: Tables) -> list[Finding]:
    """Queries about each line: no stocked length, length by volume far from the rule of thumb."""
    findings = []
    for line in lines:
        where = Where(seam=line.seams[0])
        own = [need for need in needs if need and need.key == _key(line)]
        if line.note:
            findings.append(_too_long(line, where, tables))
        worst = max(own, key=lambda need: abs(need.computed - need.thumb))
        apart, limit = abs(worst.computed - worst.thumb), shank.ALLOWANCE_APART * line.diameter
        if not apart <= limit + FIGURE:
            findings.append(_apart(line, worst, where))
    return findings


def _key(line: RivetLine) -> tuple[float, str, str, str, float]:
    return line.diameter, line.head, line.point, line.standard, line.length


def _too_long(line: RivetLine, where: Where, tables: Tables) -> Finding:
    sources = [row.source for row in tables.lengths if row.standard == line.standard]
    return Finding(
        check="no-stock-length",
        level=Level.QUERY,
        what=f"rivets {line.mark} for a grip of {line.grips[1]:g} mm need {line.computed:.1f} mm: "
        f"no stocked length of {line.standard} is long enough",
        where=where,
        measured=line.computed,
        source=sources[0] if sources else f"no table of stock lengths for {line.standard}",
        mend="Ask the rivet maker for the length, or make the grip less.",
    )


def _apart(line: RivetLine, need: Need, where: Where) -> Finding:
    limit = shank.ALLOWANCE_APART * line.diameter
    return Finding(
        check="rivet-length",
        level=Level.QUERY,
        what=f"rivets {line.mark}, grip {need.grip:g} mm: {need.computed:.1f} mm by volume, {need.thumb:.1f} mm by "
        f"rule of thumb ({line.thumb_rule}), apart by more than {shank.ALLOWANCE_APART:g} d = {limit:g} mm",
        where=where,
        measured=abs(need.computed - need.thumb),
        required=limit,
        source="shop practice",
        mend=f"Close a trial rivet of {line.length:g} mm in this grip before ordering.",
    )


def _alike(lines: Sequence[RivetLine]) -> list[Finding]:
    """Pairs of lines of one diameter and head whose lengths differ by no more than `NEAR`."""
    return [
        Finding(
            check="near-lengths",
            level=Level.NOTE,
            what=f"rivets of {one.diameter:g} mm, {one.head} head, come in {one.length:g} and {other.length:g} mm",
            where=Where(seam=one.seams[0]),
            measured=abs(other.length - one.length),
            required=NEAR,
            mend="Keep them in boxes marked with length and seam, and measure before driving.",
        )
        for one, other in combinations(lines, 2)
        if (one.diameter, one.head) == (other.diameter, other.head)
        and FIGURE < abs(other.length - one.length) <= NEAR + FIGURE
    ]
