"""Where a piece comes from, on what evidence, and how far that may be doubted."""

from dataclasses import dataclass

MADE = ("new", "copied")
"""Origins of pieces that are made for the job: cut, sawn and bought."""


@dataclass(frozen=True, slots=True)
class Provenance:
    """What is known of a piece's past.

    Attributes:
        origin: "new"; "original", of the body itself; "repaired", original and mended; "recovered", from elsewhere;
            "copied", made now after a piece that is there.
        evidence: what it rests on: a stamp, a photograph, a paper, who saw it.
        doubt: what speaks against it, or that nothing is known to.
    """

    origin: str
    evidence: str = ""
    doubt: str = ""

    @property
    def made(self) -> bool:
        """False for a piece that is there already: neither cut nor bought."""
        return self.origin in MADE

    @property
    def words(self) -> str:
        """As printed on sheets."""
        told = [self.origin, f"evidence: {self.evidence}" if self.evidence else "",
                f"doubt: {self.doubt}" if self.doubt else ""]  # fmt: skip
        return "; ".join(filter(None, told))
