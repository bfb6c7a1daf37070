"""Dummy heads: heads alone, for looks, that hold nothing and want no mate."""

from collections.abc import Iterator

import numpy as np

from fabplan.model.arrays import IntArray
from fabplan.model.body import Body
from fabplan.model.job import Job


def dummies(job: Job, body: Body) -> set[tuple[int, int]]:
    """The holes or marks (instance, hole of its part) where dummy heads sit."""
    return {place for _, place in placed(job, body)}


def dummies_of(job: Job, body: Body) -> IntArray:
    """(n,) how many dummy heads each seam has."""
    return np.bincount([seam for seam, _ in placed(job, body)], minlength=len(job.seams)).astype(np.int64)


def dummy_count(job: Job, body: Body) -> dict[str, int]:
    """How many dummy heads there are of each mark of a fastener."""
    counts: dict[str, int] = {}
    for seam, _ in placed(job, body):
        mark = job.seams[seam].rivet
        counts[mark] = counts.get(mark, 0) + 1
    return counts


def placed(job: Job, body: Body) -> Iterator[tuple[int, tuple[int, int]]]:
    """Each dummy head: index of its seam, and the hole (instance, hole of its part) where it sits."""
    kinds = {rivet.mark: rivet.kind for rivet in job.rivets}
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    for number, seam in enumerate(job.seams):
        if kinds.get(seam.rivet) != "dummy head":
            continue
        for ply in seam.plies:
            instance = index[ply.instance]
            for k in ply.among(body.part_of(instance).holes.holes.row):
                yield number, (instance, k)
