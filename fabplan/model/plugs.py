"""Holes at the locations of fittings, and those that stay open."""

from fabplan.model.body import Body, Stacks
from fabplan.model.fitting import LocationSpec
from fabplan.model.job import Job


def left_open(job: Job, body: Body, stacks: Stacks) -> dict[str, set[tuple[int, int]]]:
    """The holes, instance and number, of each location that no rivet takes."""
    taken = set(zip(stacks.ply_instance.tolist(), stacks.ply_hole.tolist(), strict=True))
    found = {}
    for location in job.locations:
        own = holes_at(location, body)
        found[location.mark] = own - taken
    return found


def holes_at(location: LocationSpec, body: Body) -> set[tuple[int, int]]:
    """All holes of a location: instance and number."""
    marks = [instance.mark for instance in body.instances]
    if location.instance not in marks:
        return set()
    instance = marks.index(location.instance)
    rows = body.part_of(instance).holes.holes.row
    return {(instance, hole) for hole, row in enumerate(rows) if row == location.row}


def names_of(holes: set[tuple[int, int]], body: Body) -> str:
    """Holes, instance and number, as printed: "P1 V 7, V 8"."""
    pieces = sorted({instance for instance, _ in holes})
    found = []
    for piece in pieces:
        number = body.part_of(piece).holes.holes.number
        own = ", ".join(number[hole] for instance, hole in sorted(holes) if instance == piece)
        found.append(f"{body.instances[piece].mark} {own}")
    return "; ".join(found)
