"""All that is to be bought, cut and sawn for a body."""

from collections.abc import Mapping

import numpy as np

from fabplan.model.body import Body, Stacks
from fabplan.model.driven import driven
from fabplan.model.finding import Finding
from fabplan.model.job import Job
from fabplan.model.supply import Supply
from fabplan.model.tables import Tables
from fabplan.supply.bars import bar_lines
from fabplan.supply.bolts import (
    bolt_lines,
    dummy_lines,
    plug_lines,
    service_bolts,
    service_sizes,
    stay_sizes,
)
from fabplan.supply.plates import plate_lines
from fabplan.supply.rivets import rivet_lines


def count(
    job: Job, body: Body, stacks: Stacks | None, tables: Tables, moved: Mapping[int, int] | None = None
) -> tuple[Supply, tuple[Finding, ...]]:
    """The lists, and what to ask about them.

    Args:
        job: the job.
        body: its pieces; whether they could be placed does not matter to plates and bars.
        stacks: the rivets, or None where nothing was put together: then no rivets and bolts are listed.
        tables: shop tables.
        moved: stacks whose service bolts stand in others, and these.
    """
    pieces = sum(body.part_of(number).mass for number in range(len(body.instances)))
    plates, bars = plate_lines(body), bar_lines(body)
    if stacks is None:
        return Supply(plates, bars, total_mass=pieces), ()
    takes = driven(job, body, stacks)
    rivets, rivet_line, findings = rivet_lines(job, stacks, takes, tables)
    chosen = service_bolts(job, stacks, takes)
    chosen = np.array([(moved or {}).get(one, one) for one in chosen.tolist()], dtype=np.int64)
    bolts, seam_bolts = bolt_lines(job, stacks, takes, chosen)
    bolts = (*bolts, *dummy_lines(job, body), *plug_lines(job, body, stacks))
    bolted = tuple(chosen.tolist())
    rivet_mass = sum(line.count * line.mass_each for line in rivets)
    mass = pieces + rivet_mass
    sizes = service_sizes(stacks, chosen), stay_sizes(job, stacks, takes)
    return Supply(plates, bars, rivets, bolts, rivet_line, seam_bolts, mass, rivet_mass, bolted, *sizes), findings
