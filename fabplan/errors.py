"""The errors that stop a run. A fault in a drawing or a body is not an error: it is a `Finding`, returned and printed.

FabplanError            what is wrong, where, how to mend it
    JobError            the job file; carries every fault found in it
    DrawingError        a drawing that cannot be found or opened at all
    RuleDataError       a table of published data that does not hold together
    PlacementError      parts that cannot be put together for want of data
    SetoutError         a seam cannot be set out as stated
    OrderError          no order of work can be made for want of data
    OutputError         a folder or file that cannot be written
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass


class FabplanError(Exception):
    """Base of all errors that a user can mend: one sentence of what, one of how to mend; callers add where."""

    def __init__(self, what: str, mend: str) -> None:
        """Keep the two sentences apart; `where` grows outwards as the error passes `within`."""
        super().__init__(what, mend)
        self.what, self.mend = what, mend
        self.where: list[str] = []

    def __str__(self) -> str:
        """The whole message on one line: where: what. mend."""
        return f"{': '.join([*self.where, self.what]).rstrip('.')}. {self.mend}".rstrip()


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of a job file or table: its place in the file, what is wrong, what was expected or how to mend it."""

    place: str
    what: str
    mend: str

    def __str__(self) -> str:
        """The fault on one line."""
        return f"{self.place}: {self.what}. {self.mend}".rstrip()


class JobError(FabplanError):
    """The job file cannot be used; `faults` holds every fault found, in the order of the file."""

    def __init__(self, faults: tuple[Fault, ...]) -> None:
        """Make the sentence from the first fault and the count."""
        first = faults[0]
        more = f" ({len(faults)} faults in all)" if len(faults) > 1 else ""
        super().__init__(f"{first.place}: {first.what}{more}", first.mend)
        self.faults = faults

    def __reduce__(self) -> tuple[type["JobError"], tuple[tuple[Fault, ...]]]:
        """Pickle with the faults, not with the sentence."""
        return JobError, (self.faults,)


class DrawingError(FabplanError):
    """A drawing is not there or cannot be opened at all."""


class RuleDataError(FabplanError):
    """A table of published data does not hold together."""


class FormingError(FabplanError):
    """A blank cannot be formed as stated."""


class PlacementError(FabplanError):
    """Parts cannot be put together for want of data."""


class SetoutError(FabplanError):
    """A seam cannot be set out as stated."""


class OrderError(FabplanError):
    """No order of work can be made for want of data."""


class OutputError(FabplanError):
    """A folder or file cannot be written."""


@contextmanager
def within(place: str) -> Iterator[None]:
    """Name the place for any error raised inside, outermost first."""
    try:
        yield
    except FabplanError as error:
        error.where.insert(0, place)
        raise
