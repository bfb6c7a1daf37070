"""Figures in words: no two unlike ones that look alike, and none rounded to the wrong side of a limit."""

import math
from collections.abc import Sequence
from fractions import Fraction

INCH = 25.4  # mm, exact since 1959
NEAR = 0.0125  # mm by which a size may miss a sixteenth of an inch and still be one: 11.1 and 11.11 for 11.1125
METRIC = 0.5  # mm: plates and holes of metric work stand in such steps


def unlike(value: float, limit: float, decimals: int = 2) -> tuple[str, str]:
    """Two figures with as many decimals, six at most, as it takes for unlike ones to look unlike.

    >>> unlike(24.199, 24.2), unlike(24.2, 24.2), unlike(23.0, 24.2, 1)
    (('24.199', '24.200'), ('24.20', '24.20'), ('23.0', '24.2'))
    """
    for count in range(decimals, 7):
        both = f"{value:.{count}f}", f"{limit:.{count}f}"
        if both[0] != both[1]:
            return both
    return f"{value:.{decimals}f}", f"{limit:.{decimals}f}"


def at_least(limit: float) -> str:
    """A limit rounded up to a tenth: who keeps to it passes.

    >>> at_least(24.2), at_least(24.21)
    ('24.2', '24.3')
    """
    return f"{math.ceil(round(limit * 10.0, 6)) / 10.0:.1f}" if math.isfinite(limit) else f"{limit}"


def at_most(limit: float) -> str:
    """A limit rounded down to a tenth.

    >>> at_most(64.0), at_most(64.09)
    ('64.0', '64.0')
    """
    return f"{math.floor(round(limit * 10.0, 6)) / 10.0:.1f}" if math.isfinite(limit) else f"{limit}"


def sixteenths(size: float) -> str:
    """The fraction of an inch that a size of an eighth or more is, in words; "" for a metric size or none.

    >>> sixteenths(11.11), sixteenths(6.35), sixteenths(9.5), sixteenths(6.0), sixteenths(3.2)
    ('7/16 in', '1/4 in', '', '', '')
    """
    if not math.isfinite(size):
        return ""
    steps = round(size / INCH * 16.0)
    metric = abs(size - METRIC * round(size / METRIC)) <= 1e-6
    if metric or steps < 2 or not abs(size - steps * INCH / 16.0) <= NEAR + 1e-6:
        return ""
    return f"{Fraction(steps, 16)} in"


def runs(places: Sequence[int], between: str = " to ") -> str:
    """Rising places in few words; `between` stands between the first and the last of a run.

    >>> runs([3, 4, 5, 9]), runs([1, 2, 3, 5, 8, 9], "-")
    ('3 to 5, 9', '1-3, 5, 8-9')
    """
    found: list[list[int]] = []
    for place in places:
        if found and place == found[-1][-1] + 1:
            found[-1].append(place)
        else:
            found.append([place])
    return ", ".join(f"{run[0]}{between}{run[-1]}" if len(run) > 1 else f"{run[0]}" for run in found)
