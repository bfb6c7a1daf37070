"""What is formed: the records of the forming sheets, all that is found about them, and rivets through them."""

from collections.abc import Mapping
from dataclasses import replace

from fabplan.body.as_built import built_records
from fabplan.body.bend_table import not_in_table
from fabplan.body.formed import form_findings, forming_records
from fabplan.body.press import press_findings
from fabplan.body.stacks import BodyHoles
from fabplan.body.template import counted, template_findings, template_records
from fabplan.model.body import Body, Stacks
from fabplan.model.finding import Finding
from fabplan.model.forming import FormingRecord
from fabplan.model.job import Job
from fabplan.model.supply import Supply
from fabplan.model.tables import Tables
from fabplan.rules.as_built import check_formed_as_built
from fabplan.rules.bends import check_formed_sizes, check_sectors
from fabplan.supply.count import count


def forming(
    job: Job, body: Body, holes: BodyHoles, stacks: Stacks, tables: Tables
) -> tuple[tuple[FormingRecord, ...], tuple[Finding, ...]]:
    """The records of all formed pieces, and what is found about their forming."""
    records = forming_records(body.kinds())
    found = (
        *form_findings(body.kinds()),
        *template_findings(job, body, holes, stacks),
        *not_in_table(job, body.kinds()),
        *press_findings(body.kinds()),
        *check_formed_sizes(job, records, tables),
        *check_sectors(job, records, tables),
        *check_formed_as_built(job, records, built_records(body.kinds()), tables),
    )
    return (*records, *template_records(job, body, holes, stacks)), found


def supplied(
    job: Job, placed: tuple[Body, BodyHoles, Stacks], tables: Tables, moved: Mapping[int, int] | None = None
) -> tuple[Supply, tuple[Finding, ...]]:
    """The lists, with the rivets that go through plates formed to template; `moved` as in `fabplan.supply.count`."""
    body, holes, stacks = placed
    supply, found = count(job, body, counted(job, body, holes, stacks), tables, moved)
    many = len(stacks)
    own = tuple(one for one in supply.bolted if one < many)
    return replace(supply, rivet_line=supply.rivet_line[:many], bolted=own), found
