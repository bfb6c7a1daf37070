"""A row laid along a line: the line looked at every half millimetre, and divided into equal pitches."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from fabplan.errors import SetoutError
from fabplan.geom.surface import along_axes, to_body
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.setout.limits import back_pitch, beyond, wanted_end, wanted_pitch
from fabplan.setout.line import Line
from fabplan.setout.path import Path
from fabplan.setout.pitches import STEP, Blocked, End, Pitches, at, divided, runs
from fabplan.setout.ply import Meeting
from fabplan.setout.room import Room, room
from fabplan.setout.wish import MEND, Wish, hold, without

KEPT = 0.05  # mm off the line, and off the size, by which a hole that is there still suits the row (common practice)
EVERY = 4  # of the places looked at, those at which room for heads is looked for


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """A row laid.

    Attributes:
        xy: (n, 2) on the ply on which it was laid, line after line.
        line: (n,) number of the line.
        s: places of the first line along it, a stretch each.
        ends: from the first and last hole to the end of the metal, mm.
        why: what was decided, in sentences.
    """

    xy: FloatArray
    line: IntArray
    s: tuple[FloatArray, ...]
    ends: tuple[float, float]
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """Holes that are there already and suit: (k,) along the line, (k, 2) on the ply laid on, and those of each ply."""

    s: FloatArray
    xy: FloatArray
    own: tuple[FloatArray, ...]
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Sampled:
    """The lines of a row, looked at every half millimetre: `s` (n,) along the first, a room and (n,) blocked a line."""

    s: FloatArray
    rooms: tuple[Room, ...]
    blocked: tuple[BoolArray, ...]
    words: tuple[str, ...]


def row_along(wish: Wish, line: Line) -> Row:
    """A row of equal pitches along a line.

    Raises:
        SetoutError: no such row keeps the limits, or a stated figure breaks them.
    """
    pitch, whose = _pitch(wish)
    off, words = _offsets(wish, line, pitch)
    kept = _kept(wish, line)
    plies = without(wish.plies, kept.own)
    own = replace(wish, plies=plies)
    sampled = _sampled(own, line, off)
    rows = (
        _closed(own, line, sampled, pitch) if line.path.radius else tuple(_stretches(own, line, sampled, (pitch, kept)))
    )
    xy, number = _places(line.path, rows, off, wish.spec.zigzag)
    for s, place in zip(kept.s, kept.xy, strict=True):
        xy[np.linalg.norm(xy - line.path.places(np.array([s]))[0], axis=1) <= KEPT] = place
    ends = (np.nan, np.nan)
    for k, some in enumerate(off):
        stations = np.concatenate([_mids(row) if wish.spec.zigzag and k % 2 else row for row in rows])
        found = room(plies, line.on, partial(line.path.places, off=some), (stations, wish.limits))
        hold(found, wish.heads)
        _pitched(own, found, rows if not (wish.spec.zigzag and k % 2) else [_mids(row) for row in rows])
        if k == 0 and not line.path.radius:
            ends = float(found.back[0].min()), float(found.ahead[-1].min())
    uneven = len(runs(rows[0])) > 1 if not line.path.radius else False
    around = [f"stepped around: {one}" for one in sampled.words] if uneven or len(rows) > 1 else []
    return Row(xy, number, tuple(rows), ends, (line.how, *words, *kept.words, f"pitch: {whose}", *around))


def _pitch(wish: Wish) -> tuple[float, str]:
    """The wanted pitch; one that is stated must keep the limits."""
    stated = wish.spec.pitch
    limits = wish.limits
    if not limits.least("pitch") <= limits.greatest("pitch") + FIGURE:
        what = f"no pitch keeps the limits: least {limits.said('pitch', 'least')}"
        what += f", greatest {limits.said('pitch', 'greatest')}"
        raise SetoutError(what, "Take a thinner rivet or thicker plates.")
    broken = beyond(limits, "pitch", stated) if stated is not None else ""
    if broken:
        raise SetoutError(f"the stated pitch of {stated:g} mm breaks the limits: {broken}", "State another, or none.")
    return wanted_pitch(limits, stated)


def _offsets(wish: Wish, line: Line, pitch: float) -> tuple[tuple[float, ...], tuple[str, ...]]:
    """How far each line lies to the left of the first, mm, and why."""
    rows, stated = wish.spec.rows, wish.spec.back_pitch
    if rows == 1:
        return (0.0,), ()
    if len(line.path.corners) > 2:
        mend = "Set out each as a seam of its own, along its own line."
        raise SetoutError("rows side by side that turn a corner", mend)
    apart, whose = back_pitch(wish.limits, pitch) if stated is None else (abs(stated), "stated in the job")
    broken = beyond(wish.limits, "row distance", apart)
    if broken:
        raise SetoutError(f"rows {apart:g} mm apart break the limits: {broken}", "State another `back_pitch`, or none.")
    side = (line.side or 1.0) * (-1.0 if stated is not None and stated < 0.0 else 1.0)
    start = -side * apart * (rows - 1) / 2.0 if line.side == 0.0 else 0.0
    kind = "zigzag" if wish.spec.zigzag else "chain"
    return tuple(start + side * apart * k for k in range(rows)), (f"{rows} {kind} rows {apart:g} mm apart: {whose}",)


def _kept(wish: Wish, line: Line) -> _Kept:
    """Holes of no seam that lie on the line and are of the right size."""
    s: list[float] = []
    places: list[FloatArray] = []
    words: list[str] = []
    own: list[FloatArray] = []
    on, hole = wish.plies[line.on], wish.limits.case.hole
    for ply in wish.plies:
        suited = ply.spare & (np.abs(ply.holes.diameter - hole) <= KEPT + FIGURE)
        some = np.nonzero(suited & (wish.spec.rows == 1 and not line.path.radius))[0]
        xy = ply.holes.xy[some]
        point, axis = to_body(ply.surface, xy, np.full(len(xy), -ply.surface.thickness / 2.0))
        flat, _, square = along_axes(on.surface, point, axis) if len(xy) else (xy, xy, np.zeros(0, np.bool_))
        if ply is on:
            flat = xy
        along, aside = line.path.along(flat) if len(flat) else (np.zeros(0), np.zeros(0))
        suits = square & (np.abs(aside) <= KEPT) & (along >= -KEPT) & (along <= line.path.length + KEPT)
        own.append(xy[suits])
        new = [k for k in np.nonzero(suits)[0].tolist() if all(abs(along[k] - one) > KEPT for one in s)]
        s += [float(along[k]) for k in new]
        places += [flat[k] for k in new]
        if suits.any():
            words.append(f"{int(suits.sum())} holes of {ply.name} that are there already and suit are part of the row")
    order = np.argsort(s)
    return _Kept(np.array(s)[order], np.array(places).reshape(-1, 2)[order], tuple(own), tuple(words))


def _sampled(wish: Wish, line: Line, off: Sequence[float]) -> _Sampled:
    """What is found along each line."""
    s = np.arange(0.0, line.path.length + FIGURE, STEP)
    rooms, blocked, words = [], [], list[str]()
    for some in off:
        found = room(wish.plies, line.on, partial(line.path.places, off=some), (s, wish.limits))
        stopped = (found.off >= 0) | (found.taken >= 0)
        words += [found.words[k] for k in np.unique(found.taken[(found.taken >= 0) & (found.off < 0)]).tolist()]
        few = np.unique(np.append(np.arange(0, len(s), EVERY), len(s) - 1))
        few = few[~stopped[few]]
        for struck, why in wish.heads.in_way(_some(found.met, few), ordinary=True) if len(few) else ():
            for k in few[struck].tolist():
                stopped[max(k - EVERY + 1, 0) : k + EVERY] = True
            words.append(why)
        rooms.append(found)
        blocked.append(stopped)
    return _Sampled(s, tuple(rooms), tuple(blocked), tuple(dict.fromkeys(words)))


def _some(met: Meeting, index: IntArray) -> Meeting:
    """A meeting at some of its places."""
    return Meeting(
        tuple(xy[index] for xy in met.xy),
        tuple(point[index] for point in met.point),
        met.axis[index],
        met.fair[index],
        met.faces[index],
    )


def _blocked(sampled: _Sampled, zigzag: bool) -> Blocked:
    """Where no hole may be: of both places looked at beside each."""

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
                found[:-1] |= at_line(_mids(places), stopped)
        return found

    return Blocked(lambda places: at_line(places, even), row)


def _mids(row: FloatArray) -> FloatArray:
    middles: FloatArray = (row[1:] + row[:-1]) / 2.0
    return middles


def _stretches(wish: Wish, line: Line, sampled: _Sampled, given: tuple[float, _Kept]) -> Iterator[FloatArray]:
    """The stretches of a row, one on each side of an opening; (n,) places along the line each."""
    pitch, kept = given
    metal = np.all([found.off < 0 for found in sampled.rooms], axis=0)
    edges = np.nonzero(np.diff(np.concatenate([[False], metal, [False]]).astype(np.int8)))[0].reshape(-1, 2)
    if not len(edges):
        raise SetoutError(f"no hole can be along the line: {_reason(sampled, 0)}", MEND)
    if line.stated and (not metal[0] or not metal[-1]):
        end = 0 if not metal[0] else len(metal) - 1
        raise SetoutError(f"the {'last' if end else 'first'} hole as stated cannot be: {_reason(sampled, end)}", MEND)
    rows = 0
    for first, stop in edges.tolist():
        pitches = _limits(wish, sampled, slice(first, stop), pitch)
        if sampled.s[stop - 1] - sampled.s[first] < pitches.least - FIGURE and len(edges) > 1:
            continue  # a scrap between two openings takes no row
        ends = _ends(wish, line, sampled, (first, stop), pitches)
        inner = np.sort(np.concatenate([line.path.stops[1:-1], kept.s]))
        stops = [one for one in inner.tolist() if ends[0].low + FIGURE < one < ends[1].high - FIGURE]
        yield _between(wish, sampled, (ends, stops), pitches)
        rows += 1
    if not rows:
        raise SetoutError("no stretch of the line is long enough for two holes", MEND)


def _reason(sampled: _Sampled, k: int) -> str:
    """Why there is no metal for a hole at one place."""
    return next((found.words[int(found.off[k])] for found in sampled.rooms if found.off[k] >= 0), "")


def _limits(wish: Wish, sampled: _Sampled, where: slice, pitch: float) -> Pitches:
    """The limits of pitch on the ply laid on, so that they are kept on the blanks of all plies."""
    step = np.concatenate([found.step[where] for found in sampled.rooms])
    least, greatest = wish.limits.least("pitch") / step.min(), wish.limits.greatest("pitch") / step.max()
    if not least <= greatest + FIGURE:
        what = f"the plies are developed so unlike that no pitch suits all: {least:.4g} to {greatest:.4g} mm"
        raise SetoutError(what, "Drill one of them from its mate.")
    return Pitches(least, greatest, float(np.clip(pitch, least, greatest)))


def _ends(wish: Wish, line: Line, sampled: _Sampled, edges: tuple[int, int], pitches: Pitches) -> tuple[End, End]:
    """Where the end holes of a stretch may be."""
    first, stop = edges
    stated = line.stated and not line.path.radius
    near = np.min([found.back.min(axis=1) for found in sampled.rooms[:1]], axis=0)[first:stop]
    far = np.min([found.ahead.min(axis=1) for found in sampled.rooms[:1]], axis=0)[first:stop]
    s = sampled.s[first:stop]
    ends = wish.spec.end_distance or (None, None)
    start = at(0.0) if stated and first == 0 else _end(wish, (s, near), ends[0], pitches)
    if stated and stop == len(sampled.s):
        return start, at(line.path.length)
    end = _end(wish, (-s[::-1], far[::-1]), ends[1], pitches)
    return start, End(-end.high, -end.low, -end.wanted)


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


def _between(wish: Wish, sampled: _Sampled, given: tuple[tuple[End, End], list[float]], pitches: Pitches) -> FloatArray:
    """One stretch between its ends, through the holes that are settled between them."""
    (start, end), stops = given
    blocked = _blocked(sampled, wish.spec.zigzag)
    ends = [start, *(at(one) for one in stops), end]
    rows: list[FloatArray] = []
    for one, other in pairwise(ends):
        row = divided(one, other, pitches, blocked)
        if row is None:
            raise SetoutError(_none(sampled, (one, other), pitches), MEND)
        rows.append(row if not rows else row[1:])
    return np.concatenate(rows)


def _none(sampled: _Sampled, ends: tuple[End, End], pitches: Pitches) -> str:
    """Why no division fits."""
    start, end = ends
    span = end.high - start.low
    if span < pitches.least - FIGURE:
        return f"{max(span, 0.0):.4g} mm between the ends are too short for two holes {pitches.least:.4g} mm apart"
    limits = f"no whole number of spaces of {pitches.least:.4g} to {pitches.greatest:.4g} mm fits"
    where = f"between {start.wanted:.4g} and {end.wanted:.4g} mm along the row"
    return f"{limits} {where}" + (f" beside what is in the way: {'; '.join(sampled.words)}" if sampled.words else "")


def _closed(wish: Wish, line: Line, sampled: _Sampled, pitch: float) -> tuple[FloatArray, ...]:
    """A row round a circle, its first hole where all are free."""
    for k in range(len(sampled.s)):
        if any(found.off[k] >= 0 for found in sampled.rooms):
            raise SetoutError(f"the circle cannot be closed: {_reason(sampled, k)}", MEND)
    pitches = _limits(wish, sampled, slice(None), pitch)
    girth, blocked = line.path.length, _blocked(sampled, zigzag=False)
    low, high = int(np.ceil(girth / pitches.greatest - FIGURE)), int(np.floor(girth / pitches.least + FIGURE))
    for count in sorted(range(max(low, 3), high + 1), key=lambda n: abs(girth / n - pitches.wanted)):
        chord = 2.0 * line.path.radius * np.sin(np.pi / count)
        for phase in np.arange(0.0, girth / count, STEP) if chord >= pitches.least - FIGURE else ():
            row = np.mod(phase + girth / count * np.arange(count), girth)
            if not blocked.row(row).any():
                return (row,)
    ends = at(0.0), at(girth)
    raise SetoutError(_none(sampled, ends, pitches), MEND)


def _places(path: Path, rows: Sequence[FloatArray], off: Sequence[float], zigzag: bool) -> tuple[FloatArray, IntArray]:
    """Places (n, 2) of all holes, line after line, and the number of the line (n,)."""
    own = [np.concatenate([_mids(row) if zigzag and k % 2 else row for row in rows]) for k in range(len(off))]
    xy = np.vstack([path.places(s, some) for s, some in zip(own, off, strict=True)])
    return xy, np.repeat(np.arange(len(off)), [len(s) for s in own])


def _pitched(wish: Wish, found: Room, rows: Sequence[FloatArray]) -> None:
    """Hold the spaces on the blank of every ply against the limits; openings between stretches aside."""
    first = np.concatenate([[0], np.cumsum([len(row) for row in rows])])
    for ply, xy in zip(wish.plies, found.met.xy, strict=True):
        for low, high in pairwise(first.tolist()):
            space = np.linalg.norm(np.diff(xy[low:high], axis=0), axis=1)
            broken = next(filter(None, (beyond(wish.limits, "pitch", one) for one in space.tolist())), "")
            if broken:
                raise SetoutError(f"spaces on {ply.name} break the limits: {broken}", MEND)
