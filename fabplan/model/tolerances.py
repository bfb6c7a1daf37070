"""How far steel may be from its drawing, as the tables of the trade say. Lengths mm."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LengthTolerance:
    """Deviations, more or less, of lengths within a piece of one range of thickness, as one way of making keeps them.

    Attributes:
        processes: ways of making.
        over, to: thickness.
        lengths: upper ends of the ranges of length.
        deviations: of each range; 0 where the standard gives none.
        source: of the row.
    """

    processes: tuple[str, ...]
    over: float
    to: float
    lengths: tuple[float, ...]
    deviations: tuple[float, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Tolerances:
    """All tolerances that a forecast reads.

    Attributes:
        lengths: of holes within a piece.
        thickness: of plate from strip, rows of thickness over, up to, less, more.
        plates: of plate rolled as plate, rows of thickness from, below, less, more.
        folds: rows of length up to, more or less.
        girth: deviation of a rolled girth by its length, a number.
        out: least eccentricity of the holes of a rivet from which they are reamed.
        sources: of thickness, plates, folds, girth and `out`.
    """

    lengths: tuple[LengthTolerance, ...]
    thickness: tuple[tuple[float, float, float, float], ...]
    plates: tuple[tuple[float, float, float, float], ...]
    folds: tuple[tuple[float, float], ...]
    girth: float
    out: float
    sources: tuple[str, ...]


STRIP, PLATE = "EN 10051", "EN 10029"
"""Standards by which plate is rolled: from strip, and as plate."""


def thickness_off(tolerances: Tolerances, stated: float, standard: str = "") -> tuple[float, float, str] | None:
    """How much thinner and thicker plate ordered as `stated` may come, mm, and by which source; None beyond the tables.

    Args:
        tolerances: the tables.
        stated: mm.
        standard: `STRIP` or `PLATE`; "" takes strip as far as it goes.
    """
    strip = [row for row in tolerances.thickness if row[0] < stated <= row[1]] if standard != PLATE else []
    plate = [row for row in tolerances.plates if row[0] <= stated < row[1]] if standard != STRIP else []
    for rows, source in ((strip, tolerances.sources[0]), (plate, tolerances.sources[1])):
        if rows:
            return rows[0][2], rows[0][3], source
    return None
