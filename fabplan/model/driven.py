"""Which stacks are driven: those that take a rivet, and no other fastener."""

import numpy as np

from fabplan.model.arrays import BoolArray
from fabplan.model.body import Body, Stacks
from fabplan.model.job import Job


def driven(job: Job, body: Body, stacks: Stacks) -> BoolArray:
    """(n,) True for stacks that take a rivet: it is known, no other fastener, and their first hole no bolt hole."""
    bolt_holes = [np.array(part.holes.holes.purpose, dtype=np.str_) == "bolt" for part in body.parts]
    begin = np.cumsum([0, *map(len, bolt_holes)])
    part_of = np.array([instance.part for instance in body.instances], dtype=np.int64)
    lead = stacks.first[:-1]
    hole = begin[part_of[stacks.ply_instance[lead]]] + stacks.ply_hole[lead]
    is_rivet = np.array([rivet.kind == "rivet" for rivet in job.rivets] + [False], dtype=np.bool_)
    takes: BoolArray = is_rivet[stacks.rivet] & ~np.concatenate([*bolt_holes, np.zeros(0, dtype=np.bool_)])[hole]
    return takes
