"""Faults of locations and their options: names that are not there, options that share a part or miss the pattern."""

from collections import Counter
from collections.abc import Iterator

from fabplan.errors import Fault
from fabplan.job.pieces import Pieces, no_piece
from fabplan.job.words import nearest
from fabplan.model import job as model
from fabplan.model.fitting import LocationSpec, OptionSpec
from fabplan.model.marks import instance_marks


def location_faults(location: LocationSpec, job: model.Job, pieces: Pieces) -> Iterator[Fault]:
    """All faults of one location."""
    yield from no_piece(f"{location.place}: holes", location.instance, pieces)
    bolts = [rivet.mark for rivet in job.rivets if rivet.kind in ("bolt", "fitted bolt")]
    if location.plug and location.plug not in bolts:
        what = f'there is no bolt "{location.plug}"'
        yield Fault(f"{location.place}: plug", what, nearest(location.plug, bolts) or "State it as [[fastener]].")
    marks = [option.mark for option in location.options]
    if location.chosen and location.chosen not in marks:
        what = f'"{location.chosen}" is no option of it'
        yield Fault(f"{location.place}: chosen", what, nearest(location.chosen, marks))
    for mark, count in Counter(marks).items():
        if count > 1:
            what = f'two options are called "{mark}"'
            yield Fault(f"{location.place}: options", what, "Give each a name of its own.")
    for option in location.options:
        yield from _option_faults(location, option, job)


def _option_faults(location: LocationSpec, option: OptionSpec, job: model.Job) -> Iterator[Fault]:
    place = f"{location.place}: option {option.mark}"
    known = {part.mark: part for part in job.parts}
    own = {mark for name in option.parts if name in known for mark, _ in instance_marks(known[name])}
    for name in option.parts:
        others = [one for at in job.locations for one in at.options if one is not option and name in one.parts]
        if name not in known:
            yield Fault(place, f'"{name}" is no part of the job', nearest(name, known))
        elif others:
            yield Fault(place, f"part {name} stands in two options", "Give each option parts of its own.")
    if job.datum in own:
        yield Fault(place, f"the datum {job.datum} is part of it", "Take a datum that is always fitted.")
    shared = (location.instance, location.row)
    plies = [{(ply.instance, ply.row) for ply in seam.plies} for seam in job.seams]
    if own and not any(shared in seam and {instance for instance, _ in seam} & own for seam in plies):
        what = f"no seam joins a part of it to {location.instance}/{location.row}"
        yield Fault(place, what, "Every option is held by the pattern of its location: name that row in its seam.")
