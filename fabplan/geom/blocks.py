"""Rectangular blocks round panels, and which of them run into one another: many places at a time. numpy and shapely."""

from dataclasses import dataclass

import numpy as np
import shapely

from fabplan.geom.pose import to_outer, turned
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

FILLED = 1.0 - 1e-6
"""Share of its block that a panel fills which is one."""

CHUNK = 40_000  # pairs of blocks compared at a time: some 20 MB


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """The least rectangular block round each of k panels, in the frame of their piece.

    Attributes:
        middle: (k, 3) mm.
        axes: (k, 3, 3) unit vectors in columns, the last one across the panel.
        half: (k, 3) half its sides, mm.
        filled: (k,) True where the panel is its block.
        corners: of each panel (n, 3), mm.
    """

    middle: FloatArray
    axes: FloatArray
    half: FloatArray
    filled: BoolArray
    corners: tuple[FloatArray, ...]


def blocks(solids: tuple[Solid, ...]) -> Blocks:
    """The blocks of panels."""
    middle, axes, half = np.zeros((len(solids), 3)), np.zeros((len(solids), 3, 3)), np.zeros((len(solids), 3))
    filled = np.zeros(len(solids), dtype=np.bool_)
    for k, solid in enumerate(solids):
        ring = shapely.get_coordinates(shapely.minimum_rotated_rectangle(solid.face))[:4]
        sides = ring[1] - ring[0], ring[3] - ring[0]
        long, wide = (float(np.hypot(*side)) for side in sides)
        along = np.array([*sides[0] / long, 0.0])
        up = np.array([0.0, 0.0, 1.0])
        axes[k] = turned(solid.frame, np.vstack([along, np.cross(up, along), up])).T
        middle[k] = to_outer(solid.frame, np.array([*ring.mean(axis=0), -solid.thickness / 2.0]))
        half[k] = long / 2.0, wide / 2.0, solid.thickness / 2.0
        filled[k] = solid.face.area >= FILLED * long * wide
    return Blocks(middle, axes, half, filled, tuple(solid.corners for solid in solids))


def meeting(one: Blocks, two: Blocks, rotation: FloatArray, origin: FloatArray, depth: float) -> IntArray:
    """Which blocks run into one another by more than `depth` mm every way, as (n, 3): place, block, block.

    Blocks stay apart where they do along one of fifteen directions (Gottschalk, Lin and Manocha, SIGGRAPH 1996, 171).

    Args:
        one: of the piece that stands.
        two: of the piece that is laid on it.
        rotation: (p, 3, 3) of its places, in the frame of the first.
        origin: (p, 3) mm.
        depth: mm.
    """
    reach_one, reach_two = np.linalg.norm(one.half, axis=1), np.linalg.norm(two.half, axis=1)
    moved = two.middle @ rotation.transpose(0, 2, 1) + origin[:, None]
    apart = np.abs(moved[:, None] - one.middle[None, :, None])
    span = np.abs(one.axes) @ one.half[:, :, None]
    turned_axes = rotation[:, None] @ two.axes[None]
    other = np.abs(turned_axes) @ two.half[None, :, :, None]
    near = np.all(apart < span[None, :, None, :, 0] + other[:, None, :, :, 0] - depth, axis=3)
    near &= np.linalg.norm(apart, axis=3) < reach_one[None, :, None] + reach_two[None, None]
    found = np.argwhere(near)
    kept = [
        some[_deep(one, two, turned_axes, moved, some) > depth]
        for some in np.array_split(found, max(1, len(found) // CHUNK + 1))
        if len(some)
    ]
    return np.vstack(kept) if kept else np.zeros((0, 3), dtype=np.int64)


def stay_clear(
    one: Blocks, number: IntArray, two: Blocks, other: IntArray, rotation: FloatArray, origin: FloatArray, depth: float
) -> BoolArray:
    """(n,) True where a panel lies beyond one side of a block, but for `depth` mm, though its own block meets it.

    Args:
        one: of the piece whose blocks they are.
        number: (n,) which block.
        two: of the piece with the panels.
        other: (n,) which panel.
        rotation: (n, 3, 3) of its places, in the frame of the first.
        origin: (n, 3) mm.
        depth: mm.
    """
    clear = np.zeros(len(number), dtype=np.bool_)
    count = np.array([len(corners) for corners in two.corners])[other]
    count[two.filled[other]] = 0  # these are their blocks, which meet
    for size in np.unique(count[count > 0]).tolist():
        own = np.nonzero(count == size)[0]
        block = number[own]
        back = one.axes[block].transpose(0, 2, 1)
        shift = back @ (origin[own] - one.middle[block])[:, :, None]
        corners = np.stack([two.corners[k].T for k in other[own].tolist()])
        seen = (back @ rotation[own]) @ corners + shift
        reach = one.half[block] - depth
        clear[own] = np.any((seen.min(axis=2) >= reach) | (seen.max(axis=2) <= -reach), axis=1)
    return clear


def _deep(one: Blocks, two: Blocks, axes: FloatArray, middles: FloatArray, some: IntArray) -> FloatArray:
    """(n,) how far blocks run into one another, mm, along the direction in which they do least; below 0 apart."""
    place, i, k = some.T
    first, half, other = one.axes[i], one.half[i], two.half[k]
    across = first.transpose(0, 2, 1) @ axes[place, k]  # cosines of the sides of one with those of the other
    size = np.abs(across)
    away = np.einsum("nij,ni->nj", first, middles[place, k] - one.middle[i])
    own = half + (size @ other[:, :, None])[:, :, 0] - np.abs(away)
    theirs = other + (size.transpose(0, 2, 1) @ half[:, :, None])[:, :, 0]
    theirs -= np.abs(np.einsum("nij,ni->nj", across, away))
    least = np.minimum(own.min(axis=1), theirs.min(axis=1))
    for a in range(3):
        b, c = (a + 1) % 3, (a + 2) % 3
        for m in range(3):
            n, o = (m + 1) % 3, (m + 2) % 3
            reach = half[:, b] * size[:, c, m] + half[:, c] * size[:, b, m]
            reach += other[:, n] * size[:, a, o] + other[:, o] * size[:, a, n]
            off = np.abs(away[:, c] * across[:, b, m] - away[:, b] * across[:, c, m])
            long = np.sqrt(np.maximum(1.0 - across[:, a, m] ** 2, 0.0))  # of the cross product of the two sides
            with np.errstate(divide="ignore", invalid="ignore"):
                deep = np.where(long > 1e-3, (reach - off) / long, np.inf)
            least = np.minimum(least, deep)
    return np.asarray(least)
