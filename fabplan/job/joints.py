"""Faults of what joins the pieces: fasteners, seams, welds and levels that name what is not there, or cannot be."""

from collections.abc import Iterator, Sequence

from fabplan.errors import Fault
from fabplan.job.pieces import Pieces, no_piece
from fabplan.job.tables import JobTables
from fabplan.job.words import nearest
from fabplan.model import job as model
from fabplan.model import joints
from fabplan.model.lookup import HEAD_STANDARDS, is_head_standard


def joint_faults(tables: JobTables, job: model.Job, pieces: Pieces) -> Iterator[Fault]:
    """All faults of fasteners, seams, welds and levels."""
    kinds = {rivet.mark: rivet.kind for rivet in job.rivets}
    kinds = {mark: kinds.get(mark, "") for table in ("rivet", "fastener") for mark in tables.marks(table)}
    for rivet in job.rivets:
        yield from _rivet_faults(rivet, tables)
    laid = {setout.seam for setout in job.setouts}
    for seam in job.seams:
        yield from _seam_faults(seam, kinds)
        yield from _listed(f"{seam.place}: parts", seam.plies, tables, pieces, laid=seam.mark in laid)
    for weld in job.welds:
        if len(set(weld.pieces)) < len(weld.pieces):
            yield Fault(f"{weld.place}: parts", "a piece is listed twice", "A weld joins unlike pieces.")
        for number, mark in enumerate(weld.pieces):
            yield from no_piece(f"{weld.place}: parts[{number}]", mark, pieces)
    for step in job.order:
        yield from _order_faults(step, tables, pieces)
    drilled = {(ply.instance, ply.row) for seam in job.seams for ply in seam.plies if ply.state == joints.FROM_MATE}
    for level in job.levels:
        rows = [row for row in level.rows if (row.instance, row.row) not in drilled]
        yield from _listed(f"{level.place}: rows", rows, tables, pieces, once=False)


def _rivet_faults(rivet: joints.RivetSpec, tables: JobTables) -> Iterator[Fault]:
    entries = (*tables.sound("rivet"), *tables.sound("fastener"))
    place = next(entry.place for entry in entries if entry.form.mark == rivet.mark)
    if rivet.standard and not is_head_standard(rivet.standard):
        what = f'there is no head table "{rivet.standard}"'
        yield Fault(f"{place}: standard", what, f"Known: {', '.join(HEAD_STANDARDS)}.")
    if rivet.kind != "dummy head" and not rivet.hole >= rivet.diameter:
        what = f"a hole of {rivet.hole:g} mm takes no {rivet.kind} of {rivet.diameter:g} mm"
        yield Fault(f"{place}: hole", what, "State the hole as drawn, larger than the shank.")
    if rivet.tapped is not None and not rivet.tapped < rivet.diameter:
        what = f"a hole of {rivet.tapped:g} mm leaves no thread for a tap rivet of {rivet.diameter:g} mm"
        yield Fault(f"{place}: tapped", what, "State the tapping drill, smaller than the thread by its pitch.")


def _seam_faults(seam: joints.SeamSpec, kinds: dict[str, str]) -> Iterator[Fault]:
    """What a seam names, and what it asks of its plies; `kinds` of the fasteners by mark, "" where not known."""
    dummy = kinds.get(seam.rivet) == "dummy head"
    if len(seam.plies) < 2 and not (dummy and seam.plies):
        yield Fault(f"{seam.place}: parts", f"{len(seam.plies)} listed", "A seam joins two pieces or more; list all.")
    if dummy and len(seam.plies) > 1:
        yield Fault(f"{seam.place}: parts", "dummy heads join no pieces", "List the one piece that bears them.")
    if all(ply.state == joints.FROM_MATE for ply in seam.plies) and seam.plies:
        mend = "Leave one ply at least with holes of its own."
        yield Fault(f"{seam.place}: state", "every ply is drilled from its mate", mend)
    if any(ply.state == joints.FROM_MATE and ply.numbers for ply in seam.plies):
        yield Fault(f"{seam.place}: holes", "a ply that is drilled from its mate has none yet", 'State "all" for it.')
    for place, mark in ((seam.place, seam.rivet), *((f"{seam.place}: instead", one.rivet) for one in seam.instead)):
        if mark not in kinds:
            mend = nearest(mark, kinds) or "Add a [[rivet]] or a [[fastener]]."
            yield Fault(f"{place}: rivet", f'unknown rivet "{mark}"', mend)
    numbers = [number for one in seam.instead for number in one.holes]
    if len(set(numbers)) < len(numbers):
        yield Fault(f"{seam.place}: instead", "a hole takes two fasteners", "Name each hole once.")
    if any(kinds.get(one.rivet) == "dummy head" for one in seam.instead):
        mend = "Give dummy heads a [[seam]] of their own, of the one piece that bears them."
        yield Fault(f"{seam.place}: instead", "a dummy head in a hole of a seam", mend)


def _listed(
    place: str,
    plies: Sequence[joints.PlySpec],
    tables: JobTables,
    pieces: Pieces,
    *,
    once: bool = True,
    laid: bool = False,
) -> Iterator[Fault]:
    """Listed rows of pieces: the piece is there, a bar has the row, and, where asked, each piece stands `once`.

    A row that is to be `laid` need not be there yet.
    """
    for number, ply in enumerate(plies):
        where, part = f"{place}[{number}]", pieces.known.get(ply.instance)
        yield from no_piece(where, ply.instance, pieces)
        if part is not None and part.section and part.mark not in pieces.broken and "rows" not in tables.unread:
            yield from (fault for fault in _of_bar(where, ply, part) if not laid or ply.state == joints.FROM_MATE)
        if once and ply.instance in {other.instance for other in plies[:number]}:
            yield Fault(where, f'"{ply.instance}" is listed twice', "Each ply of a seam is another piece.")


def _of_bar(where: str, ply: joints.PlySpec, part: model.PartSpec) -> Iterator[Fault]:
    """A bar has the row of a seam, unless it takes its holes from its mate: then it has none."""
    rows = [row.row for row in part.rows]
    from_mate = ply.state == joints.FROM_MATE
    if ply.row not in rows and not from_mate:
        mend = nearest(ply.row, rows) or f"Give {part.mark} its rows."
        yield Fault(where, f'{ply.instance} has no row "{ply.row}"', mend)
    elif ply.row in rows and from_mate:
        what = f'{ply.instance} has a row "{ply.row}", and is to be drilled from its mate'
        yield Fault(where, what, "Leave the row out, or correct `state`.")


def _order_faults(step: joints.OrderSpec, tables: JobTables, pieces: Pieces) -> Iterator[Fault]:
    """Pieces and seams of a step of the stated order that are not there."""
    for number, mark in enumerate(step.pieces):
        yield from no_piece(f"{step.place}: pieces[{number}]", mark, pieces)
    seams = tables.marks("seam")
    for number, mark in enumerate(step.seams):
        if mark not in seams:
            yield Fault(f"{step.place}: seams[{number}]", f'there is no seam "{mark}"', nearest(mark, seams))
