"""Limits of cutting: the supplier's own with their date, else those assumed of his process."""

from dataclasses import dataclass

from fabplan.model.assumed import HOLES, OTHERS
from fabplan.model.job import Supplier

Stated = tuple[float, float]  # mm, times t


@dataclass(frozen=True, slots=True)
class Limit:
    """A limit, mm, and whose it is; `assumed` where no supplier states it."""

    least: float
    source: str
    assumed: bool = False


def hole_limit(supplier: Supplier | None, thickness: float) -> Limit:
    """Smallest hole, mm.

    >>> hole_limit(Supplier("cutter", process="plasma"), 3.0).least
    6.0
    """
    if supplier is not None and supplier.smallest_hole is not None:
        return _own(supplier, supplier.smallest_hole, thickness)
    process = supplier.process if supplier is not None else ""
    times, least = HOLES.get(process, OTHERS)
    known = "from memory" if process in HOLES else "common practice"
    words = f"assumed {times:.1f} t of {_a(process or 'laser')}" + (f", {least:g} mm at least" if least else "")
    return Limit(max(times * thickness, least), f"{words} ({known})", True)


def web_limit(supplier: Supplier | None, thickness: float) -> Limit:
    """Least metal between two cuts, mm."""
    return _plain(supplier, supplier.smallest_web if supplier else None, thickness)


def slot_limit(supplier: Supplier | None, thickness: float) -> Limit:
    """Narrowest slot, mm."""
    return _plain(supplier, supplier.smallest_slot if supplier else None, thickness)


DIE = 8.0
"""Opening of a bending die where no bender states it: times t (from memory)."""


def die_opening(bender: Supplier | None, thickness: float) -> Limit:
    """Opening of the die that folds a plate, mm.

    >>> die_opening(None, 6.0).least
    48.0
    """
    if bender is not None and bender.die is not None:
        opening = bender.die[0] + bender.die[1] * thickness
        return Limit(opening, f"die of {opening:g} mm of {bender.name}, {bender.limits_dated or 'undated'}")
    return Limit(DIE * thickness, f"a die of {DIE:g} t assumed (from memory)", True)


def _plain(supplier: Supplier | None, stated: Stated | None, thickness: float) -> Limit:
    if supplier is not None and stated is not None:
        return _own(supplier, stated, thickness)
    process = supplier.process if supplier is not None else ""
    words = f"assumed {OTHERS[0]:.1f} t of {_a(process or 'laser')} (common practice)"
    return Limit(OTHERS[0] * thickness, words, True)


def _own(supplier: Supplier, stated: Stated, thickness: float) -> Limit:
    return Limit(stated[0] + stated[1] * thickness, whose(supplier))


def whose(supplier: Supplier) -> str:
    """The source of a limit that a supplier states."""
    return f"limit of {supplier.name}, {supplier.limits_dated or 'undated'}"


def _a(process: str) -> str:
    return f"{'an' if process[0] in 'aeiou' else 'a'} {process} cutter"
