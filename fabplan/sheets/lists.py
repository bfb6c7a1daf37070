"""The lists of the works: cut list, bar list, rivet order, findings. One set of tables for PDF, XLSX and CSV."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isfinite, nan

from fabplan.model.finding import Finding, Level
from fabplan.model.joints import FROM_MATE, PlySpec, SeamSpec, size_words
from fabplan.model.page import Page
from fabplan.model.plan import Plan
from fabplan.model.supply import BarLine, PlateLine
from fabplan.sheets.frame import A4, Paper, Sheet, framed, room
from fabplan.sheets.table import Table, abreast, notes, spread

Cell = str | int | float


@dataclass(frozen=True, slots=True)
class Listing:
    """One list: numbers stay numbers for the workbook.

    Attributes:
        name: file name stem.
        title: as printed.
        heads, shares, right: as in `Table`.
        rows: cells.
        after: sentences printed below.
        paired: so many of the last rows are printed as pairs side by side: the first cell and the first figure.
        origin: job, revision and date, for the head of the workbook's pages.
        stored: names of what the store gives out and takes back: on paper each gets boxes for its balance.
    """

    name: str
    title: str
    heads: tuple[str, ...]
    shares: tuple[float, ...]
    right: tuple[int, ...]
    rows: tuple[tuple[Cell, ...], ...]
    after: tuple[str, ...] = ()
    paired: int = 0
    origin: str = ""
    stored: tuple[str, ...] = ()


BALANCE = ("received", "issued", "scrapped", "left", "date", "initials")
LIFT = "Weigh before lifting; no hands under; edges cut: gloves. Over 25 kg use the hoist."


def listings(plan: Plan) -> tuple[Listing, ...]:
    """All lists of a plan."""
    job = plan.job
    origin = f"{job.number} {job.title}, revision {job.revision or 'not stated'}, {job.date}".strip(" ,")
    names = ", ".join(f"{one.drawing.name} {one.drawing.fingerprint[:8]}" for one in plan.checked)
    drawn = (f"Drawings: {names}.",) if names else ()
    welds = (_welds(plan),) if job.welds else ()
    origins = (_provenance(plan),) if any(part.provenance is not None for part in job.parts) else ()
    holes = (_holes(plan),) if any(ply.state != "full" for seam in job.seams for ply in seam.plies) else ()
    counted = (_bar_list(plan), _rivet_order(plan), _bolts(plan), *holes, *welds, *origins, _findings(plan))
    every = (_cut_list(plan), *(replace(one, after=(*one.after, *drawn)) for one in counted))
    return tuple(replace(one, origin=origin, rows=tuple(map(_known, one.rows))) for one in every)


def _known(row: tuple[Cell, ...]) -> tuple[Cell, ...]:
    """A row with words for figures that nobody knows: the mass of a plate without thickness."""
    return tuple("not known" if isinstance(cell, float) and not isfinite(cell) else cell for cell in row)


def _cut_list(plan: Plan) -> Listing:
    rows = tuple(
        (
            line.mark,
            line.quantity,
            line.drawing,
            line.fingerprint,
            line.thickness,
            line.grade or "not stated",
            f"{line.length:.1f} x {line.width:.1f}" if isfinite(line.length) else "not known",
            line.holes,
            round(line.cut_length / 1000.0, 2),
            round(line.mass_each, 1),
            round(line.mass_each * line.quantity, 1),
            line.supplier or "not stated",
        )
        for line in plan.supply.plates
    )
    heads = ("mark", "no off", "drawing", "fingerprint", "t", "grade", "size", "holes", "cut m", "kg each", "kg all",
             "supplier")  # fmt: skip
    shares = (1.1, 0.8, 2.2, 1.5, 0.6, 1.2, 2.2, 0.8, 0.9, 1.0, 1.0, 1.3)
    count = sum(line.quantity for line in plan.supply.plates)
    after = (
        f"Plates in all: {count}, {_mass(plan.supply.plates)} ({plan.tables.density_source}).",
        *_there(plan, [part.mark for part in plan.job.parts if part.drawing and not part.made]),
        "Cut as drawn, marked face up; kerf is the cutter's.",
        LIFT,
    )
    return Listing("cut-list", "Cut list", heads, shares, (1, 4, 7, 8, 9, 10), rows, after)


def _mass(lines: Sequence[PlateLine] | Sequence[BarLine]) -> str:
    """The mass of all pieces, and which have none."""
    known = sum(line.mass_each * line.quantity for line in lines if isfinite(line.mass_each))
    rest = [line.mark for line in lines if not isfinite(line.mass_each)]
    return f"{known:.1f} kg" + (f" without {', '.join(rest)}, not known" if rest else "")


def _bar_list(plan: Plan) -> Listing:
    rows = tuple(
        (line.mark, line.quantity, line.section, line.length, line.grade or "not stated", line.holes,
         round(line.mass_each, 1), _drilling(line))
        for line in plan.supply.bars
    )  # fmt: skip
    heads = ("mark", "no", "section", "length", "grade", "holes", "kg each", "drill")
    count = sum(line.quantity for line in plan.supply.bars)
    sections = {section.name: section.source for section in plan.tables.sections}
    sources = dict.fromkeys(sections.get(line.section, plan.tables.density_source) for line in plan.supply.bars)
    there = _there(plan, [part.mark for part in plan.job.parts if part.section and not part.made])
    after: tuple[str, ...] = (
        f"Bars in all: {count}, {_mass(plan.supply.bars)}" + (f" ({'; '.join(sources)})." if sources else "."),
        *there,
        "Measure from the marked end and from the heel; drill from the plate where it is to hand.",
        LIFT,
    )
    if not rows:
        after = ("Nothing to list: no bars.", *there)
    return Listing(
        "bar-list", "Bar list", heads, (0.8, 0.5, 1.25, 0.95, 0.95, 0.85, 1.05, 9.5), (1, 3, 5, 6), rows, after
    )


def _there(plan: Plan, marks: Sequence[str]) -> tuple[str, ...]:
    """What of a list is there already, and so not on it."""
    return (f"There already, neither cut nor bought: {', '.join(marks)}; see the provenance list.",) if marks else ()


def _provenance(plan: Plan) -> Listing:
    """Pieces whose origin is stated, with the evidence and the doubt, and how they were measured."""
    told = [part for part in plan.job.parts if part.provenance is not None]
    rows = tuple(
        (
            part.mark,
            part.quantity * (2 if part.hand else 1),
            part.section or f"plate {part.thickness or nan:g} mm, {part.drawing}",
            origin.origin,
            "yes" if part.made else "no",
            origin.evidence or "-",
            origin.doubt or "-",
            part.measured.words if part.measured is not None else "as drawn",
        )
        for part in told
        if (origin := part.provenance) is not None
    )
    heads = ("mark", "no off", "piece", "origin", "made now", "evidence", "doubt", "measured")
    after = (
        "Old pieces: tagged, kept apart and counted; what is taken off the body is kept and listed too.",
        "Pieces that are made now bear the maker's mark and the date on a hidden face, so that none passes as original "
        "(common practice).",
        "Pieces of the job without a line here are new.",
    )
    shares = (0.9, 0.7, 2.2, 1.2, 0.9, 3.0, 3.0, 3.0)
    return Listing("provenance", "Provenance of pieces", heads, shares, (1,), rows, after)


def _drilling(line: BarLine) -> str:
    note = f"{line.note[:1].upper()}{line.note[1:]}." if line.note else ""
    return "\n".join(filter(None, [note, *line.rows]))


def _rivet_order(plan: Plan) -> Listing:
    rows = tuple(
        (
            line.mark,
            f"{line.diameter:g} x {line.length:g}",
            f"{line.head} / {line.point}",
            line.standard,
            line.count,
            line.spares,
            line.count + line.spares,
            round((line.count + line.spares) * line.mass_each, 2),
            f"{line.grips[0]:g} to {line.grips[1]:g}" if line.grips[0] != line.grips[1] else f"{line.grips[0]:g}",
            f"{line.computed:.1f}",
            f"{line.thumb:.1f}",
            ", ".join(line.seams),
        )
        for line in plan.supply.rivets
    )
    rules = dict.fromkeys(line.thumb_rule for line in plan.supply.rivets)
    order = sum(line.count + line.spares for line in plan.supply.rivets)
    mass = sum((line.count + line.spares) * line.mass_each for line in plan.supply.rivets)
    after = (
        f"Rivets in all, with spares: {order}, {mass:.1f} kg ({plan.tables.density_source}).",
        f"Rule of thumb: {'; '.join(rules)}." if rules else "",
        *(line.note for line in plan.supply.rivets if line.note),
        "Close a trial rivet of each length first; the length is settled by the test joint.",
    )
    heads = ("mark", "d x length", "head / point", "standard", "count", "spares", "order", "kg", "grip", "by volume",
             "by thumb", "seams")  # fmt: skip
    shares = (0.9, 1.2, 1.8, 1.2, 0.9, 1.05, 0.9, 0.9, 1.2, 1.0, 1.0, 3.0)
    lines = tuple(line for line in after if line)
    stored = tuple(f"{line.mark}: {line.diameter:g} x {line.length:g}" for line in plan.supply.rivets)
    return Listing("rivet-order", "Rivet order", heads, shares, (4, 5, 6, 7, 8, 9, 10), rows, lines, stored=stored)


def _bolts(plan: Plan) -> Listing:
    rows = tuple(
        (line.what, line.diameter, line.length or "", line.count, line.nuts, line.washers, line.note)
        for line in plan.supply.bolts
    )
    seams = tuple((f"seam {mark}", "", "", count, "", "", "service bolts in the dry fit") for mark, count in
                  plan.supply.seam_bolts)  # fmt: skip
    heads = ("what", "d", "length", "count", "nuts", "washers", "note")
    counts = [sum(getattr(line, name) for line in plan.supply.bolts) for name in ("nuts", "washers")]
    after = (
        f"Nuts in all: {counts[0]}; washers: {counts[1]}.",
        "Service bolts and drifts come out as rivets go in; a drift never enlarges a hole.",
    )
    stored = tuple(
        f"{line.what} {line.diameter:g}" + (f" x {line.length:g}" if line.length else "") for line in plan.supply.bolts
    )
    return Listing("bolts", "Service bolts and drifts", heads, (2.0, 0.7, 0.9, 0.9, 0.9, 0.9, 5.0), (1, 2, 3, 4, 5),
                   rows + seams, after, len(seams), stored=stored)  # fmt: skip


def _welds(plan: Plan) -> Listing:
    rows = tuple(
        (weld.mark, weld.kind, weld.size, weld.length, weld.when, ", ".join(weld.pieces)) for weld in plan.job.welds
    )
    lengths: dict[tuple[str, float], float] = {}
    for weld in plan.job.welds:
        lengths[weld.kind, weld.size] = lengths.get((weld.kind, weld.size), 0.0) + weld.length
    after = tuple(f"{kind} {size:g} mm: {length:g} mm in all." for (kind, size), length in sorted(lengths.items()))
    heads = ("mark", "kind", "throat or depth", "length", "when", "pieces")
    return Listing("welds", "Welds", heads, (1.0, 1.0, 1.2, 1.0, 2.0, 5.0), (2, 3), rows, after)


def _holes(plan: Plan) -> Listing:
    """Holes that are not cut full, by seam and piece."""
    job = plan.job
    rows = tuple(
        (seam.mark, ply.instance, ply.state, *_drawn(plan, ply), _finished(plan, seam, ply))
        for seam in job.seams
        for ply in seam.plies
        if ply.state != "full"
    )
    heads = ("seam", "piece", "state as cut", "holes", "drawn, mm", "finished, mm")
    after = ("Opened, drilled or reamed when the plies are together and before the first rivet of the seam.",)
    return Listing("holes", "Holes finished in place", heads, (1.0, 1.2, 2.0, 0.8, 1.2, 1.2), (3, 5), rows, after)


def _finished(plan: Plan, seam: SeamSpec, ply: PlySpec) -> float | str:
    """The finished hole of a ply, mm: of its fastener, of a tap in the last ply; in words where it takes several."""
    sizes = seam.hole_sizes(plan.job.rivets, last=ply is seam.plies[-1])
    if len(sizes) > 1:
        return size_words(sizes)
    return sizes[0][0] if sizes else nan


def _drawn(plan: Plan, ply: PlySpec) -> tuple[int, str]:
    """How many holes a ply has in its row, and their sizes as drawn; those from a mate are drawn nowhere."""
    if plan.body is None:
        return 0, ""
    part = next(plan.body.part_of(i) for i, one in enumerate(plan.body.instances) if one.mark == ply.instance)
    own = ply.among(part.holes.holes.row)
    sizes = sorted({float(part.holes.holes.diameter[k]) for k in own})
    return len(own), "none" if ply.state == FROM_MATE else ", ".join(f"{size:g}" for size in sizes)


def _findings(plan: Plan) -> Listing:
    rows = tuple(_finding_row(number, finding) for number, finding in enumerate(plan.findings, start=1))
    accounts = tuple(
        f"{account.total} {account.what} = " + " + ".join(f"{count} {what}" for what, count in account.shares)
        for account in plan.accounts
    )
    clear = all(finding.level is Level.NOTE for finding in plan.findings)
    verdict = "Notes only: no fault found" if plan.findings else "No fault found"
    after = (
        *([f"{verdict} by these checks with these data."] if clear else []),
        *accounts,
        *([f"Not checked {'; '.join(plan.not_checked)}."] if plan.not_checked else []),
        *([f"Checked by {'; '.join(line.rstrip('.') for line in plan.used)}."] if plan.used else []),
    )
    heads = ("no", "level", "check", "place", "what", "found", "limit", "remedy", "source")
    shares = (0.5, 0.95, 1.45, 1.3, 4.3, 0.85, 0.75, 3.95, 2.15)
    return Listing("findings", "Findings", heads, shares, (0, 5, 6), rows, after)


def _finding_row(number: int, finding: Finding) -> tuple[Cell, ...]:
    where = finding.where
    place = ", ".join(filter(None, [where.drawing, where.part, where.seam and f"seam {where.seam}"]))
    figures = ["" if value is None else round(value, 2) for value in (finding.measured, finding.required)]
    remedy = finding.accepted or finding.mend
    return (number, finding.rank, finding.check, place, finding.what, *figures, remedy, finding.source)


def list_pages(plan: Plan, listing: Listing) -> tuple[Page, ...]:
    """A list as pages."""
    stops = sum(finding.blocks for finding in plan.findings)
    paper = Paper(listing.title, A4, plan.job, stops)
    split = len(listing.rows) - listing.paired
    rows = tuple(tuple(_words(cell) for cell in row) for row in listing.rows[:split])
    table = Table(listing.title, listing.heads, listing.shares, rows, listing.right)
    after = listing.after
    if not rows:
        table, after = notes(listing.title, after[:1]), after[1:]
    pairs = [(str(row[0]), next(_words(cell) for cell in row if isinstance(cell, int))) for row in listing.rows[split:]]
    beside = [abreast("Of these, by seam", ("seam", "no"), pairs)] if pairs else []
    boxes = spread([table, *beside, _balance(listing), notes("", after)], room(paper))
    return framed(paper, [Sheet(tuple(items)) for items in boxes])


def _balance(listing: Listing) -> Table:
    rows = tuple((name, *[""] * len(BALANCE)) for name in listing.stored)
    shares = (2.0, *[1.0] * len(BALANCE))
    boxed = tuple(range(1, len(BALANCE) + 1))
    return Table("Store balance", ("", *BALANCE), shares, rows, boxed=boxed, whole=True)


def _words(cell: Cell) -> str:
    return f"{cell:g}" if isinstance(cell, float) else str(cell)
