"""A bender's own table of bends in place of DIN 6935."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from math import radians

from fabplan.body.found import finding
from fabplan.geom.bend import factor_of
from fabplan.model.bends import BendRow, FoldSpec
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job, PartSpec, Supplier
from fabplan.model.part import Part

SAME = 0.05  # mm by which a thickness or a radius may differ and be that of a row: half a tenth, as tables are printed


def by_bender(job: Job, spec: PartSpec) -> PartSpec:
    """The part with the neutral line of each fold by its bender's table, where he has one that holds the fold.

    A factor that the job states stands above it.
    """
    bender = _bender(job, spec)
    if bender is None or spec.thickness is None:
        return spec
    return replace(spec, folds=tuple(_by_table(fold, bender, spec.thickness) for fold in spec.folds))


def _bender(job: Job, spec: PartSpec) -> Supplier | None:
    """Who forms the part, where he states a table."""
    name = spec.bender or spec.supplier
    return next((one for one in job.suppliers if one.name == name and one.bends), None)


def _by_table(fold: FoldSpec, bender: Supplier, thickness: float) -> FoldSpec:
    if fold.k is not None:
        return fold
    k = table_factor(bender.bends, thickness, fold)
    return fold if k is None else replace(fold, k=k, by=f"table of {bender.name}, {bender.limits_dated or 'undated'}")


def table_factor(rows: Sequence[BendRow], thickness: float, fold: FoldSpec) -> float | None:
    """Factor of the neutral line by a table, None where it does not hold the fold.

    Thickness and inside radius must be those of a row. Between the angles of two rows the factor is taken in
    proportion, never beyond the first and last.
    """
    turn = abs(fold.angle)
    own = [
        (row.angle, factor_of(row.zone, radians(row.angle), row.inside_radius, row.thickness))
        for row in sorted(rows, key=lambda row: row.angle)
        if abs(row.thickness - thickness) <= SAME and abs(row.inside_radius - fold.inside_radius) <= SAME
    ]
    for angle, k in own:
        if angle == turn:
            return k
    for (low, first), (high, last) in pairwise(own):
        if low < turn < high:
            return first + (last - first) * (turn - low) / (high - low)
    return None


def not_in_table(job: Job, parts: Sequence[Part]) -> Iterator[Finding]:
    """Folds that their bender's table does not hold, for which DIN 6935 was taken."""
    for part in parts:
        bender = _bender(job, part.spec)
        for fold in part.spec.folds if bender is not None else ():
            if bender is not None and fold.k is None:
                what = (
                    f"{part.mark}: the table of {bender.name} holds no fold of {abs(fold.angle):g} degrees to "
                    f"{fold.inside_radius:g} mm inside in {part.thickness:g} mm ({fold.line}); DIN 6935 was taken"
                )
                mend = "Ask him for the row, or take a radius that his table holds."
                source = f"table of {bender.name}, {bender.limits_dated or 'undated'}"
                yield finding("bend-table", what, mend, Where(part.spec.drawing, part.mark), source=source)
