"""The first half of the road: from a job file to a body put together, before anything is judged."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fabplan.body.drilled import drilled
from fabplan.body.fittings import arranged
from fabplan.body.parts import make_parts
from fabplan.body.place import Placing, place
from fabplan.body.stacks import BodyHoles, body_holes, stack
from fabplan.drawing.hand import other_hand
from fabplan.drawing.read import read_drawing
from fabplan.drawing.shares import Shares, shared_out
from fabplan.errors import Fault, JobError, RuleDataError
from fabplan.job.read import read_job
from fabplan.model.body import Stacks
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.lookup import find_section
from fabplan.model.measured import MeasuredRecord
from fabplan.model.tables import Tables
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.way.check import Progress, intake_of
from fabplan.way.measured import as_measured
from fabplan.way.measured_bars import bars_as_measured
from fabplan.way.rows import named_rows


@dataclass(frozen=True, slots=True, eq=False)
class Assembly:
    """A job as stated and with its chosen fittings alone, its tables, its drawings by mark, and the body of it.

    `files`: its drawings by file name, each whole.
    `rests`: what of the files of several pieces goes with none of the parts.
    `row_findings`: what was found about rows that are not there, and holes that were measured.
    `measured`: how these lie over their drawings.
    """

    stated: Job
    job: Job
    tables: Tables
    files: Mapping[str, Drawing]
    drawings: Mapping[str, Drawing]
    rests: tuple[Drawing, ...]
    row_findings: Sequence[Finding]
    placing: Placing
    holes: BodyHoles
    stacks: Stacks
    measured: Sequence[MeasuredRecord]


def assembled(path: Path | str, progress: Progress = str) -> Assembly:
    """Read a job and put its body together, with the fittings that it chooses.

    Args:
        path: the job file.
        progress: told each stage in a few words.

    Raises:
        FabplanError: the job file or a table cannot be used.
    """
    progress("job and tables")
    job, tables = read_job(Path(path), rule_set_names()), read_tables()
    known_sections(job, tables)
    return put_together(job, {}, tables, progress)


def put_together(
    stated: Job, fitted: Mapping[str, str], tables: Tables, progress: Progress = str, *, by_holes: bool = False
) -> Assembly:
    """The body of a job.

    Args:
        stated: the job, with all its options.
        fitted: options by their locations, where not those that the job chooses.
        tables: shop tables.
        progress: told each stage in a few words.
        by_holes: True to place pieces by their holes alone, whatever clashes.
    """
    job = arranged(stated, fitted)
    progress("drawings")
    files = _files(job)
    drawings = {mark: piece for shares in _shared_out(job, files) for mark, piece in shares.pieces.items()}
    job, row_findings = named_rows(job, drawings)
    drawings, measured, records = as_measured(job, drawings)
    built, of_bars, bar_records = bars_as_measured(job)
    progress("putting together")
    parts, instances = make_parts(built, drawings, tables, lambda name: find_section(tables, name), other_hand)
    placing = place(job, parts, instances, by_holes=by_holes)
    placing = replace(placing, body=drilled(job, placing.body))
    holes = body_holes(placing.body)
    stacks = stack(job, placing.body, holes)
    rests = tuple(shares.rest for shares in _shared_out(stated, files) if shares.rest is not None)
    found, told = (*row_findings, *measured, *of_bars), (*records, *bar_records)
    return Assembly(stated, job, tables, files, drawings, rests, found, placing, holes, stacks, told)


def known_sections(job: Job, tables: Tables) -> None:
    """Look up the sections of all bars.

    Raises:
        JobError: some are in no table; all of them are in it, each with its place.
    """
    faults = []
    for spec in job.parts:
        try:
            if spec.section:
                find_section(tables, spec.section)
        except RuleDataError as error:
            faults.append(Fault(f"{spec.place}: section", error.what, error.mend))
    if faults:
        raise JobError(tuple(faults))


def read_drawings(job: Job) -> dict[str, Drawing]:
    """The drawing of each plate by its mark; a file is read once, and may hold several pieces, each with its mark."""
    return {mark: piece for shares in _shared_out(job, _files(job)) for mark, piece in shares.pieces.items()}


def _files(job: Job) -> dict[str, Drawing]:
    names = sorted({spec.drawing for spec in job.parts if spec.drawing})
    specs = {name: [spec for spec in job.parts if spec.drawing == name] for name in names}
    return {name: read_drawing(job.drawings / name, intake_of(job, specs[name])) for name in names}


def _shared_out(job: Job, files: Mapping[str, Drawing]) -> Iterator[Shares]:
    """Each file shared out among the parts of a job that are drawn in it."""
    for name, drawing in files.items():
        yield shared_out(drawing, {spec.mark: spec.thickness for spec in job.parts if spec.drawing == name})
