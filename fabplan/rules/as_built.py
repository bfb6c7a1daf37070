"""Measured sizes against what the standards let plate be, and against what its blank gives."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite

from fabplan.geom.tolerance import FIGURE
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.forming import BuiltRecord, FormingRecord
from fabplan.model.job import Job, PartSpec
from fabplan.model.measured import Measured
from fabplan.model.tables import Tables
from fabplan.model.tolerances import Tolerances, thickness_off
from fabplan.rules.bends import tolerance_of

SAME = 0.05  # mm that sizes differ which print alike
AXES = ("along x", "along y", "high")


def check_as_built(job: Job, tolerances: Tolerances) -> Iterator[Finding]:
    """A note for each plate whose thickness was measured, and a stop where its standard forbids it."""
    for spec in job.parts:
        if spec.measured_thickness is not None and spec.thickness is not None:
            yield _told(spec, spec.thickness, spec.measured_thickness)
            yield from _off(spec, spec.thickness, spec.measured_thickness, tolerances)


def _told(spec: PartSpec, stated: float, measured: float) -> Finding:
    asked = "drawn and ordered" if spec.made else "drawn"
    what = f"{spec.mark} is built of {measured:g} mm as measured, {asked} as {stated:g} mm"
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
        if not spec.made:
            what = f"{spec.mark}, an old piece, drawn as {stated:g} mm, measures {measured:g} mm: {word} than the "
            what += "standard lets new plate be"
            mend = (
                "Measure round its edges and holes for wear and rust; then have it accepted in the job file by whoever "
            )
            mend += "answers for strength and caulking edge, or make it anew."
        figures = (measured, limit, "mm")
        check = "thickness-off"
        yield Finding(check, CHECKS[check].level, what, Where(part=spec.mark), *figures, source, mend)


@dataclass(frozen=True, slots=True)
class _Size:
    """One measured size: where, as measured, as the blank gives it, as it is built, mm; whether a bend settles it."""

    where: str
    asked: float
    blank: float
    built: float
    settled: bool = True

    @property
    def off(self) -> float:
        """As built less as measured."""
        return self.built - self.asked

    @property
    def kept(self) -> bool:
        """Whether the piece is built so."""
        return abs(self.off) <= SAME + FIGURE

    @property
    def miss(self) -> str:
        """What is built in its place."""
        why = "" if self.settled else ", which no bend settles"
        return f"{self.asked:g} mm {self.where}{why}: built {self.built:.1f}, {abs(self.off):.1f} mm {self.more}"

    @property
    def more(self) -> str:
        """In which way it is off."""
        return "more" if self.off > 0.0 else "less"


def check_formed_as_built(
    job: Job, records: Sequence[FormingRecord], built: Sequence[BuiltRecord], tables: Tables
) -> Iterator[Finding]:
    """Formed pieces that were measured: what is built of it, a stop where sizes contradict, queries on the blank.

    Args:
        job: the job.
        records: of its formed pieces, by their blanks as stated.
        built: what became of sizes measured over them.
        tables: shop tables (tolerances of formed lengths).
    """
    by_mark, so_built = {record.mark: record for record in records}, {record.mark: record for record in built}
    for spec in job.parts:
        record, own = by_mark.get(spec.mark), so_built.get(spec.mark)
        if spec.measured is None or record is None:
            continue
        sizes = list(_sizes(spec, spec.measured, record, own))
        if own is not None and not own.taken:
            yield _disagree(spec, spec.measured, sizes, own)
        elif sizes:
            yield _formed_told(spec, sizes)
        for one in sizes:
            yield from _formed_off(spec, spec.measured, one, tables)


def _sizes(spec: PartSpec, measured: Measured, record: FormingRecord, own: BuiltRecord | None) -> Iterator[_Size]:
    """Each measured size of a piece."""
    if own is not None:
        for each in zip(AXES, measured.over, record.size, own.size, own.settled, strict=True):
            if isfinite(each[1]):
                yield _Size(*each)
    if measured.across is not None:
        blank = 2.0 * (abs(spec.rolls[0].inside_radius) + record.thickness)
        yield _Size("across", measured.across, blank, measured.across)


def _formed_told(spec: PartSpec, sizes: Sequence[_Size]) -> Finding:
    """One note on all sizes: those that are built, and each that is not with what is."""
    kept, missed = [one for one in sizes if one.kept], [one.miss for one in sizes if not one.kept]
    words = ", ".join(f"{one.asked:g} mm {one.where} over its outside" for one in kept)
    what = f"{spec.mark} is built as it was formed: {words} by measure, the blank gives "
    what += ", ".join(f"{one.blank:.1f}" for one in kept)
    if missed:
        what = f"{what}; not so " if kept else f"{spec.mark} is not built as it was measured over its outside: "
        what += "; ".join(missed)
    mend = "Places of its holes and what meets it follow the piece as built; its drawing and forming sheet do not."
    where = Where(spec.drawing, spec.mark)
    return Finding("as-built", CHECKS["as-built"].level, what, where, source="the job file", mend=mend)


def _disagree(spec: PartSpec, measured: Measured, sizes: Sequence[_Size], own: BuiltRecord) -> Finding:
    """Sizes that its bends cannot give together: each with what they come nearest to, and what is built."""
    row, nearest = CHECKS["over-disagrees"], dict(zip(AXES, own.best, strict=True))
    by = f" ({measured.source})" if measured.source else ""
    if own.trouble:
        words = "; ".join(one.miss for one in sizes if not one.kept)
        what = f"{spec.mark}: sizes measured over it{by} cannot be had, {own.trouble}; not taken are {words}"
    else:
        words = "; ".join(
            f"{one.asked:g} mm {one.where}, nearest {nearest[one.where]:.1f}, built {one.built:.1f}, "
            f"off by {round(one.off, 1) + 0.0:+.1f}"
            for one in sizes
            if one.settled
        )
        what = f"{spec.mark}: sizes measured over it{by} contradict each other by its blank and angles; not taken are "
        what += words
    worst = max((one for one in sizes if one.settled), key=lambda one: abs(one.asked - nearest[one.where]))
    mend = "Measure them again, and the angles of its bends, which are taken as stated; its blank's form stands."
    where = Where(spec.drawing, spec.mark)
    figures = (worst.asked, worst.built if own.trouble else nearest[worst.where], "mm")
    return Finding("over-disagrees", row.level, what, where, *figures, row.source, mend)


def _formed_off(spec: PartSpec, measured: Measured, one: _Size, tables: Tables) -> Iterator[Finding]:
    tolerance, source = tolerance_of(one.blank, tables)
    if not abs(one.asked - one.blank) <= tolerance + FIGURE:
        by = f" ({measured.source})" if measured.source else ""
        what = f"{spec.mark} measures {one.asked:g} mm {one.where} over its outside{by}; its blank gives "
        what += f"{one.blank:.1f} mm"
        mend = "Measure again; look at the lines on the blank and at the bender's allowance, or form it anew."
        if not one.settled:
            what += f", no bend settles it: it is built {one.built:.1f} mm, {abs(one.off):.1f} mm {one.more}"
            mend = "Measure again, and the blank too: folding does not change a size along the fold."
        where, told = Where(spec.drawing, spec.mark), f"{source}: {tolerance:g} mm either way"
        yield Finding(
            "measured-form", CHECKS["measured-form"].level, what, where, one.asked, one.blank, "mm", told, mend
        )
