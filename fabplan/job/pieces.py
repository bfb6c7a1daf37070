"""The pieces that a job names, and names that are those of no piece."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fabplan.errors import Fault
from fabplan.job.words import nearest
from fabplan.model import job as model


@dataclass(frozen=True, slots=True)
class Pieces:
    """What is known of the pieces.

    Attributes:
        known: pieces by their marks.
        broken: marks of parts whose own tables have faults.
        whole: False where a spreadsheet of parts could not be read, so that any name may be that of a piece.
    """

    known: Mapping[str, model.PartSpec]
    broken: Sequence[str]
    whole: bool


def no_piece(place: str, name: str, pieces: Pieces) -> Iterator[Fault]:
    """A fault where a name is that of no piece; a piece of a part with faults of its own may bear it."""
    broken = any(mark and name.startswith(mark) for mark in pieces.broken)
    if pieces.whole and name not in pieces.known and not broken:
        yield Fault(place, f'"{name}" is no piece of the job', nearest(name, [*pieces.known, *pieces.broken]))
