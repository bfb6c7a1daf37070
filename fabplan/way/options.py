"""Every option of a fitting that is not chosen, tried on the body in place of the one that is."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from fabplan.body.check import check_body
from fabplan.body.fittings import arranged
from fabplan.body.head_room import check_head_room
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Level
from fabplan.model.fitting import LocationSpec, OptionSpec
from fabplan.model.joints import PlaceSpec
from fabplan.model.marks import instance_marks
from fabplan.model.pose import Pose
from fabplan.rules.bearing import check_bearing
from fabplan.rules.fasteners import check_fasteners
from fabplan.rules.legs import check_legs
from fabplan.sequence.order import order
from fabplan.way.assembly import Assembly, put_together
from fabplan.way.check import Progress, rule_sets
from fabplan.way.formed import supplied
from fabplan.way.part_checks import check_parts


def check_options(made: Assembly, found: Sequence[Finding], progress: Progress = str) -> Iterator[Finding]:
    """What each option that is not chosen would bring, beyond what the chosen ones do.

    Args:
        made: the job with its chosen options.
        found: what was found about the body with them.
        progress: told each option.
    """
    known = {(one.check, one.what) for one in found}
    for location in made.stated.locations:
        for option in location.options:
            if option.mark != location.chosen:
                name = f"{option.mark} at location {location.mark}"
                progress(f"option {name}")
                stated = replace(made.stated, places=(*made.stated.places, *_seated(made, location, option)))
                other = put_together(stated, {location.mark: option.mark}, made.tables)
                more = (*_built(other), *_drawn(other, option.parts))
                fresh = [one for one in more if one.level is not Level.NOTE and (one.check, one.what) not in known]
                yield from (_told(name, one) for one in fresh)


def _seated(made: Assembly, location: LocationSpec, option: OptionSpec) -> tuple[PlaceSpec, ...]:
    """The places of all pieces: an option's as its holes set it, others as they stand; none where that is in doubt.

    A body is looked for in which nothing clashes: to fit one that does, it would turn it, or lay its mates elsewhere.
    """
    job, body = arranged(made.stated, {location.mark: option.mark}), made.placing.body
    own = {mark for part in job.parts if part.mark in option.parts for mark, _ in instance_marks(part)}
    named = {place.part for place in job.places} | {job.datum}
    pairs = zip(body.instances, body.poses, strict=True)
    stand = tuple(_place(one.mark, pose) for one, pose in pairs if pose is not None and one.mark not in named)
    alone = replace(made.stated, places=(*made.stated.places, *stand))
    found = put_together(alone, {location.mark: option.mark}, made.tables, by_holes=True).placing
    if found.doubt is not None or found.faults:
        return ()
    pairs = zip(found.body.instances, found.body.poses, strict=True)
    return (*stand, *(_place(one.mark, pose) for one, pose in pairs if one.mark in own - named and pose is not None))


def _place(mark: str, pose: Pose) -> PlaceSpec:
    (ox, oy, oz), (x0, x1, x2), (y0, y1, y2) = (
        pose.origin.tolist(), pose.rotation[:, 0].tolist(), pose.rotation[:, 1].tolist()
    )  # fmt: skip
    return PlaceSpec(mark, (ox, oy, oz), (x0, x1, x2), (y0, y1, y2))


def _built(made: Assembly) -> tuple[Finding, ...]:
    """What is found on a body with an option: fit, fasteners, room for heads, lengths, reach and order."""
    job, body, stacks, tables = made.job, made.placing.body, made.stacks, made.tables
    found = tuple(check_body(job, made.placing, made.holes, stacks))
    room = check_head_room(job, body, stacks, tables, found)
    supply, lengths = supplied(job, (body, made.holes, stacks), tables)
    _, reach = order(job, body, stacks, tables, supply.bolted)
    of_rules = (
        *check_legs(job, body, stacks, tables),
        *check_bearing(job, body, stacks, tables),
        *check_fasteners(job, body, stacks, tables),
    )
    return (*found, *of_rules, *room, *lengths, *reach)


def _drawn(made: Assembly, parts: Sequence[str]) -> Iterator[Finding]:
    """What is found on the drawings of an option's own parts."""
    sets = rule_sets(made.job.rules)
    checked, _ = check_parts(made.job, made.placing.body, made.stacks, made.tables, sets)
    for one in checked:
        if one.part is not None and one.part.spec.mark in parts:
            yield from one.findings


def _told(name: str, one: Finding) -> Finding:
    """A finding about an option, which stops nothing while that is not chosen."""
    check = "fitting-option"
    what = f"option {name}, not chosen: {one.check}: {one.what}"
    return replace(one, check=check, level=CHECKS[check].level, what=what)
