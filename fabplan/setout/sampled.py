"""A line and those beside it, looked at every half millimetre: where a hole may be, and why not elsewhere."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.setout.limits import Limits
from fabplan.setout.line import Line
from fabplan.setout.pitches import STEP, Blocked
from fabplan.setout.ply import Meeting
from fabplan.setout.room import Room, room
from fabplan.setout.wish import Wish

MOST = 3  # stretches that are told of one reason
EVERY = 4  # of the places looked at, those at which room for heads is looked for
ROUGH = 0.01  # mm by which a space between places looked at may seem wider or narrower than it is


@dataclass(frozen=True, slots=True, eq=False)
class Sampled:
    """The lines of a row, looked at every half millimetre: `s` (n,) along the first, a room and (n,) blocked a line."""

    s: FloatArray
    rooms: tuple[Room, ...]
    blocked: tuple[BoolArray, ...]
    words: tuple[str, ...]


def sampled_along(wish: Wish, line: Line, off: Sequence[float]) -> Sampled:
    """What is found along each line."""
    s = np.arange(0.0, line.path.length + FIGURE, STEP)
    rooms, blocked, words = [], [], list[str]()
    for some in off:
        found = room(wish.plies, line.on, partial(line.path.places, off=some), (s, wish.limits))
        stopped = (found.off >= 0) | (found.taken >= 0)
        stands = np.where(found.off < 0, found.taken, -1)
        words += [_along(found.words[k], s[stands == k]) for k in np.unique(stands[stands >= 0]).tolist()]
        few = np.unique(np.append(np.arange(0, len(s), EVERY), len(s) - 1))
        few = few[~stopped[few]]
        for struck, why in wish.heads.in_way(_some(found.met, few), ordinary=True) if len(few) else ():
            for k in few[struck].tolist():
                stopped[max(k - EVERY + 1, 0) : k + EVERY] = True
            words.append(_along(why, s[few[struck]]))
        rooms.append(found)
        blocked.append(stopped)
    return Sampled(s, tuple(rooms), tuple(blocked), tuple(dict.fromkeys(words)))


def _along(why: str, s: FloatArray) -> str:
    """A reason with the stretches along the row, (n,) places mm in order, where it holds."""
    parts = np.split(s, np.nonzero(np.diff(s) > STEP * EVERY + FIGURE)[0] + 1)
    told = [f"{part[0]:g} to {part[-1]:g}" for part in parts[:MOST]]
    return f"{why} ({', '.join(told)}{' ...' if len(parts) > MOST else ''} mm along the row)"


def _some(met: Meeting, index: IntArray) -> Meeting:
    """A meeting at some of its places."""
    return Meeting(
        tuple(xy[index] for xy in met.xy),
        tuple(point[index] for point in met.point),
        met.axis[index],
        met.fair[index],
        met.faces[index],
    )


def blocked_of(sampled: Sampled, zigzag: bool, limits: Limits) -> Blocked:
    """Where no hole may be: of both places looked at beside each; and no row whose spaces a ply has not room for."""

    def at_line(places: FloatArray, stopped: BoolArray) -> BoolArray:
        step = places / STEP
        low, high = (
            np.clip(one, 0, len(stopped) - 1).astype(np.int64)
            for one in (np.floor(step + FIGURE), np.ceil(step - FIGURE))
        )
        return np.asarray(stopped[low] | stopped[high], dtype=np.bool_)

    odd = [zigzag and k % 2 == 1 for k in range(len(sampled.blocked))]
    even = np.any([stopped for stopped, shifted in zip(sampled.blocked, odd, strict=True) if not shifted], axis=0)

    def row(places: FloatArray) -> BoolArray:
        found = at_line(places, even)
        for stopped, shifted in zip(sampled.blocked, odd, strict=True):
            if shifted:
                found[:-1] |= at_line(mids(places), stopped)
        found[:-1] |= _strained(sampled, places, limits)
        return found

    return Blocked(lambda places: at_line(places, even), row)


def _strained(sampled: Sampled, places: FloatArray, limits: Limits) -> BoolArray:
    """(n - 1,) True for spaces of a row (n,) that break the limits on the blank of a ply, as where it is folded."""
    least, greatest = limits.least("pitch") - ROUGH, limits.greatest("pitch") + ROUGH
    found = np.zeros(len(places) - 1, dtype=np.bool_)
    for xy in sampled.rooms[0].met.xy:
        at = np.column_stack([np.interp(places, sampled.s, xy[:, axis]) for axis in (0, 1)])
        space = np.linalg.norm(np.diff(at, axis=0), axis=1)
        found |= ~((space >= least) & (space <= greatest))
    return found


def mids(row: FloatArray) -> FloatArray:
    """(n - 1,) the middles of the spaces of a row (n,)."""
    middles: FloatArray = (row[1:] + row[:-1]) / 2.0
    return middles


def reason(sampled: Sampled, k: int) -> str:
    """Why there is no metal for a hole at one place."""
    return next((found.words[int(found.off[k])] for found in sampled.rooms if found.off[k] >= 0), "")
