"""Ways through the room round a body: men by openings, then arms from their shoulders, hands at the end."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from fabplan.geom.clearance import Grid
from fabplan.geom.flood import ARM, HAND, MAN, Numbers, Rooms
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

Lengths = npt.NDArray[np.float32]
AT_ONCE = 20_000  # points looked at together: 64 cells each
_Cells = npt.NDArray[np.int64]
NEIGHBOURS = np.ones((3, 3, 3), dtype=np.bool_)


def men_reach(rooms: Rooms, *, anywhere: bool = False, corner: tuple[int, int, int] = (0, 0, 0)) -> BoolArray:
    """(i, j, k) True for cells that the middle of a man reaches from outside, or `anywhere` wherever he has room.

    `corner` is a cell outside, where he has room.
    """
    label, _ = ndimage.label(rooms == MAN, structure=NEIGHBOURS)
    reached: BoolArray = label > 0 if anywhere else label == label[corner]
    return reached


@dataclass(frozen=True, slots=True, eq=False)
class Arms:
    """How far an arm has come: for each cell the length of its way, mm, inf where it does not come, and by which gate.

    `gate` is the first gate on the way, -1 for none; see `arms_reach`.
    """

    length: Lengths
    gate: Numbers


def arms_reach(rooms: Rooms, start: BoolArray, gates: Numbers, edge: float, reach: tuple[float, float]) -> Arms:
    """Where hands get to from the cells `start`, along cells with room for an arm, at the end for a hand alone.

    The shortest way to each cell is followed, in steps to 26 neighbours: up to an eighth longer than a straight one.

    Args:
        rooms: (i, j, k) as `rooms_left` gives them.
        start: (i, j, k) where a man has his shoulder: length 0; one in an opening has it for a gate.
        gates: (i, j, k) numbers of openings, -1 for none, in the cells that lie in them.
        edge: of a cell, mm.
        reach: greatest length of the whole way, and of its end from where first only a hand has room, mm.
    """
    begin = start & (rooms >= HAND) & ndimage.binary_dilation(~start, structure=NEIGHBOURS)
    length = np.where(rooms >= HAND, np.float32(np.inf), _WALL)
    length[start] = 0.0
    maps = _Maps(
        *(
            np.pad(cells, 1, constant_values=rim).ravel()
            for cells, rim in (
                (rooms, 0),
                (length, _WALL),
                (np.zeros_like(length), 0),
                (gates, -1),
                (np.where(start, gates, np.int16(-1)), -1),
            )
        )
    )
    shape = tuple(count + 2 for count in rooms.shape)
    _spread(maps, np.flatnonzero(np.pad(begin, 1)), shape, (reach[0] / edge, reach[1] / edge))
    inner = (slice(1, -1),) * 3
    length = maps.length.reshape(shape)[inner]
    return Arms(np.where(length < 0.0, np.float32(np.inf), length * np.float32(edge)), maps.gate.reshape(shape)[inner])


_WALL = np.float32(-1.0)  # no way is shorter


@dataclass(frozen=True, slots=True, eq=False)
class _Maps:
    """Flat maps of the cells; length of the way, and of its end for a hand alone, in edges of a cell."""

    rooms: Rooms
    length: Lengths
    narrow: Lengths
    number: Numbers
    gate: Numbers


def _spread(maps: _Maps, waiting: _Cells, shape: tuple[int, ...], reach: tuple[float, float]) -> None:
    """Go on ring by ring. A ring is as wide as the shortest step is long: no cell of it is nearer by another of it."""
    steps = [one for one in (np.argwhere(NEIGHBOURS) - 1).tolist() if any(one)]
    flat = [np.int64((one[0] * shape[1] + one[1]) * shape[2] + one[2]) for one in steps]
    far = [np.float32(np.sqrt(sum(abs(k) for k in one))) for one in steps]
    queued = np.zeros(len(maps.rooms), dtype=np.bool_)
    ring = 1
    while len(waiting):
        due = maps.length[waiting] < ring
        front, later = waiting[due], [waiting[~due]]
        come = maps.length[front]
        for shift, step in zip(flat, far, strict=True):
            cells = _step(maps, (front, front + shift), come + step, step, reach)
            later.append(cells[~queued[cells]])
            queued[cells] = True
        waiting, ring = np.concatenate(later), ring + 1


def _step(
    maps: _Maps, move: tuple[_Cells, _Cells], total: Lengths, step: np.float32, reach: tuple[float, float]
) -> _Cells:
    """Go on from cells to one neighbour each, `total` being the ways to these; those that are nearer that way."""
    nearer = np.flatnonzero(total < maps.length[move[1]])
    origin, cells, total = move[0][nearer], move[1][nearer], total[nearer]
    narrow = maps.narrow[origin]
    narrow = np.where((maps.rooms[cells] < ARM) | (narrow > 0.0), narrow + step, np.float32(0.0))
    near = np.flatnonzero((total <= reach[0]) & (narrow <= reach[1]))
    cells, gate = cells[near], maps.gate[origin[near]]
    maps.length[cells], maps.narrow[cells] = total[near], narrow[near]
    maps.gate[cells] = np.where(gate >= 0, gate, maps.number[cells])
    return cells


def men_fill(men: BoolArray, edge: float, man: float) -> BoolArray:
    """(i, j, k) True for cells within the ball of a man whose middle is in one of the cells `men`."""
    if not men.any():
        return men
    filled: BoolArray = ndimage.distance_transform_edt(~men, sampling=edge) <= man / 2.0
    return filled


def held(grid: Grid, length: Lengths, points: FloatArray, hand: float, reach: float) -> IntArray:
    """(n,) which cells, as flat indices, a hand of a diameter is in that holds each of the points; -1 for none.

    The point lies within the ball of the hand, and the whole way to it is no longer than `reach` mm. Looked at are the
    4 x 4 x 4 cells round the point; a point that has not all of them in the grid lies outside the body.
    """
    found = np.full(len(points), -1, dtype=np.int64)
    base = np.floor((points - grid.low) / grid.edge).astype(np.int64) - 1
    whole = np.nonzero(np.all((base >= 0) & (base + 4 <= np.array(grid.shape)), axis=1))[0]
    offsets = np.array(list(np.ndindex(4, 4, 4)))
    flat = np.ravel_multi_index(tuple(offsets.T), grid.shape)
    for low in range(0, len(whole), AT_ONCE):
        own = whole[low : low + AT_ONCE]
        cells = np.ravel_multi_index(tuple(base[own].T), grid.shape)[:, None] + flat
        off = (points[own] - grid.low - base[own] * grid.edge)[:, :, None] - np.arange(4) * grid.edge
        x, y, z = off[:, 0, offsets[:, 0]], off[:, 1, offsets[:, 1]], off[:, 2, offsets[:, 2]]
        away = np.sqrt(x**2 + y**2 + z**2)
        total = np.where(away <= hand / 2.0, length.ravel()[cells] + away, np.inf)
        best = total.argmin(axis=1)
        rows = np.arange(len(own))
        found[own] = np.where(total[rows, best] <= reach, cells[rows, best], -1)
    return found
