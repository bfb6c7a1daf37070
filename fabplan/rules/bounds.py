"""The limits of spacing that hold for a seam before it has holes: each rule of the sets, worked out for its sizes."""

from collections.abc import Iterator, Sequence

from fabplan.model.rules import MOST_LINES, Rule, RuleSet
from fabplan.model.setout import Bound, SeamCase
from fabplan.rules.spacing import LIGHT

SPACED = ("pitch", "row distance", "diagonal", "end distance", "edge distance")


def bounds(sets: Sequence[RuleSet], case: SeamCase) -> tuple[Bound, ...]:
    """All limits of spacing that bind a seam, in the order of the sets.

    What may hold for some of its holes, as a rule for outer rows, is taken for all of them.
    """
    return tuple(
        Bound(rule.measure, rule.sense, _limit(rule, case), str(rule), rule.level, rule.source)
        for one in sets
        for rule in one.rules
        if rule.measure in SPACED and all(value in _values(key, case) for key, value in rule.when)
    )


def _limit(rule: Rule, case: SeamCase) -> float:
    sizes = {"d": case.rivet, "d0": case.hole, "t": case.outer, "t_max": case.thickest, "t_own": case.outer, "mm": 0.0}
    terms = [term.factor * sizes[term.of] + term.plus for term in rule.terms]
    return min(terms) if rule.take == "smaller" else max(terms)


def _values(condition: str, case: SeamCase) -> tuple[str, ...]:
    """The values of a condition that hold for a seam, or may hold for some of its holes."""
    return tuple(_holding(condition, case))


def _holding(condition: str, case: SeamCase) -> Iterator[str]:
    held: dict[str, tuple[tuple[str, bool], ...]] = {
        "load": tuple((load, case.load in ("", load)) for load in ("tension", "compression")),
        "exposure": (("exposed", case.exposed), ("sheltered", not case.exposed)),
        "edge": (("sheared", case.sheared), ("machine", not case.sheared)),
        "staggered": (("yes", case.staggered), ("no", not case.staggered)),
        "lines": ((str(min(case.lines, MOST_LINES)), True),),
        "line": (("outer", True), ("inner", case.lines > 2)),
        "tight": (("yes", case.tight),),
        "fastener": (("rivet", case.riveted),),
        "sheet": (("light", case.thickest < LIGHT),),
    }
    return (value for value, holds in held.get(condition, ()) if holds)
