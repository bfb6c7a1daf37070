"""Rows that seams name, in the spelling of the drawings; and those that no drawing has."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from difflib import get_close_matches

from fabplan.model.checks import CHECKS
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job
from fabplan.model.joints import FROM_MATE, PlySpec
from fabplan.model.marks import instance_marks

Drawn = tuple[str, Mapping[str, int]]
"""A drawing's name and the rows on it with their holes."""


def named_rows(job: Job, drawings: Mapping[str, Drawing]) -> tuple[Job, tuple[Finding, ...]]:
    """The job with each row spelt as its drawing spells it, upper and lower case aside; rows that are not there.

    Args:
        job: the job; rows of bars stand in it and are looked up when it is read.
        drawings: the drawing of each plate by its mark.
    """
    rows = {
        instance: (part.drawing, Counter(row for row in drawings[part.mark].holes.row if row))
        for part in job.parts
        if part.mark in drawings and drawings[part.mark].outline is not None and not part.formed
        for instance, _ in instance_marks(part)
    }
    rows |= {  # read before, but for those that are to be set out
        instance: ("", Counter(row.row for row in part.rows for _ in row.at))
        for part in job.parts
        if part.section
        for instance, _ in instance_marks(part)
    }
    found: list[Finding] = []
    seams = tuple(
        replace(seam, plies=tuple(_spelt(f"seam {seam.mark}", ply, rows, found) for ply in seam.plies))
        for seam in job.seams
    )
    drilled = {(ply.instance, ply.row) for seam in job.seams for ply in seam.plies if ply.state == FROM_MATE}
    levels = tuple(
        replace(
            level,
            rows=tuple(
                row if (row.instance, row.row) in drilled else _spelt(f"level {level.mark}", row, rows, found)
                for row in level.rows
            ),
        )
        for level in job.levels
    )
    return replace(job, seams=seams, levels=levels), tuple(found)


def _spelt(whose: str, ply: PlySpec, rows: Mapping[str, Drawn], found: list[Finding]) -> PlySpec:
    """A listed row as its drawing spells it; what is amiss with it is `found`."""
    drawn = rows.get(ply.instance)
    spelt = next((row for row in drawn[1] if row.casefold() == ply.row.casefold()), None) if drawn else None
    if drawn and (spelt is None) != (ply.state == FROM_MATE):
        found.append(_missing(whose, ply, drawn) if spelt is None else _drawn(whose, ply, drawn))
    if drawn and spelt is not None and max(ply.numbers, default=0) > drawn[1][spelt]:
        found.append(_beyond(whose, ply, drawn[1][spelt]))
    return replace(ply, row=spelt or ply.row)


def _drawn(whose: str, ply: PlySpec, drawn: Drawn) -> Finding:
    row = CHECKS["template-holes"]
    what = f'{whose}: {drawn[0]} of {ply.instance} has a row "{ply.row}", and is to be drilled from its mate'
    where = Where(drawn[0], ply.instance)
    return Finding(row.name, row.level, what, where, source=row.source, mend="Leave the row out, or correct `state`.")


def _beyond(whose: str, ply: PlySpec, count: int) -> Finding:
    row = CHECKS["no-such-row"]
    what = f'{whose}: row "{ply.row}" of {ply.instance} has {count} holes; `holes` names its hole {max(ply.numbers)}'
    where = Where(part=ply.instance, seam=whose.removeprefix("seam "))
    mend = "Count the holes along the row, as its check sheet numbers them."
    return Finding(row.name, row.level, what, where, source=row.source, mend=mend)


def _missing(whose: str, ply: PlySpec, drawn: Drawn) -> Finding:
    drawing, own = drawn
    near = get_close_matches(ply.row, own, n=1, cutoff=0.3) or list(own)[:3]
    known = "nearest: " + ", ".join(f'"{row}"' for row in near) if near else "it has none"
    row = CHECKS["no-such-row"]
    return Finding(
        "no-such-row",
        row.level,
        f'{whose}: {f"{drawing} of " if drawing else ""}{ply.instance} has no row "{ply.row}"; {known}',
        Where(part=ply.instance, seam=whose.removeprefix("seam ") if whose.startswith("seam ") else ""),
        source=row.source,
        mend="Name a row that is there, draw the holes on a layer RIVET with the name of the row, or have it set out.",
    )
