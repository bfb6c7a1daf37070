"""Where pieces come to rest whose holes and faces are a little out: one linear least squares for thousands of bodies.

The poses move by little, so that all is linear about the body as drawn, and one factor serves every body. Faces lie on
one another by themselves, holes as far as they are drawn together. See `fabplan.geom.adjust` for the body as drawn.
"""

from dataclasses import dataclass

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

ARM = 100.0
"""Distance off its face, mm, at which a tilt counts as an offset."""

FACE = 100.0
"""How many times as much as a hole that is drawn together a face weighs: bolts draw plates flat."""

STAYS = 1e-9
"""Weight of staying as drawn: holds what nothing else does, as a piece of one row about that row."""


@dataclass(frozen=True, slots=True, eq=False)
class Pairs:
    """k pairs of holes that lie on one another, as drawn.

    Attributes:
        a, b: (k,) numbers of the pieces, a on the side of the made head.
        at: (k, 3) places, mm, body frame.
        axis: (k, 3) unit vectors from a to b.
        sides: (k, 2, 3) two unit vectors across the axis.
    """

    a: IntArray
    b: IntArray
    at: FloatArray
    axis: FloatArray
    sides: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Settling:
    """The factor for one way of drawing holes together."""

    across: sparse.csr_array
    gap: sparse.csr_array
    weight: FloatArray
    factor: SuperLU

    def rest(self, out: FloatArray, apart: FloatArray) -> FloatArray:
        """(2 k, n) offsets b less a across the axes that are left in n bodies, mm.

        Args:
            out: (2 k, n) offsets of the holes by their making.
            apart: (k, n) gaps by the thickness of plates.
        """
        pulled = self.across.T @ (self.weight[:, None] * out) + FACE * (self.gap.T @ apart)
        rest: FloatArray = out - self.across @ self.factor.solve(pulled)
        return rest


def settling(pairs: Pairs, fixed: BoolArray, say: FloatArray) -> Settling:
    """The least squares of a body.

    Args:
        pairs: the pairs.
        fixed: (m,) True for pieces that stay.
        say: (k,) how much each pair of holes is drawn together.
    """
    pieces, count = len(fixed), len(pairs.a)
    free = np.flatnonzero(np.repeat(~fixed, 6))
    across = _moves(pairs, pieces, pairs.sides[:, 0]), _moves(pairs, pieces, pairs.sides[:, 1])
    order = np.arange(2 * count).reshape(2, count).T.ravel()  # both directions of a pair beside one another
    both = sparse.csr_array(sparse.vstack(across)[order][:, free])
    gap = sparse.csr_array(_moves(pairs, pieces, pairs.axis)[:, free])
    tilt = sparse.csr_array(sparse.vstack([_tilts(pairs, pieces, k) for k in (0, 1)])[:, free])
    weight = np.repeat(say, 2)
    normal = both.T @ sparse.diags_array(weight) @ both + FACE * (gap.T @ gap + tilt.T @ tilt)
    stays = STAYS * max(float(normal.diagonal().max(initial=1.0)), 1.0) * sparse.eye_array(len(free))
    return Settling(both, gap, weight, splu(sparse.csc_array(normal + stays)))


def _moves(pairs: Pairs, pieces: int, way: FloatArray) -> sparse.csr_array:
    """(k, 6 m) how b moves from a along unit vectors (k, 3) when pieces shift, and turn about the origin by ARM."""
    turn = np.cross(pairs.at, way) / ARM
    return _rows(pairs, pieces, np.hstack([way, turn]))


def _tilts(pairs: Pairs, pieces: int, side: int) -> sparse.csr_array:
    """(k, 6 m) how the axis of b tilts from that of a towards one side, as an offset at ARM."""
    turn = np.cross(pairs.axis, pairs.sides[:, side])
    return _rows(pairs, pieces, np.hstack([np.zeros_like(turn), turn]))


def _rows(pairs: Pairs, pieces: int, values: FloatArray) -> sparse.csr_array:
    count = len(pairs.a)
    row = np.repeat(np.arange(count), 6)
    column = [(6 * piece[:, None] + np.arange(6)).ravel() for piece in (pairs.b, pairs.a)]
    data = np.concatenate([values.ravel(), -values.ravel()])
    return sparse.csr_array((data, (np.tile(row, 2), np.concatenate(column))), shape=(count, 6 * pieces))
