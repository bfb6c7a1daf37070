"""The room outside the metal of a body: where a hand, an arm or a man gets to from outside, and how far along the way.

A ball whose middle goes from the middle of one cell to that of a neighbour, both at least `h` from all metal, keeps at
least sqrt(h^2 - w^2) from it, where w is half the way between the two: metal lies outside both balls. So cells are
taken as open for a ball where they are by that much further from metal than its radius, and no way that is found runs
through metal. What is lost is that no middle of a cell may lie in the middle of an opening: `Space.play`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
import shapely

from fabplan.geom.clearance import Block, Grid, block_round, own_places, room, within
from fabplan.geom.pose import to_outer
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

FINEST = 10.0  # mm
MOST = 2_500_000  # cells of the grid, and bytes of each of its maps
MOST_NEAR = 40_000_000  # cells near panels, added up: bytes kept, and distances worked out
COARSEST = 40.0  # mm: beyond it, a body of 60 x 5 x 5 m, most likely drawn in a wrong unit, nobody is sent inside
HALF_STEP = math.sqrt(0.75)  # half the diagonal of a cell: half the longest step to a neighbour
TOUCH, HAND, ARM, MAN = 1, 2, 3, 4  # rooms in a cell: clear of the metal itself, for a hand, for an arm, for a man

Rooms = npt.NDArray[np.uint8]
Numbers = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True, eq=False)
class Sizes:
    """Diameters of the balls that stand for a hand, an arm and a man, mm, not falling."""

    hand: float
    arm: float
    man: float


@dataclass(frozen=True, slots=True, eq=False)
class Space:
    """A grid round a body, and the room that each instance leaves near it.

    Attributes:
        grid: the cells.
        sizes: of hand, arm and man.
        near: for each instance a block and how many rooms there are in each of its cells; none where it has no metal.
        core: the cells of the body's own box, and one round it.
    """

    grid: Grid
    sizes: Sizes
    near: tuple[tuple[Block, Rooms] | None, ...]
    core: Block

    @property
    def inner(self) -> Grid:
        """The cells of the body's own box and one round it: `core`, as a grid."""
        first = np.array([one.start for one in self.core])
        shape = tuple(one.stop - one.start for one in self.core)
        return Grid(self.grid.low + first * self.grid.edge, self.grid.edge, (shape[0], shape[1], shape[2]))

    @property
    def play(self) -> float:
        """An opening wider than a ball by this, mm, lets it pass for certain; a narrower one may count as shut."""
        half, hand = HALF_STEP * self.grid.edge, self.sizes.hand / 2.0
        return 2.0 * (half + math.hypot(hand, half) - hand)


@dataclass(frozen=True, slots=True, eq=False)
class Opening:
    """A cut-out in a panel.

    Attributes:
        solid: number of the panel.
        place: (3,) middle of the largest ball that passes it, mm.
        size: diameter of that ball, mm.
        cells: flat indices of the cells of `Space.inner` that lie in it.
    """

    solid: int
    place: FloatArray
    size: float
    cells: IntArray


def space(solids: Sequence[Solid], owner: IntArray, instances: int, sizes: Sizes) -> Space:
    """The room round a body, with a man's room all round it.

    Args:
        solids: panels in the body frame.
        owner: (k,) instance of each.
        instances: how many there are.
        sizes: of hand, arm and man.
    """
    grid = _grid(solids, sizes)
    near: list[tuple[Block, Rooms] | None] = [None] * instances
    if not np.prod(grid.shape):
        return Space(grid, sizes, tuple(near), (slice(0, 0), slice(0, 0), slice(0, 0)))
    corners = np.vstack([one.corners for one in solids])
    core = block_round(grid, corners.min(axis=0) - grid.edge, corners.max(axis=0) + grid.edge)
    for instance in np.unique(owner).tolist():
        near[instance] = _near(grid, sizes, [solids[k] for k in np.nonzero(owner == instance)[0].tolist()])
    return Space(grid, sizes, tuple(near), core)


def no_space(space: Space) -> Space:
    """The same without a cell: what is asked of it knows the outside of the body alone."""
    none = slice(0, 0)
    bare = Grid(space.grid.low, space.grid.edge, (0, 0, 0))
    return Space(bare, space.sizes, (None,) * len(space.near), (none, none, none))


def changed(space: Space, instance: int, solids: Sequence[Solid]) -> Space:
    """The room round a body of which one instance has these panels now, within the ones that it had."""
    near = list(space.near)
    near[instance] = _near(space.grid, space.sizes, solids)
    return replace(space, near=tuple(near))


def _near(grid: Grid, sizes: Sizes, solids: Sequence[Solid]) -> tuple[Block, Rooms]:
    """A block round an instance, and how many rooms its panels leave in each of the cells."""
    return _joined([room(grid, one, balls(sizes, grid.edge)) for one in solids])


def _grid(solids: Sequence[Solid], sizes: Sizes) -> Grid:
    """Cells as fine as the bounds on their number allow, set even about the middle of the body."""
    boxes = np.array([[one.corners.min(axis=0), one.corners.max(axis=0)] for one in solids])
    low, high = boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)
    margin = sizes.man / 2.0 + 2.0 * FINEST
    near = float(np.prod(boxes[:, 1] - boxes[:, 0] + 2.0 * margin, axis=1).sum())
    edge = max(FINEST, float(np.cbrt(np.prod(high - low + 2.0 * margin) / MOST)), float(np.cbrt(near / MOST_NEAR)))
    if not edge <= COARSEST:
        return Grid(low, edge, (0, 0, 0))
    half = np.ceil(((high - low) / 2.0 + sizes.man / 2.0) / edge).astype(int) + 2
    count = (2 * half + 1).tolist()
    return Grid((low + high) / 2.0 - half * edge, edge, (count[0], count[1], count[2]))


def _joined(rooms: Sequence[tuple[Block, Rooms]]) -> tuple[Block, Rooms]:
    """The least room of several panels, in the block round all of theirs."""
    first = [min(block[k].start for block, _ in rooms) for k in range(3)]
    last = [max(block[k].stop for block, _ in rooms) for k in range(3)]
    least = np.full([b - a for a, b in zip(first, last, strict=True)], MAN, dtype=np.uint8)
    for block, own in rooms:
        here = least[tuple(slice(one.start - a, one.stop - a) for one, a in zip(block, first, strict=True))]
        np.minimum(here, own, out=here)
    return (slice(first[0], last[0]), slice(first[1], last[1]), slice(first[2], last[2])), least


def rooms_left(space: Space, present: BoolArray) -> Rooms:
    """How many rooms each cell has while the instances `present` (m,) stand: `TOUCH` to `MAN`, 0 at metal."""
    left = np.full(space.grid.shape, MAN, dtype=np.uint8)
    for near, stands in zip(space.near, present.tolist(), strict=True):
        if near is not None and stands:
            np.minimum(left[near[0]], near[1], out=left[near[0]])
    return left


def over_floor(space: Space, rooms: Rooms, down: FloatArray, level: float) -> Rooms:
    """The rooms of cells (i, j, k) with a floor, metal from `level` mm on along `down` (3,)."""
    places = [space.grid.low[k] + np.arange(space.grid.shape[k]) * space.grid.edge for k in range(3)]
    far = level - sum(d * np.expand_dims(p, [i for i in range(3) if i != k])
                      for k, (d, p) in enumerate(zip(down.tolist(), places, strict=True)))  # fmt: skip
    radii = balls(space.sizes, space.grid.edge)
    left: Rooms = np.searchsorted(radii, far.ravel(), side="right").astype(np.uint8).reshape(far.shape)
    return np.minimum(rooms, left)


def balls(sizes: Sizes, edge: float) -> FloatArray:
    """Radii of the balls of nothing, hand, arm and man, mm, with what cells of this edge may hide."""
    radii: FloatArray = np.hypot(np.array([0.0, sizes.hand, sizes.arm, sizes.man]) / 2.0, HALF_STEP * edge)
    return radii


def inside_hull(grid: Grid, planes: FloatArray) -> BoolArray:
    """(i, j, k) True for cells inside planes (p, 4) as `hull_planes` gives them; cells on a plane are inside."""
    x, y, z = (grid.low[k] + np.arange(grid.shape[k]) * grid.edge for k in range(3))
    low, high = np.full(grid.shape[:2], -np.inf), np.full(grid.shape[:2], np.inf)
    for a, b, c, d in planes.tolist():
        rest = -(a * x[:, None] + b * y[None, :] + d)
        if abs(c) < 1e-9:
            high[rest < 0.0] = -np.inf
        elif c > 0.0:
            np.minimum(high, rest / c, out=high)
        else:
            np.maximum(low, rest / c, out=low)
    inside: BoolArray = (z >= low[..., None]) & (z <= high[..., None])
    return inside


def openings(space: Space, solids: Sequence[Solid]) -> tuple[Opening, ...]:
    """The cut-outs of all panels, with the cells of `space.inner` that lie in them."""
    found, grid = [], space.inner
    for number, solid in enumerate(solids):
        for ring in solid.face.interiors if np.prod(grid.shape) else ():
            hole = shapely.Polygon(ring)
            middle = shapely.maximum_inscribed_circle(hole, tolerance=0.1)
            centre = shapely.get_coordinates(middle)[0]
            corners = to_outer(solid.frame, _both_faces(hole.bounds, solid.thickness))
            slack = HALF_STEP * grid.edge
            block = block_round(grid, corners.min(axis=0) - slack, corners.max(axis=0) + slack)
            x, y, z = own_places(grid, block, solid)
            inside = (z <= slack) & (z >= -solid.thickness - slack) & within(hole, x, y)
            place = to_outer(solid.frame, np.array([*centre, -solid.thickness / 2.0]))
            cells = np.argwhere(inside) + [one.start for one in block]
            flat = np.ravel_multi_index(tuple(cells.T), grid.shape)
            found.append(Opening(number, place, 2.0 * float(middle.length), np.asarray(flat, dtype=np.int64)))
    return tuple(found)


def _both_faces(bounds: tuple[float, float, float, float], thickness: float) -> FloatArray:
    x0, y0, x1, y1 = bounds
    return np.array([[x, y, z] for x in (x0, x1) for y in (y0, y1) for z in (-thickness, 0.0)])


def gates_of(space: Space, openings: Sequence[Opening], owner: IntArray, present: BoolArray) -> Numbers:
    """The number of the gate of each cell of `space.inner`, -1 for none.

    First the cut-outs of panels that stand, as numbered, then, from their number on, the places of instances that are
    off, their cut-outs with them. A gate is thicker than a step is long, so that no way passes it unseen.

    Args:
        space: the space.
        openings: the cut-outs.
        owner: (k,) instance of each panel.
        present: (m,) True for instances that stand.
    """
    gates = np.full(space.grid.shape, -1, dtype=np.int16)
    for instance in np.nonzero(~present)[0].tolist():
        near = space.near[instance]
        if near is not None:
            gates[near[0]][near[1] < TOUCH] = len(openings) + instance
    inner = np.ascontiguousarray(gates[space.core])
    for number, one in enumerate(openings):
        off = len(openings) + owner[one.solid]
        inner.ravel()[one.cells] = number if present[owner[one.solid]] else off
    return inner
