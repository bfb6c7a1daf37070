"""Dummy heads: heads alone, for looks, that hold nothing and want no mate."""

from collections.abc import Iterator

from fabplan.model.body import Body
from fabplan.model.job import Job


def dummies(job: Job, body: Body) -> set[tuple[int, int]]:
    """The holes or marks (instance, hole of its part) where dummy heads sit."""
    return {place for _, place in _placed(job, body)}


def dummy_count(job: Job, body: Body) -> dict[str, int]:
    """How many dummy heads there are of each mark of a fastener."""
    counts: dict[str, int] = {}
    for mark, _ in _placed(job, body):
        counts[mark] = counts.get(mark, 0) + 1
    return counts


def _placed(job: Job, body: Body) -> Iterator[tuple[str, tuple[int, int]]]:
    kinds = {rivet.mark: rivet.kind for rivet in job.rivets}
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    for seam in job.seams:
        if kinds.get(seam.rivet) != "dummy head":
            continue
        for ply in seam.plies:
            instance = index[ply.instance]
            for k, row in enumerate(body.part_of(instance).holes.holes.row):
                if row == ply.row:
                    yield seam.rivet, (instance, k)
