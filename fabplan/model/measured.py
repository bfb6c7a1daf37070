"""Holes of a piece that is there, as somebody measured them. Lengths mm."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MeasuredHole:
    """One hole.

    Attributes:
        number: as printed on its check sheet.
        x, y: running sizes of its middle, in any axes, seen on the marked face.
        diameter: the greatest across it; None where it was not measured.
        least: the least across it; None where it is round.
    """

    number: str
    x: float
    y: float
    diameter: float | None = None
    least: float | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured of a piece.

    Attributes:
        thickness: or None.
        holes: or none.
        accuracy: of the places of the holes, how far each may be off.
        source: how they were come by: "steel tape", "from a photograph", ...
    """

    thickness: float | None = None
    holes: tuple[MeasuredHole, ...] = ()
    accuracy: float = 0.0
    source: str = ""
