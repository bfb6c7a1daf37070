"""What a body costs: its holes without a mate, and the rows that are torn between several pieces.

A row of rivets holds one piece to one other as a rule; where plates butt it goes on from one to the next. So bodies
that tear few rows are looked for first. A row is torn where no single piece meets all of its holes that have a mate.
"""

from dataclasses import dataclass

import numpy as np

from fabplan.kit.stances import Stances, bits, holes_of

LEAST = 3
"""Holes of a row that counts: two may lie beside one another by chance, as where a bar crosses a joint."""


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
        parts = (part for run in shape.runs if run.line for part in run.parts())
        rows = (holes_of(part.holes.tolist()) & holes for part in parts)
        return cls(tuple(dict.fromkeys(row for row in rows if row.bit_count() >= LEAST)), holes)
