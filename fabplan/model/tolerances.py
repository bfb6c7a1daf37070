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
        thickness: rows of thickness over, up to, less, more.
        folds: rows of length up to, more or less.
        girth: deviation of a rolled girth by its length, a number.
        out: least eccentricity of the holes of a rivet from which they are reamed.
        sources: of thickness, folds, girth and `out`.
    """

    lengths: tuple[LengthTolerance, ...]
    thickness: tuple[tuple[float, float, float, float], ...]
    folds: tuple[tuple[float, float], ...]
    girth: float
    out: float
    sources: tuple[str, ...]


def thickness_limits(tolerances: Tolerances, stated: float) -> tuple[float, float] | None:
    """Least and greatest thickness, mm, of plate ordered as `stated`; None beyond the tables."""
    rows = [row for row in tolerances.thickness if row[0] < stated <= row[1]]
    return (stated - rows[0][2], stated + rows[0][3]) if rows else None
