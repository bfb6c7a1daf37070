"""One mistake that many pieces show, told once: a wrong hole in the job file is not sixty stops."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import replace

from fabplan.model.finding import Finding

COMMON = ("hole-for-rivet", "unlisted-ply", "hole-sizes-differ", "back-mark", "diameter-for-thickness")
"""Checks that hold a figure of the job, the same everywhere, against piece after piece."""

SHOWN = 8
"""Places that are named."""

Key = tuple[object, ...]


def folded(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """The findings, those of one check and alike figures as one; the first keeps its place."""
    groups: dict[Key, list[Finding]] = {}
    times = Counter[Key]()
    for one in findings:
        key = _alike(one)
        if one.check not in COMMON:  # parts of one drawing have its faults in common, each as often
            key = (*key, one.what, replace(one.where, part="", xy=None))
            times[(*key, one.where.part)] += 1
            key = (*key, times[(*key, one.where.part)], *(() if one.where.drawing else (one.where,)))
        groups.setdefault(key, []).append(one)
    return tuple(one for group in groups.values() for one in ([_one(group)] if len(group) > 1 else group))


def _alike(one: Finding) -> Key:
    return one.check, one.level, one.measured, one.required, one.mend, one.source, one.accepted


def _one(group: list[Finding]) -> Finding:
    first, *others = group
    places = list(dict.fromkeys(" ".join(filter(None, [one.where.part, one.where.seam])) for one in others))
    more = f" and {len(places) - SHOWN} more" if len(places) > SHOWN else ""
    times = {1: "once", 2: "twice"}.get(len(others), f"{len(others)} times")
    what = f"{first.what}; the same {times} more: {', '.join(places[:SHOWN])}{more}"
    return replace(first, what=what)
