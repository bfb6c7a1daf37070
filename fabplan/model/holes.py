"""Holes of one plate, as a table of arrays."""

from dataclasses import dataclass

from fabplan.model.arrays import FloatArray, floats

PURPOSES = ("rivet", "bolt", "open")


@dataclass(frozen=True, slots=True, eq=False)
class Holes:
    """Round holes of a plate or of one face of a bar.

    Attributes:
        xy: (n, 2) centres, mm, in the frame of the drawing (plate) or panel (bar).
        diameter: (n,) mm.
        row: n names of rows, "" where a hole belongs to no row.
        number: n hole numbers as printed: row name and place along the row ("left 12"), or a plain number.
        purpose: n words, each of `PURPOSES`.
        handle: n handles of DXF entities, "" for a bar.
    """

    xy: FloatArray
    diameter: FloatArray
    row: tuple[str, ...] = ()
    number: tuple[str, ...] = ()
    purpose: tuple[str, ...] = ()
    handle: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Keep read-only copies of matching length."""
        object.__setattr__(self, "xy", floats(self.xy, -1, 2))
        object.__setattr__(self, "diameter", floats(self.diameter, -1))
        count = len(self.xy)
        lengths = {len(self.diameter), len(self.row), len(self.number), len(self.purpose), len(self.handle)}
        if lengths != {count}:
            raise ValueError(f"columns of {sorted(lengths)} entries for {count} holes")

    def __len__(self) -> int:
        """How many holes."""
        return len(self.xy)


NO_HOLES = Holes(xy=floats(()), diameter=floats(()))
