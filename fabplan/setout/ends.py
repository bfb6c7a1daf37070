"""Where the end holes of a row may be: by the end of the metal, and beside the rivets of other rows that hold it."""

import numpy as np

from fabplan.errors import SetoutError
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.setout.limits import beyond, wanted_end
from fabplan.setout.line import Line
from fabplan.setout.pitches import STEP, End, Pitches, at
from fabplan.setout.ply import Ply
from fabplan.setout.room import STEEP
from fabplan.setout.sampled import Sampled
from fabplan.setout.wish import MEND, Wish


def ends_of(wish: Wish, line: Line, sampled: Sampled, edges: tuple[int, int], pitches: Pitches) -> tuple[End, End]:
    """Where the end holes of a stretch may be."""
    first, stop = edges
    near, far = sampled.rooms[0].back.min(axis=1)[first:stop], sampled.rooms[0].ahead.min(axis=1)[first:stop]
    s, stated = sampled.s[first:stop], wish.spec.end_distance or (None, None)
    start, end = at(0.0), at(line.path.length)
    if not (line.stated and first == 0):
        start = _end(wish, (s, near), stated[0], pitches)
        start = _for_longer(wish, sampled, start, np.arange(first, stop))
        start = _past_others(wish, sampled, (start, pitches), np.arange(first, stop))
    if not (line.stated and stop == len(sampled.s)):
        end = _end(wish, (-s[::-1], far[::-1]), stated[1], pitches)
        end = _for_longer(wish, sampled, end, np.arange(first, stop)[::-1])
        end = _past_others(wish, sampled, (end, pitches), np.arange(first, stop)[::-1])
        end = End(-end.high, -end.low, -end.wanted)
    return start, end


def _end(wish: Wish, seen: tuple[FloatArray, FloatArray], stated: float | None, pitches: Pitches) -> End:
    """An end hole, by the distances (n,) to the end of the metal at places (n,) that run inwards."""
    s, near = seen
    limits = wish.limits
    if stated is not None:
        broken = beyond(limits, "end distance", stated)
        place = _where(s, near, stated)
        if broken or place is None:
            raise SetoutError(f"an end distance of {stated:g} mm cannot be: {broken or 'the metal ends sooner'}", MEND)
        return at(place)
    wanted, _ = wanted_end(limits)
    best = _where(s, near, wanted)
    low = float(s[0])
    best = low if best is None else best
    most = _where(s, near, min(limits.greatest("end distance"), wanted + pitches.greatest))
    high = max(best, float(s[-1]) if most is None else most)
    return End(low, high, best)


def _where(s: FloatArray, near: FloatArray, distance: float) -> float | None:
    """The first place at which the end of the metal is so far behind, mm; None where it never is."""
    reached = np.nonzero(near >= distance - FIGURE)[0]
    if not len(reached):
        return None
    k = int(reached[0])
    back = float(near[k]) - distance
    return float(s[k]) - back if k > 0 and back <= STEP * 1.5 else float(s[k])


def _for_longer(wish: Wish, sampled: Sampled, end: End, inward: IntArray) -> End:
    """An end brought out so far that plies which run on past the others keep the greatest end distance, where it can.

    Args:
        wish: with the plies and their holes.
        sampled: the line.
        end: by places that run inwards.
        inward: numbers of the places looked at from that end on.
    """
    sign = 1.0 if inward[0] <= inward[-1] else -1.0
    found, place = sampled.rooms[0], sign * sampled.s[inward]
    high = end.high
    for ply, xy, back in zip(wish.plies, found.met.xy, (found.back if sign > 0.0 else found.ahead).T, strict=True):
        kept = (back[inward] <= wish.limits.greatest("end distance") + FIGURE) & (place >= end.low - FIGURE)
        last = int(np.nonzero(kept)[0][-1]) if kept.any() else len(inward)
        if last + 1 >= len(inward) or place[last] >= high:
            continue
        k = inward[max(last + 1, int(np.argmin(np.abs(place - end.wanted))))]
        if not _held(ply, xy[k], xy[inward[0]] - xy[k], float(back[k])):
            high = float(place[last])
    return End(end.low, high, min(end.wanted, high))


def _past_others(wish: Wish, sampled: Sampled, given: tuple[End, Pitches], inward: IntArray) -> End:
    """An end that is wholly blocked, moved past what is there where rivets of other rows hold the end of the metal.

    Args:
        wish: with the plies and their holes.
        sampled: the line.
        given: the end, by places that run inwards, and the pitches.
        inward: numbers of the places looked at from that end on.
    """
    end, pitches = given
    sign = 1.0 if inward[0] <= inward[-1] else -1.0
    free = ~np.any(sampled.blocked, axis=0)[inward]
    place = sign * sampled.s[inward]
    if end.fixed or free[(place >= end.low - FIGURE) & (place <= end.high + FIGURE)].any() or not free.any():
        return end
    k = int(inward[int(np.argmax(free))])
    found, greatest = sampled.rooms[0], wish.limits.greatest("end distance")
    for ply, xy, back in zip(wish.plies, found.met.xy, (found.back if sign > 0.0 else found.ahead)[k], strict=True):
        way = xy[int(inward[0])] - xy[k]
        if back > greatest + FIGURE and not _held(ply, xy[k], way, float(back)):
            return end
    first = float(sign * sampled.s[k])
    return End(first, first + pitches.wanted, first)


def _held(ply: Ply, xy: FloatArray, way: FloatArray, back: float) -> bool:
    """True where another rivet of a ply stands between a place and its end, within 45 degrees of the way there."""
    filled = [k for k, purpose in enumerate(ply.holes.purpose) if purpose != "open"]
    apart = ply.holes.xy[filled] - xy
    along = apart @ way / max(float(np.linalg.norm(way)), 1e-300)
    return bool(np.any((along > FIGURE) & (along < back) & (along >= STEEP * np.linalg.norm(apart, axis=1))))
