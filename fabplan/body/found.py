"""How a finding about the body is made."""

from collections.abc import Sequence

from fabplan.model.arrays import FloatArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where

GEOMETRY = "geometry of the body as put together"


def finding(check: str, what: str, mend: str, where: Where, **figures: float | str) -> Finding:
    """A finding at the level of its check; figures are `measured`, `required` and `source`."""
    source = str(figures.pop("source", GEOMETRY))
    numbers = {name: float(value) for name, value in figures.items()}
    return Finding(
        check,
        CHECKS[check].level,
        what,
        where,
        numbers.get("measured"),
        numbers.get("required"),
        source=source,
        mend=mend,
    )


def point(xyz: FloatArray) -> tuple[float, float, float]:
    """A place in space as a finding bears it."""
    return float(xyz[0]), float(xyz[1]), float(xyz[2])


def flat(xy: FloatArray) -> tuple[float, float]:
    """A place on a drawing as a finding bears it."""
    return float(xy[0]), float(xy[1])


def count_of(count: int, what: str) -> str:
    """A count in words: 1 hole, 2 holes."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def some(numbers: Sequence[str]) -> str:
    """The first six numbers of a list."""
    return ", ".join(numbers[:6]) + (f" and {len(numbers) - 6} more" if len(numbers) > 6 else "")
