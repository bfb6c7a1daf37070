"""From a folder of bare drawings and tables to the body that their holes allow."""

from pathlib import Path

from fabplan.body.parts import make_parts
from fabplan.drawing.hand import other_hand
from fabplan.job.read import read_job
from fabplan.model.job import Job
from fabplan.model.lookup import find_section
from fabplan.model.part import Instance, Part
from fabplan.rules.sets import rule_set_names
from fabplan.rules.tables import read_tables
from fabplan.way.assembly import known_sections, read_drawings


def pieces_of(path: Path) -> tuple[Job, tuple[Part, ...], tuple[Instance, ...]]:
    """The job, its parts, and its pieces of steel.

    Raises:
        FabplanError: the job file or a table cannot be used.
    """
    job, tables = read_job(path, rule_set_names()), read_tables()
    known_sections(job, tables)
    drawings = read_drawings(job)
    parts, instances = make_parts(job, drawings, tables, lambda name: find_section(tables, name), other_hand)
    return job, parts, instances
