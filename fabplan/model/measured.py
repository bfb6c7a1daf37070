"""Holes of a piece that is there, as somebody measured them, and what came of it. Lengths mm."""

from dataclasses import dataclass, field
from math import isnan, nan

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, bools, floats

DIAMETER = 0.2
"""mm that a measured diameter may be off where nothing is stated: a calliper on an edge that is worn (assumed)."""


@dataclass(frozen=True, slots=True)
class MeasuredHole:
    """One hole.

    Attributes:
        number: as printed on its check sheet.
        x, y: running sizes of its middle, in any axes, seen on the marked face; NaN where the tape tells its place.
        diameter: the greatest across it; None where it was not measured.
        least: the least across it; None where it is round.
        accuracy: how far its place may be off; NaN where it has that of its piece.
        diameter_accuracy: how far each of its diameters may be off.
    """

    number: str
    x: float = nan
    y: float = nan
    diameter: float | None = None
    least: float | None = None
    accuracy: float = nan
    diameter_accuracy: float = DIAMETER


@dataclass(frozen=True, slots=True)
class TapeSize:
    """One size, from the middle of a hole to the middle of another.

    Attributes:
        start, end: numbers of the holes.
        length: straight across; where `along` is stated, read on a tape from `start` to `along` abreast of `end`.
        along: number of the hole that the tape is stretched to; "" for a length straight across.
        off: how far `end` lies beside that tape, to its left positive; 0 under it.
    """

    start: str
    end: str
    length: float
    along: str = ""
    off: float = 0.0


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured of a piece.

    Attributes:
        thickness: or None.
        holes: or none.
        accuracy: how far the place of each hole without its own may be off; of tape sizes, how far each size may be.
        source: how they were come by: "steel tape", "from a photograph", ...
        doubt: what may be wrong with them beyond the accuracy.
        tape: sizes from hole to hole, in place of the places of the holes.
        over: of a formed plate, over its outside along x and y of the still piece and square to it; NaN: not measured.
        across: outside diameter of a plate rolled as a whole, or None.
    """

    thickness: float | None = None
    holes: tuple[MeasuredHole, ...] = ()
    accuracy: float = 0.0
    source: str = ""
    doubt: str = ""
    tape: tuple[TapeSize, ...] = ()
    over: tuple[float, float, float] = (nan, nan, nan)
    across: float | None = None

    @property
    def within(self) -> tuple[float, ...]:
        """How far the place of each hole may be off: its own accuracy, or that of the piece."""
        return tuple(self.accuracy if isnan(one.accuracy) else one.accuracy for one in self.holes)

    @property
    def accuracy_words(self) -> str:
        """The accuracy of the places of its holes, from the best to the worst where they differ."""
        least, most = min(self.within, default=self.accuracy), max(self.within, default=self.accuracy)
        return f"{most:g} mm" if least == most else f"{least:g} to {most:g} mm"

    @property
    def words(self) -> str:
        """As printed on sheets: by what, how well, and what may be wrong with it."""
        how = f"{len(self.holes)} holes within {self.accuracy_words}" if self.holes else ""
        thick = f"{self.thickness:g} mm thick" if self.thickness is not None else ""
        told = [self.source or "how is not stated", thick, how, f"doubt: {self.doubt}" if self.doubt else ""]
        return "; ".join(filter(None, told))


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredRecord:
    """What a piece's measured holes came to, for its sheet.

    Attributes:
        mark: of the part.
        number: of its n measured holes.
        drawn, laid: (n, 2) where each is drawn, and where it was measured, laid over the drawing.
        across: (n, 2) greatest and least diameter, NaN where not measured.
        taken: True where the body is built of them; False where a finding says why not.
        grown: row, its length, and how much longer it is than drawn, by the median of its slopes from hole to hole.
        tape: the sizes, as stated.
        by_tape: (m, 2) what each comes to on the pattern that fits all best, and how far it may lie beside its tape.
        proved: (m,) True for a size that the others prove.
        out: (n,) True for a hole that stands out from the others and was left out of the fit; none where empty.
    """

    mark: str
    number: tuple[str, ...]
    drawn: FloatArray
    laid: FloatArray
    across: FloatArray
    taken: bool = True
    grown: tuple[tuple[str, float, float], ...] = ()
    tape: tuple[TapeSize, ...] = ()
    by_tape: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))
    proved: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))
    out: BoolArray = field(default_factory=lambda: np.zeros(0, dtype=np.bool_))

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        for name in ("drawn", "laid", "across", "by_tape"):
            object.__setattr__(self, name, floats(getattr(self, name), -1, 2))
        object.__setattr__(self, "proved", bools(self.proved, -1))
        object.__setattr__(self, "out", bools(self.out, -1))

    @property
    def left_out(self) -> tuple[str, ...]:
        """Numbers of the holes that were left out of the fit."""
        return tuple(self.number[k] for k in np.flatnonzero(self.out).tolist())

    @property
    def off(self) -> FloatArray:
        """(n, 2) measured less drawn."""
        away: FloatArray = self.laid - self.drawn
        return away
