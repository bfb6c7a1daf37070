"""Rivets as the panels around them see them: made ready once for all pieces of a tool and all its turns."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.envelope import Metal, Rods, boxes_near, in_panels, pairs_near, seen_hit
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.sequence.tools import Chain, Piece, Seat


@dataclass(frozen=True, slots=True, eq=False)
class Around:
    """Pairs of a rivet and a panel that some turn of a tool comes near, in the frame of the panel, mm.

    Attributes:
        metal: the panels.
        rivet, panel: (p,) indices.
        foot, out: (p, 3) the rivet's side.
        first, second: (p, 3) unit vectors square to `out`: aside at no turn, and at a quarter one.
        whose: (g, 2) each rivet with each piece near it, in order.
        group: (p,) which of those a pair is.
    """

    metal: Metal
    rivet: IntArray
    panel: IntArray
    foot: FloatArray
    out: FloatArray
    first: FloatArray
    second: FloatArray
    whose: IntArray
    group: IntArray

    def near(self, piece: Piece, asked: BoolArray) -> IntArray:
        """Of the pairs that are asked about (p,) the numbers of those that some turn of a piece comes near."""
        pairs = np.nonzero(asked)[0]
        swept = _swept(piece, self.rivet[pairs], self.foot[pairs], self.out[pairs])
        return pairs[boxes_near(self.metal, self.panel[pairs], swept)]

    def hit(self, piece: Piece, pairs: IntArray, angle: float) -> IntArray:
        """The groups, each once, of the pairs that a piece turned by an angle, radians, runs into."""
        aside = np.cos(angle) * self.first[pairs] + np.sin(angle) * self.second[pairs]
        axis, rivet = self.out[pairs], self.rivet[pairs]
        start = self.foot[pairs] + piece.start[rivet, None] * axis + piece.aside * aside
        rods = Rods(start, axis, piece.length[rivet], piece.radius[rivet], piece.across * aside)
        return seen_hit(self.metal, self.panel[pairs], rods, self.group[pairs])


def around(metal: Metal, owner: IntArray, seat: Seat, chain: Chain, rivets: IntArray) -> Around:
    """What some turn of a tool comes near.

    Args:
        metal: k panels.
        owner: (k,) the instance of each.
        seat: one side of n rivets.
        chain: the tool.
        rivets: those that are asked about.
    """
    boxes = [_swept(piece, rivets, seat.foot[rivets], seat.out[rivets]).boxes() for piece in chain.pieces]
    of, panel = pairs_near(
        np.min([low for low, _ in boxes], axis=0), np.max([high for _, high in boxes], axis=0), metal
    )
    rivet, many = rivets[of], int(owner.max(initial=0)) + 1
    first, _ = across(seat.out)
    seen = in_panels(metal, panel, Rods(seat.foot, seat.out, seat.head, seat.head, first).take(rivet))
    keys, group = np.unique(rivet * many + owner[panel], return_inverse=True)
    second = np.cross(seen.axis, seen.across)
    whose = np.column_stack(np.divmod(keys, many))
    return Around(metal, rivet, panel, seen.start, seen.axis, seen.across, second, whose, group)


def across(axis: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Two directions (n, 3) square to each axis and to one another."""
    helper = np.eye(3)[np.abs(axis).argmin(axis=1)]
    first = np.cross(helper, axis)
    first /= np.linalg.norm(first, axis=1)[:, None]
    return first, np.cross(axis, first)


def _swept(piece: Piece, rivet: IntArray, foot: FloatArray, out: FloatArray) -> Rods:
    """A rod round all turns of a piece at some rivets (p,), of which side and direction are given (p, 3)."""
    far = max(abs(piece.aside), abs(piece.aside + piece.across))
    start = foot + piece.start[rivet, None] * out
    return Rods(start, out, piece.length[rivet], piece.radius[rivet] + far, np.zeros_like(start))
