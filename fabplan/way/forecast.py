"""The road of the forecast: what the steel will do, before it is ordered."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from pathlib import Path
from typing import Any

from fabplan.errors import Fault, JobError
from fabplan.forecast.makes import ASSUMED, DRILLED, Make, known_words, make_of
from fabplan.forecast.run import UNDER, forecast, kit_of
from fabplan.geom.scatter import LIMIT
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body, Stacks
from fabplan.model.forecast import OUTCOMES, Forecast
from fabplan.model.job import Job
from fabplan.model.part import Part
from fabplan.model.tolerances import Tolerances
from fabplan.rules.tolerances import read_tolerances
from fabplan.sheets.forecast_sheet import forecast_sheets, forecast_tables
from fabplan.sheets.pdf import write_pdf
from fabplan.sheets.table import Table
from fabplan.way.assembly import assembled
from fabplan.way.check import Progress, supplier_of
from fabplan.way.writing import writing

NOT_CHECKED = (
    "the drawings themselves: a forecast is of steel that strays about drawings that fit; run fabplan check before",
    "angles of folds, roundness of rolled zones, twist and bow of bars: taken as drawn flat by bolting up",
    "sections off their lists, taper of cut holes, heat of driving",
)


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """A forecast with the body that it is of."""

    job: Job
    body: Body
    stacks: Stacks
    forecast: Forecast


def foretell(path: Path | str, bodies: int, seed: int, progress: Progress = str) -> Outlook:
    """Thousands of bodies of one job.

    Args:
        path: the job file.
        bodies: how many.
        seed: of the random numbers; the same seed gives the same bodies.
        progress: told each stage in a few words.

    Raises:
        FabplanError: the job file or a table cannot be used, or no rivet is put together by it.
    """
    made, tolerances = assembled(path, progress), read_tolerances()
    job, body = made.job, made.placing.body
    if not len(made.stacks):
        fault = Fault(str(path), "no two pieces are riveted to one another", "Run fabplan check on it first.")
        raise JobError((fault,))
    progress("spreads")
    taken = {record.mark for record in made.measured if record.taken}
    makes = [make_of(part, _process(job, part), tolerances, taken=part.mark in taken) for part in body.parts]
    kit = kit_of(job, body, made.stacks, made.tables, (makes, tolerances.out))
    lines = tuple(_assumptions(job, body, (makes, taken), tolerances))
    return Outlook(job, body, made.stacks, forecast(kit, bodies, seed, lines, progress))


def _process(job: Job, part: Part) -> str:
    supplier = supplier_of(job, part.spec)
    return supplier.process if supplier is not None else ""


def _assumptions(job: Job, body: Body, made: tuple[list[Make], set[str]], tolerances: Tolerances) -> Iterator[str]:
    """Lines to print; `made`: how each part is made, and the marks of those whose measured holes were taken."""
    makes, taken = made
    used: dict[str, Counter[str]] = {}
    for instance in body.instances:
        part = body.parts[instance.part]
        known = known_words(part, taken=part.mark in taken)
        if known:
            yield f"holes of {instance.mark}: {known}"
            continue
        stated = _process(job, part)
        how = DRILLED if part.section is not None else stated or f"{ASSUMED}, assumed"
        used.setdefault(makes[instance.part].row.source, Counter())[how] += 1
    for source, count in used.items():
        words = ", ".join(f"{number} pieces ({how})" for how, number in count.items())
        yield f"lengths within a piece, and holes: {source}: {words}"
    yield f"a limit stands for {LIMIT:g} standard deviations of a normal spread (assumed)"
    names = ("thickness from strip", "thickness of plate", "folds", "rolls", "easing")
    yield from (f"{name}: {source}" for name, source in zip(names, tolerances.sources, strict=True))
    yield f"a hot rivet is {100 * job.shop.hot_growth:g} % fatter when it is put in (from memory)"
    shop = job.shop
    yield (
        f"minutes a hole: opened {shop.open_minutes:g}, eased {shop.ease_minutes:g}, next size "
        f"{shop.next_size_minutes:g}, made anew {shop.remake_minutes:g}; more for a row drawn together at its middle: "
        f"{shop.align_minutes:g} (assumed where [shop] does not state them)"
    )
    yield f"pilot holes are {UNDER:g} mm smaller in every ply that is to be made (common practice)"
    yield from (f"not in it: {line}" for line in NOT_CHECKED)


def write_forecast(outlook: Outlook, path: Path) -> None:
    """Write the sheets of a forecast into a PDF file.

    Raises:
        OutputError: the file cannot be written.
    """
    pages = forecast_sheets(outlook.job, outlook.body, outlook.stacks, outlook.forecast)
    with writing(path):
        write_pdf(pages, path, f"{outlook.job.number} {outlook.job.title}: forecast".strip())


def tables(outlook: Outlook) -> list[Table]:
    """The tables of a forecast, for the screen."""
    return forecast_tables(outlook.job, outlook.stacks, outlook.forecast)


def record(outlook: Outlook) -> dict[str, Any]:
    """The forecast as plain figures, for JSON."""
    found, stacks = outlook.forecast, outlook.stacks
    return {
        "bodies": found.bodies,
        "seed": found.seed,
        "outcomes": list(OUTCOMES),
        "choices": [
            {
                "title": choice.title,
                "aligned": choice.aligned,
                "minutes": {"holes": _minutes(cost.work), "drawing_together": _minutes(cost.align)},
                "pilots": [stacks.number[i] for i in choice.pilots.nonzero()[0].tolist()],
                "rivets": [
                    {"number": number, "share": share, "out": out}
                    for number, share, out in zip(
                        stacks.number, choice.share.round(4).tolist(), choice.out.round(2).tolist(), strict=True
                    )
                ],
                "seams": [
                    {"seam": seam.mark, "eased": round(mean, 2), "eased_likely_worst": int(worst)}
                    for seam, (mean, worst) in zip(outlook.job.seams, choice.easing.tolist(), strict=True)
                ],
            }
            for choice, cost in zip(found.choices, found.costs, strict=True)
        ],
        "assumptions": list(found.assumptions),
    }


def _minutes(by_seam: FloatArray) -> float | None:
    """Minutes of all seams (s,); None where nobody can say."""
    whole = float(by_seam.sum())
    return round(whole, 1) if isfinite(whole) else None
