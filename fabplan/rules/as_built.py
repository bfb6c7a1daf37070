"""Measured sizes against what the standards let plate be."""

from collections.abc import Iterator

from fabplan.geom.tolerance import FIGURE
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.job import Job, PartSpec
from fabplan.model.tolerances import Tolerances, thickness_limits


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
    limits = thickness_limits(tolerances, stated)
    if limits is None:
        return
    least, most = limits
    if not least - FIGURE <= measured <= most + FIGURE:
        limit, word = (least, "thinner") if measured < least else (most, "thicker")
        what = f"{spec.mark} of {stated:g} mm measures {measured:g} mm: {word} than its standard lets it be"
        mend = "Send it back, or have it accepted in the job file by whoever answers for strength and caulking edge."
        figures = (measured, limit, "mm")
        check = "thickness-off"
        yield Finding(check, CHECKS[check].level, what, Where(part=spec.mark), *figures, tolerances.sources[0], mend)
