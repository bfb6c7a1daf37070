"""What holes and metal leave open in a body: motions of pieces, each with all that hangs on it."""

from dataclasses import dataclass

from fabplan.model.pose import Pose


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """Pieces that move as one, and with them what hangs on them alone.

    Attributes:
        pieces: in the order of the body.
        move: in the frame of the body.
        depth: how many pieces lie between them and the datum, in the body that is proposed.
        alone: True where nothing else moves.
    """

    pieces: tuple[int, ...]
    move: Pose
    depth: int
    alone: bool = False


Way = tuple[Step, ...]
"""Steps that together make another body, those next to the datum first; none for the body as it is."""


def moving(way: Way) -> tuple[int, ...]:
    """The pieces of the steps of a way, each once, without what hangs on them."""
    return tuple(sorted({i for step in way for i in step.pieces}))


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """Pieces that may lie otherwise with what hangs on them, with all others as they are, and as many holes meet.

    Attributes:
        pieces: instances, in order.
        ways: that of the proposed body first.
    """

    pieces: tuple[int, ...]
    ways: tuple[Way, ...]
