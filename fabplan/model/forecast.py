"""What the steel will do: how many holes of a seam the rivet passes, how many want easing, over thousands of bodies."""

from dataclasses import dataclass

from fabplan.model.arrays import BoolArray, FloatArray, IntArray, bools, floats

OUTCOMES = ("goes in", "opened as ordered", "eased", "next size", "fails")
"""The rivet passes as it is; the hole was ordered to be opened in place and is; it is out, yet a reamer of its own size
does; only a reamer of the next size of rivet cleans it; not even that."""

GOES_IN, OPENED, EASED, NEXT, FAILS = range(len(OUTCOMES))

END, MIDDLE, BEST = "one end", "the middle", "best fit"
"""Where a seam's holes are drawn together first."""


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """One way of ordering and bolting up, and what comes of it.

    Attributes:
        title: in a few words.
        aligned: `END`, `MIDDLE` or `BEST`.
        pilots: (n,) rivets whose holes are ordered undersize, beside those that the job states.
        share: (n, 5) share of the bodies in which each rivet's holes come out as each of `OUTCOMES`.
        out: (n,) mm, eccentricity that 95 of 100 bodies keep within.
        easing: (s, 2) for each seam the mean count of holes that neither go in nor are opened as ordered, and the count
            that 95 of 100 bodies keep within.
    """

    title: str
    aligned: str
    pilots: BoolArray
    share: FloatArray
    out: FloatArray
    easing: FloatArray

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        object.__setattr__(self, "pilots", bools(self.pilots, -1))
        object.__setattr__(self, "share", floats(self.share, -1, len(OUTCOMES)))
        object.__setattr__(self, "out", floats(self.out, -1))
        object.__setattr__(self, "easing", floats(self.easing, -1, 2))


@dataclass(frozen=True, slots=True, eq=False)
class Cost:
    """What one choice costs the gang, mean minutes for each of s seams beyond bolting up at one end.

    Attributes:
        work: (s,) opening, easing, the next size and holes made anew.
        align: (s,) drawing rows together elsewhere than at one end; NaN where nobody can say.
    """

    work: FloatArray
    align: FloatArray

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        for name in ("work", "align"):
            object.__setattr__(self, name, floats(getattr(self, name), -1))

    @property
    def every(self) -> FloatArray:
        """(s,) both together."""
        both: FloatArray = self.work + self.align
        return both


@dataclass(frozen=True, slots=True, eq=False)
class Forecast:
    """Choices side by side, over the same bodies.

    Attributes:
        choices: the first is the job as it is drawn.
        costs: of each choice.
        rows: (s,) rows of two plies in each seam at which they are drawn together.
        asked: (n,) rivets that are forecast; the others take a fastener that is not known, or a thread.
        bodies: how many were simulated.
        seed: of the random numbers.
        assumptions: lines to print.
    """

    choices: tuple[Choice, ...]
    costs: tuple[Cost, ...]
    rows: IntArray
    asked: BoolArray
    bodies: int
    seed: int
    assumptions: tuple[str, ...]
