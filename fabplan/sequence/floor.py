"""The floor under the work: how low each tool reaches, and who has room between table and floor."""

from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray
from fabplan.sequence.reach import Ways
from fabplan.sequence.tools import Chain, Seat, chains


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """The floor while the work lies one way. Lengths mm.

    Attributes:
        down: (3,) unit vector towards it.
        level: of the floor along `down`.
        room: between table and floor.
        deep: (w,) how far each way of `Ways` reaches along `down`.
    """

    down: FloatArray
    level: float
    room: float
    deep: FloatArray


def depths(ways: Ways, seats: tuple[Seat, Seat], down: FloatArray) -> FloatArray:
    """(w,) the furthest that the tool and the room of each way reach along `down` (3,), mm."""
    deep = np.full(len(ways.rivet), -np.inf)
    for number, tool in enumerate(ways.tools):
        for side in (1,) if tool.use == "squeeze" else (0, 1):
            seat = seats[side]
            own = (ways.tool == number) & ((ways.side == side) | (tool.use == "squeeze"))
            for stance, (chain, _) in enumerate(chains(tool, seat)):
                rows = np.nonzero(own & (ways.stance == stance))[0]
                deep[rows] = _deepest(chain, seat, down, (ways.rivet[rows], ways.aside[rows]))
    return deep


def _deepest(chain: Chain, seat: Seat, down: FloatArray, which: tuple[IntArray, FloatArray]) -> FloatArray:
    """(k,) of a chain at some rivets, turned aside (k, 3)."""
    rivet, aside = which
    foot, out = seat.foot[rivet] @ down, seat.out[rivet] @ down
    turned, flat = aside @ down, np.sqrt(np.maximum(1.0 - out**2, 0.0))
    found = np.full(len(rivet), -np.inf)
    for piece in chain.pieces:
        along = piece.start[rivet] * out + np.maximum(piece.length[rivet] * out, 0.0)
        across = piece.aside * turned + np.maximum(piece.across * turned, 0.0)
        found = np.maximum(found, foot + along + across + piece.radius[rivet] * flat)
    return found
