"""A ply of a seam that is to be set out, and where the axes of its rivets meet all plies."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.surface import Surface, along_axes, to_body
from fabplan.geom.tolerance import FIGURE, TOUCH
from fabplan.model.arrays import BoolArray, FloatArray, bools
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile
from fabplan.model.setout import KeepOff


@dataclass(frozen=True, slots=True, eq=False)
class Ply:
    """One listed ply: a plate, or one leg of a bar.

    Attributes:
        instance: mark of the piece.
        row: name of its row.
        leg: of a bar, "" for a plate.
        surface: the way from its drawing into the body.
        outline, cutouts: the metal, round openings among the cut-outs.
        edge: the outline, carried off where another leg stands: that is no edge.
        holes: that are there already.
        spare: (n,) True for holes of a plate that no seam claims.
        keep_off: lines of forming and what else no hole comes near.
        web: least metal between two cuts, mm.
        back_mark: y of the usual row on this leg, NaN where there is none.
        size: diameter of its holes as drawn, mm; 0 where it takes them from its mates, and none is drawn.
    """

    instance: str
    row: str
    leg: str
    surface: Surface
    outline: Profile
    cutouts: tuple[Profile, ...]
    edge: Profile
    holes: Holes
    spare: BoolArray
    keep_off: tuple[KeepOff, ...] = ()
    web: float = 0.0
    back_mark: float = float("nan")
    size: float = 0.0

    @property
    def name(self) -> str:
        """How messages name it."""
        return f"{self.instance}/{self.leg}" if self.leg else self.instance

    @property
    def own(self) -> FloatArray:
        """(n, 2) the holes of its row that are there already, in their order along it."""
        return self.holes.xy[[k for k, row in enumerate(self.holes.row) if row.casefold() == self.row.casefold()]]


@dataclass(frozen=True, slots=True, eq=False)
class Meeting:
    """Where axes square to one ply meet all plies of a seam.

    Attributes:
        xy: for each ply (n, 2), on its blank.
        point: for each ply (n, 3), the middle of its metal, body frame.
        axis: (n, 3) unit vectors from the made head to the point.
        fair: (n, m) False where the axis misses a ply, or the ply does not lie against the one before it.
        faces: (n, 2, 3) where the axis leaves the plies on the head side and on the point side.
    """

    xy: tuple[FloatArray, ...]
    point: tuple[FloatArray, ...]
    axis: FloatArray
    fair: BoolArray
    faces: FloatArray


def meeting(plies: Sequence[Ply], on: int, xy: FloatArray) -> Meeting:
    """The axes through places (n, 2) of one ply, and where they meet the others; edges and holes aside.

    Args:
        plies: from the made head to the point.
        on: number of the ply on which the places are.
        xy: (n, 2) mm.
    """
    thick = np.array([ply.surface.thickness for ply in plies])
    start, axis = to_body(plies[on].surface, xy, np.full(len(xy), -thick[on] / 2.0))
    found = [along_axes(ply.surface, start, axis) for ply in plies]
    along = np.array([one[1] for one in found]).reshape(len(plies), -1)
    way = np.where(along[-1] >= along[0], 1.0, -1.0)
    rise = np.diff(along, axis=0) * way
    touching = np.abs(rise - (thick[1:] + thick[:-1])[:, None] / 2.0) <= TOUCH + FIGURE
    fair = np.array([one[2] for one in found]).reshape(len(plies), -1)
    fair[1:] &= touching
    points = [start + reach[:, None] * axis for reach in along]
    axis = axis * way[:, None]
    faces = np.stack([points[0] - axis * thick[0] / 2.0, points[-1] + axis * thick[-1] / 2.0], axis=1)
    exact = [xy if k == on else one[0] for k, one in enumerate(found)]
    return Meeting(tuple(exact), tuple(points), axis, bools(fair.T), faces)
