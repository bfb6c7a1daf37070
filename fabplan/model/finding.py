"""What a check found: a value that is returned, listed and printed, never raised."""

from dataclasses import dataclass
from enum import IntEnum


class Level(IntEnum):
    """How grave a finding is; the order sorts lists."""

    STOP = 0  # must not go out
    QUERY = 1  # ask first
    NOTE = 2  # for information

    def __str__(self) -> str:
        """The word as printed: stop, query, note."""
        return self.name.lower()


@dataclass(frozen=True, slots=True)
class Where:
    """The place of a finding; what does not apply stays empty.

    Attributes:
        drawing: file name of the drawing.
        part: piece mark or instance mark.
        seam: seam mark.
        handles: handles of the DXF entities concerned.
        holes: numbers of the holes concerned, as the hole schedule prints them.
        xy: place on the drawing, mm, in the drawing's own frame.
        point: place in the body frame, mm.
    """

    drawing: str = ""
    part: str = ""
    seam: str = ""
    handles: tuple[str, ...] = ()
    holes: tuple[str, ...] = ()
    xy: tuple[float, float] | None = None
    point: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing found wrong, doubtful or worth knowing.

    Attributes:
        check: name of the check, a key of `fabplan.model.checks.CHECKS`.
        level: stop, query or note.
        what: one sentence, with its numbers and units.
        where: the place.
        measured: the figure found, in `unit`, or None where the check has no figure.
        required: the limit it was held against, in `unit`, or None.
        unit: unit of both figures.
        source: where the limit comes from, 'from memory' included where that is so.
        mend: one sentence: how to mend it.
        accepted: who answers for it, when and why; "" where nobody does.
    """

    check: str
    level: Level
    what: str
    where: Where = Where()
    measured: float | None = None
    required: float | None = None
    unit: str = "mm"
    source: str = "common practice"
    mend: str = ""
    accepted: str = ""

    @property
    def blocks(self) -> bool:
        """True for a stop that nobody answers for: nothing may be issued while it stands."""
        return self.level is Level.STOP and not self.accepted

    @property
    def rank(self) -> str:
        """The level as printed: "stop", or "stop, accepted"."""
        return f"{self.level}, accepted" if self.accepted else str(self.level)
