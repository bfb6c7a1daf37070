"""Sizes of the body as it stands bolted together, and what they ask of the piece that closes it. Lengths mm."""

from dataclasses import dataclass

from fabplan.model.measured import MeasuredRecord, TapeSize


@dataclass(frozen=True, slots=True)
class DryFitSpec:
    """Sizes that were measured in one go.

    Attributes:
        sizes: from rivet hole to rivet hole, by the numbers of the inspection sheet.
        accuracy: how far each may be off.
        source, doubt: by what they were measured, and what may be wrong with them.
        place: where in the job file they stand.
    """

    sizes: tuple[TapeSize, ...]
    accuracy: float
    source: str = ""
    doubt: str = ""
    place: str = ""


@dataclass(frozen=True, slots=True)
class DryFitSize:
    """One size: what was looked for by the drawings, and what was found."""

    start: str
    end: str
    drawn: float
    found: float


@dataclass(frozen=True, slots=True, eq=False)
class Closing:
    """What size a piece must have to close the body as it stands.

    Attributes:
        instance: its mark.
        record: its holes as drawn, and where they must lie for the holes that they go on; None of a folded piece.
        sides: of each size between two of its holes: start, end, as drawn, as it must be.
        drawn, must: overall length along x and y of its drawing, edges as far from the nearest hole as drawn; of a
            folded piece over its outside, along x, y and z of its still piece.
        note: what is not told of it, in words; "" where nothing.
    """

    instance: str
    record: MeasuredRecord | None
    sides: tuple[DryFitSize, ...]
    drawn: tuple[float, ...]
    must: tuple[float, ...]
    note: str = ""
