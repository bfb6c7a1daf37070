"""What was not checked, and what it would have needed: read off the one table of checks."""

from collections.abc import Collection, Sequence

from fabplan.model.checks import CHECKS, OF_SUPPLIER, SUPPLIER, UNSTATED

NAMED = 3
"""Drawings or pieces that are named for one kind of missing data."""


def named(told: Sequence[tuple[str, Sequence[str]]]) -> list[str]:
    """Sentences, each once, with the names that they are true of where they are not true of all.

    Args:
        told: names of drawings or pieces, each with its sentences.
    """
    owners: dict[str, list[str]] = {}
    for name, lines in told:
        for line in lines:
            owners.setdefault(line, []).append(name)
    return [line if len(own) == len(told) else f"{line} ({_first(own)})" for line, own in owners.items()]


def _first(names: Sequence[str]) -> str:
    return ", ".join(names[:NAMED]) + (f" and {len(names) - NAMED} more" if len(names) > NAMED else "")


def not_checked(available: Collection[str], checks: Collection[str] = ()) -> tuple[str, ...]:
    """One sentence for each kind of missing data, with the checks that wanted it.

    Args:
        available: what is known: the words of `needs` in the table of checks.
        checks: the checks that belong to this road; () takes all.
    """
    wanting: dict[str, list[str]] = {}
    for name, check in CHECKS.items():
        missing = [need for need in check.needs if need not in available]
        if SUPPLIER in missing:
            missing = [need for need in missing if need not in OF_SUPPLIER]
        missing = list(dict.fromkeys(UNSTATED if need in OF_SUPPLIER else need for need in missing))
        if missing and (not checks or name in checks):
            wanting.setdefault(" and ".join(missing), []).append(name)
    return tuple(f"for want of {need}: {', '.join(names)}" for need, names in wanting.items())
