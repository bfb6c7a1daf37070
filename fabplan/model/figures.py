"""Figures in words: no two unlike ones that look alike, and none rounded to the wrong side of a limit."""

import math


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
