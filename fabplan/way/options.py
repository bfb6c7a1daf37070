"""Every option of a fitting that is not chosen, tried on the body in place of the one that is."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from fabplan.body.check import check_body
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Level
from fabplan.way.assembly import Assembly, put_together
from fabplan.way.check import Progress, rule_sets
from fabplan.way.part_checks import check_parts


def check_options(made: Assembly, found: Sequence[Finding], progress: Progress = str) -> Iterator[Finding]:
    """What each option that is not chosen would bring, beyond what the chosen ones do.

    Args:
        made: the job with its chosen options.
        found: what the checks of the body found about it.
        progress: told each option.
    """
    known = {(one.check, one.what) for one in found}
    for location in made.stated.locations:
        for option in location.options:
            if option.mark != location.chosen:
                name = f"{option.mark} at location {location.mark}"
                progress(f"option {name}")
                other = put_together(made.stated, {location.mark: option.mark}, made.tables)
                more = (*check_body(other.job, other.placing, other.holes, other.stacks), *_drawn(other, option.parts))
                fresh = [one for one in more if one.level is not Level.NOTE and (one.check, one.what) not in known]
                yield from (_told(name, one) for one in fresh)


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
