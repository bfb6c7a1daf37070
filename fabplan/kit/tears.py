"""What a body costs: its holes without a mate, and the rows that are torn between several pieces.

A row of rivets holds one piece to one other as a rule; where plates butt it goes on from one to the next. So bodies
that tear few rows are looked for first. A row is torn where no single piece meets all of its holes that have a mate.
"""

from dataclasses import dataclass

import numpy as np

from fabplan.kit.shape import PITCH, Run, Shape
from fabplan.kit.stances import Stances, bits, holes_of
from fabplan.model.arrays import IntArray

LEAST = 3
"""Holes of a row that counts: two may lie beside one another by chance, as where a bar crosses a joint."""

WIDE = 1.15
"""Spaces of a row over this many times its pitch, as its median, part it: so it clears a joint of what it holds."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Rows of one kind of pieces; sets of holes are whole numbers used as bits.

    Attributes:
        rows: its rows, wider gaps ending a row.
        holes: those that some other piece can meet.
    """

    rows: tuple[int, ...]
    holes: int

    @classmethod
    def of(cls, stances: Stances, kind: int) -> "Rows":
        """The rows of a kind, held against all pieces of the kit."""
        shape = stances.kinds[kind].shape
        met = np.vstack([stances.joins(kind, other).met for other in range(len(stances.kinds))])
        holes = bits(np.asarray(met.any(axis=0)))
        parts = [(row, run.line) for own, run in _parted(shape) if (row := own & holes).bit_count() >= LEAST]
        rows = tuple(dict.fromkeys(row for row, line in parts if line))
        return cls(rows, holes)


def _parted(shape: Shape) -> list[tuple[int, Run]]:
    parts: list[tuple[IntArray, Run]] = []
    for run in shape.runs:
        if run.line:
            gaps = np.diff(run.along)
            wide = gaps > min(PITCH, WIDE * float(np.median(gaps)))
            parts += [(own, run) for own in np.split(run.holes, np.nonzero(wide)[0] + 1)]
        else:
            parts.append((run.holes, run))
    return [(holes_of(part.tolist()), run) for part, run in parts]
