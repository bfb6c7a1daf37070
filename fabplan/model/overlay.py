"""Two plies of a seam laid one over the other, as a sheet shows them."""

from dataclasses import dataclass

from fabplan.model.arrays import FloatArray, IntArray, floats, ints


@dataclass(frozen=True, slots=True, eq=False)
class Overlay:
    """The holes of two rows that should meet, in the plane of the seam: x along the row, y across it, mm.

    Attributes:
        seam: mark of the seam.
        one, other: instance and row of the two plies.
        holes_one, holes_other: (n, 2), (m, 2) centres.
        size_one, size_other: (n,), (m,) diameters.
        number: n hole numbers of the first ply.
        mate_one, mate_other: (k,) places of holes that are meant for one another.
        allowed: how far mates may lie apart before the rivet does not pass.
        gap: between the faces, negative where they lie in one another.
    """

    seam: str
    one: str
    other: str
    holes_one: FloatArray
    holes_other: FloatArray
    size_one: FloatArray
    size_other: FloatArray
    number: tuple[str, ...]
    mate_one: IntArray
    mate_other: IntArray
    allowed: float
    gap: float

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        for name in ("holes_one", "holes_other"):
            object.__setattr__(self, name, floats(getattr(self, name), -1, 2))
        for name in ("size_one", "size_other"):
            object.__setattr__(self, name, floats(getattr(self, name), -1))
        for name in ("mate_one", "mate_other"):
            object.__setattr__(self, name, ints(getattr(self, name), -1))

    @property
    def off(self) -> FloatArray:
        """(k, 2) how far the holes of the second ply lie from their mates."""
        away: FloatArray = self.holes_other[self.mate_other] - self.holes_one[self.mate_one]
        return away
