"""Measured sizes against what the standards let plate be, and against what its blank gives."""

from collections.abc import Iterator, Sequence
from math import isfinite

from fabplan.geom.tolerance import FIGURE
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.forming import FormingRecord
from fabplan.model.job import Job, PartSpec
from fabplan.model.measured import Measured
from fabplan.model.tables import Tables
from fabplan.model.tolerances import Tolerances, thickness_off
from fabplan.rules.bends import tolerance_of


def check_as_built(job: Job, tolerances: Tolerances) -> Iterator[Finding]:
    """A note for each plate whose thickness was measured, and a stop where its standard forbids it."""
    for spec in job.parts:
        if spec.measured_thickness is not None and spec.thickness is not None:
            yield _told(spec, spec.thickness, spec.measured_thickness)
            yield from _off(spec, spec.thickness, spec.measured_thickness, tolerances)


def _told(spec: PartSpec, stated: float, measured: float) -> Finding:
    what = f"{spec.mark} is built of {measured:g} mm as measured, drawn and ordered as {stated:g} mm"
    mend = "Grips, lengths and fit follow the measured plate; its drawing is judged by the stated one."
    return Finding("as-built", CHECKS["as-built"].level, what, Where(part=spec.mark), source="the job file", mend=mend)


def _off(spec: PartSpec, stated: float, measured: float, tolerances: Tolerances) -> Iterator[Finding]:
    off = thickness_off(tolerances, stated, spec.plate_standard)
    if off is None:
        return
    least, most, source = stated - off[0], stated + off[1], off[2]
    if not least - FIGURE <= measured <= most + FIGURE:
        limit, word = (least, "thinner") if measured < least else (most, "thicker")
        what = f"{spec.mark} of {stated:g} mm measures {measured:g} mm: {word} than its standard lets it be"
        mend = "Send it back, or have it accepted in the job file by whoever answers for strength and caulking edge."
        figures = (measured, limit, "mm")
        check = "thickness-off"
        yield Finding(check, CHECKS[check].level, what, Where(part=spec.mark), *figures, source, mend)


def check_formed_as_built(job: Job, records: Sequence[FormingRecord], tables: Tables) -> Iterator[Finding]:
    """Formed pieces that were measured: a note each, and a query where a size is not what the blank gives.

    Args:
        job: the job.
        records: of its formed pieces, by their blanks as stated.
        tables: shop tables (tolerances of formed lengths).
    """
    by_mark = {record.mark: record for record in records}
    for spec in job.parts:
        record = by_mark.get(spec.mark)
        if spec.measured is None or record is None:
            continue
        sizes = list(_formed_sizes(spec, spec.measured, record))
        if sizes:
            words = ", ".join(f"{size:g} mm {where}" for where, size, _ in sizes)
            what = f"{spec.mark} is built as it was formed: {words} by measure, the blank gives "
            what += ", ".join(f"{blank:.1f}" for _, _, blank in sizes)
            mend = "Places of its holes and what meets it follow the measure; its drawing and forming sheet do not."
            where = Where(spec.drawing, spec.mark)
            yield Finding("as-built", CHECKS["as-built"].level, what, where, source="the job file", mend=mend)
        for name, size, blank in sizes:
            yield from _formed_off(spec, spec.measured, (name, size, blank), tables)


def _formed_sizes(spec: PartSpec, measured: Measured, record: FormingRecord) -> Iterator[tuple[str, float, float]]:
    """Each measured size: where, as measured, and what the blank gives, mm."""
    for where, size, blank in zip(("along x", "along y", "high"), measured.over, record.size, strict=True):
        if isfinite(size):
            yield f"{where} over its outside", size, blank
    if measured.across is not None:
        yield "across its outside", measured.across, 2.0 * (abs(spec.rolls[0].inside_radius) + record.thickness)


def _formed_off(
    spec: PartSpec, measured: Measured, found: tuple[str, float, float], tables: Tables
) -> Iterator[Finding]:
    name, size, blank = found
    tolerance, source = tolerance_of(blank, tables)
    if not abs(size - blank) <= tolerance + FIGURE:
        by = f" ({measured.source})" if measured.source else ""
        what = f"{spec.mark} measures {size:g} mm {name}{by}; its blank gives {blank:.1f} mm"
        mend = "Measure again; look at the lines on the blank and at the bender's allowance, or form it anew."
        where, told = Where(spec.drawing, spec.mark), f"{source}: {tolerance:g} mm either way"
        yield Finding("measured-form", CHECKS["measured-form"].level, what, where, size, blank, "mm", told, mend)
