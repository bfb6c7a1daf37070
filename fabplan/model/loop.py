"""A loop of pieces, each riveted to the next and the last to the first, and by how much it fails to close."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Loop:
    """One loop, when every seam in it is laid hole on hole by itself but for the last.

    Attributes:
        pieces: instance marks, in order round the loop.
        seams: marks of the seams between them; the last joins the last piece to the first.
        apart: how far the worst hole of the last seam then is from its mate, mm.
        turn: by how much the last piece is turned, degrees.
    """

    pieces: tuple[str, ...]
    seams: tuple[str, ...]
    apart: float
    turn: float
