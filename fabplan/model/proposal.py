"""Seams proposed for a kit that states none, and what its holes leave open."""

from collections.abc import Mapping
from dataclasses import dataclass

from fabplan.model.arrays import FloatArray, floats
from fabplan.model.choice import Choice
from fabplan.model.pose import Pose


@dataclass(frozen=True, slots=True, eq=False)
class ProposedSeam:
    """Rows of pieces whose holes meet.

    Attributes:
        mark: letter.
        rows: instance index and row of each ply, from the inside of the body outwards.
        of: how many holes each of these rows has.
        numbers: along each of these rows, from 1, of the holes that meet in it.
        points: (n, 3) where its rivets are, body frame, mm.
        open: numbers of the choices, from 1, in some way of which it does not stand.
    """

    mark: str
    rows: tuple[tuple[int, str], ...]
    of: tuple[int, ...]
    numbers: tuple[tuple[int, ...], ...]
    points: FloatArray
    open: tuple[int, ...]

    def __post_init__(self) -> None:
        """Keep a read-only copy."""
        object.__setattr__(self, "points", floats(self.points, -1, 3))


@dataclass(frozen=True, slots=True, eq=False)
class Proposal:
    """What the holes of a kit tell of its body.

    Attributes:
        datum: instance that the others are set from.
        poses: of the proposed body by instance; pieces that nothing holds are left out.
        seams: by the holes that meet in it.
        choices: that holes and metal leave open.
        bare: holes without a mate.
        whole: True where all ways were looked at, so that no other body is as good.
        taken: bodies that were taken at random, of more than were listed, all of which the choices make; else 0.
        inside: False where the body stands on that side of the datum to which its marked face does not look.
        usual: where bodies were too many to tell, so that of those that fit by their holes only those count that go
            least against the habits of makers, the pieces that stand elsewhere in others; else none.
        doubles: True where pieces alike, or both hands, might lie lapped by half of their holes or more, since more
            holes meet so.
        outside: True where it could be told what is outside.
        unlisted: rivets whose plies have fewer than two rows with a name.
    """

    datum: int
    poses: Mapping[int, Pose]
    seams: tuple[ProposedSeam, ...]
    choices: tuple[Choice, ...]
    bare: int
    whole: bool
    taken: int = 0
    inside: bool = True
    unlisted: int = 0
    usual: tuple[int, ...] = ()
    doubles: bool = False
    outside: bool = False
