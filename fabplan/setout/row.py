"""A row laid along a line: the line looked at every half millimetre, and divided into equal pitches."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise

import numpy as np

from fabplan.errors import SetoutError
from fabplan.geom.surface import along_axes, to_body
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.setout.ends import ends_of
from fabplan.setout.limits import back_pitch, beyond, wanted_end, wanted_pitch
from fabplan.setout.line import Line
from fabplan.setout.path import Path
from fabplan.setout.pitches import STEP, End, Pitches, at, divided, runs
from fabplan.setout.ply import meeting
from fabplan.setout.room import Room, metal, room
from fabplan.setout.sampled import Sampled, blocked_of, mids, reason, sampled_along
from fabplan.setout.wish import MEND, Wish, hold, without

KEPT = 0.05  # mm off the line, and off the size, by which a hole that is there still suits the row (common practice)
LOOKS = 64  # places between two stretches at which a ply is looked for that runs through


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """A row laid.

    Attributes:
        xy: (n, 2) on the ply on which it was laid, line after line.
        line: (n,) number of the line.
        s: places of the first line along it, a stretch each.
        ends: from the first and last hole to the end of the metal, mm.
        why: what was decided, in sentences.
        closed: of a closed row, its spaces: how many, and how wide along it, mm.
    """

    xy: FloatArray
    line: IntArray
    s: tuple[FloatArray, ...]
    ends: tuple[float, float]
    why: tuple[str, ...]
    closed: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """Holes that are there already and suit: (k,) along the line, (k, 2) on the ply laid on, and those of each ply."""

    s: FloatArray
    xy: FloatArray
    own: tuple[FloatArray, ...]
    words: tuple[str, ...]


def row_along(wish: Wish, line: Line) -> Row:
    """A row of equal pitches along a line.

    Raises:
        SetoutError: no such row keeps the limits, or a stated figure breaks them.
    """
    pitch, whose = _pitch(wish)
    off, words = _offsets(wish, line, pitch)
    kept = _kept(wish, line)
    try:
        return _row_with(wish, line, (pitch, whose), (off, words), kept)
    except SetoutError:
        if not len(kept.s):
            raise
    left = tuple(xy[:0] for xy in kept.own)  # they do not suit after all, and are kept clear of
    return _row_with(wish, line, (pitch, whose), (off, words), _Kept(kept.s[:0], kept.xy[:0], left, ()))


def _row_with(
    wish: Wish, line: Line, wanted: tuple[float, str], beside: tuple[tuple[float, ...], tuple[str, ...]], kept: _Kept
) -> Row:
    """The row, with some holes that are there already as part of it."""
    (pitch, whose), (off, words) = wanted, beside
    plies = without(wish.plies, kept.own)
    own = replace(wish, plies=plies)
    sampled = sampled_along(own, line, off)
    rows = (
        _closed(own, line, sampled, pitch) if line.path.radius else tuple(_stretches(own, line, sampled, (pitch, kept)))
    )
    xy, number = _places(line.path, rows, off, wish.spec.zigzag)
    for s, place in zip(kept.s, kept.xy, strict=True):
        xy[np.linalg.norm(xy - line.path.places(np.array([s]))[0], axis=1) <= KEPT] = place
    _slanting(wish, rows, off)
    ends, nearest = (np.nan, np.nan), np.inf
    for k, some in enumerate(off):
        own_rows = [mids(row) for row in rows] if wish.spec.zigzag and k % 2 else rows
        places = partial(line.path.places, off=some)
        found = room(plies, line.on, places, (np.concatenate(own_rows), wish.limits))
        hold(found, wish.heads)
        _pitched(own, found, own_rows)
        if k == 0 and not line.path.radius:
            ends = float(found.back[0].min()), float(found.ahead[-1].min())
        nearest = min(nearest, float(found.beside.min(axis=1).max()))
    broken = beyond(wish.limits, "edge distance", nearest) if line.side == 0.0 else ""
    if broken:
        many = f"{len(off)} row{'s' if len(off) > 1 else ''}"
        what = f"the lap is too wide for {many}: {nearest:.4g} mm to its edge, {broken}"
        raise SetoutError(what, "State more `rows`, a wider `back_pitch`, or a line of your own.")
    closed = ((len(rows[0]), line.path.length / len(rows[0])),) if line.path.radius else ()
    odd = bool(closed) or len(rows) > 1 or len(runs(rows[0])) > 1
    far = wanted_end(wish.limits)[0] + pitch / 2.0  # an end hole further in stands there because of something
    around = [f"stepped around: {one}" for one in sampled.words] if odd or max(ends) > far else []
    aim = f"pitch wanted: {pitch:g} mm, {whose}"
    return Row(xy, number, tuple(rows), ends, (line.how, *words, *kept.words, aim, *around), closed)


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
    if line.path.radius and wish.spec.zigzag:
        raise SetoutError("zigzag rows round a circle", "Lay them in chain, or each as a seam of its own.")
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
    on = wish.plies[line.on]
    for ply in wish.plies:
        suited = ply.spare & (np.abs(ply.holes.diameter - ply.size) <= KEPT + FIGURE)
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


def _stretches(wish: Wish, line: Line, sampled: Sampled, given: tuple[float, _Kept]) -> Iterator[FloatArray]:
    """The stretches of a row, one on each side of an opening; (n,) places along the line each."""
    pitch, kept = given
    whole = np.all([found.off < 0 for found in sampled.rooms], axis=0)
    edges = np.nonzero(np.diff(np.concatenate([[False], whole, [False]]).astype(np.int8)))[0].reshape(-1, 2)
    if not len(edges):
        raise SetoutError(f"no hole can be along the line: {reason(sampled, 0)}", MEND)
    if line.stated and (not whole[0] or not whole[-1]):
        end = 0 if not whole[0] else len(whole) - 1
        raise SetoutError(f"the {'last' if end else 'first'} hole as stated cannot be: {reason(sampled, end)}", MEND)
    found: list[_Stretch] = []
    for first, stop in edges.tolist():
        pitches = _limits(wish, sampled, slice(first, stop), pitch)
        if sampled.s[stop - 1] - sampled.s[first] >= pitches.least - FIGURE or len(edges) == 1:
            found.append(_Stretch(*ends_of(wish, line, sampled, (first, stop), pitches), pitches))
    if not found:
        raise SetoutError("no stretch of the line is long enough for two holes", MEND)
    for one, other in pairwise(found):
        _near(wish, line, one, other)
    for own in found:
        inner = np.sort(np.concatenate([line.path.stops[1:-1], kept.s])).tolist()
        stops = [one for one in inner if own.start.low + FIGURE < one < own.end.high - FIGURE]
        yield _between(wish, sampled, own, stops)


@dataclass(slots=True)
class _Stretch:
    """A stretch of metal along the line: where its end holes may be, and the limits of its pitch."""

    start: End
    end: End
    pitches: Pitches


def _near(wish: Wish, line: Line, one: _Stretch, other: _Stretch) -> None:
    """Bring the ends of two stretches so near that a ply that runs through between them keeps the greatest pitch."""
    low, high = one.end.high, other.start.low
    s = np.linspace(low, high, LOOKS)
    met = meeting(wish.plies, line.on, line.path.places(s))
    through = [ply.name for ply, xy in zip(wish.plies, met.xy, strict=True) if metal(ply, xy).all()]
    greatest = min(one.pitches.greatest, other.pitches.greatest)
    if not through:
        return
    slack = (greatest - (high - low)) / 2.0
    if not slack >= -FIGURE:
        what = f"the row is parted by {high - low:.4g} mm, and {through[0]} runs through there: greatest pitch"
        raise SetoutError(f"{what} {wish.limits.said('pitch', 'greatest')}", MEND)
    if not one.end.fixed:
        one.end = End(max(one.end.low, low - slack), low, max(one.end.wanted, low - slack))
    if not other.start.fixed:
        other.start = End(high, min(other.start.high, high + slack), min(other.start.wanted, high + slack))


def _limits(wish: Wish, sampled: Sampled, where: slice, pitch: float) -> Pitches:
    """The limits of pitch on the ply laid on, so that they are kept on the blanks of all plies where holes may be."""
    step = np.concatenate([found.step[where] for found in sampled.rooms])
    free = ~np.concatenate([stopped[where] for stopped in sampled.blocked])
    step = step[free] if free.any() else step
    least, greatest = wish.limits.least("pitch") / step.min(), wish.limits.greatest("pitch") / step.max()
    if not least <= greatest + FIGURE:
        what = f"the plies are developed so unlike that no pitch suits all: {least:.4g} to {greatest:.4g} mm"
        raise SetoutError(what, "Drill one of them from its mate.")
    return Pitches(least, greatest, float(np.clip(pitch, least, greatest)))


def _between(wish: Wish, sampled: Sampled, own: _Stretch, stops: list[float]) -> FloatArray:
    """One stretch between its ends, through the holes that are settled between them."""
    blocked = blocked_of(sampled, wish.spec.zigzag, wish.limits)
    ends = [own.start, *(at(one) for one in stops), own.end]
    rows: list[FloatArray] = []
    for one, other in pairwise(ends):
        row = divided(one, other, own.pitches, blocked)
        if row is None:
            raise SetoutError(_none(sampled, (one, other), own.pitches), MEND)
        rows.append(row if not rows else row[1:])
    return np.concatenate(rows)


def _none(sampled: Sampled, ends: tuple[End, End], pitches: Pitches) -> str:
    """Why no division fits."""
    start, end = ends
    span = end.high - start.low
    beside = f" beside what is in the way: {'; '.join(sampled.words)}" if sampled.words else ""
    if span < pitches.least - FIGURE:
        short = f"{max(span, 0.0):.4g} mm between the ends are too short for two holes {pitches.least:.4g} mm apart"
        return short + beside
    limits = f"no whole number of spaces of {pitches.least:.4g} to {pitches.greatest:.4g} mm fits"
    return f"{limits} between {start.wanted:.4g} and {end.wanted:.4g} mm along the row{beside}"


def _closed(wish: Wish, line: Line, sampled: Sampled, pitch: float) -> tuple[FloatArray, ...]:
    """A row round a circle, its first hole where all are free."""
    for k in range(len(sampled.s)):
        if any(found.off[k] >= 0 for found in sampled.rooms):
            raise SetoutError(f"the circle cannot be closed: {reason(sampled, k)}", MEND)
    pitches = _limits(wish, sampled, slice(None), pitch)
    girth, blocked = line.path.length, blocked_of(sampled, zigzag=False, limits=wish.limits)
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
    own = [np.concatenate([mids(row) if zigzag and k % 2 else row for row in rows]) for k in range(len(off))]
    xy = np.vstack([path.places(s, some) for s, some in zip(own, off, strict=True)])
    return xy, np.repeat(np.arange(len(off)), [len(s) for s in own])


def _slanting(wish: Wish, rows: Sequence[FloatArray], off: Sequence[float]) -> None:
    """Hold the distance between holes of two zigzag lines against the limits."""
    if not wish.spec.zigzag:
        return
    apart, pitch = abs(off[1] - off[0]), min(float(np.diff(row).min()) for row in rows)
    broken = beyond(wish.limits, "diagonal", float(np.hypot(apart, pitch / 2.0)))
    if broken:
        what = f"zigzag rows {apart:.4g} mm apart with spaces of {pitch:.4g} mm break the limits: slant {broken}"
        raise SetoutError(what, "State a wider `back_pitch`, or a wider `pitch`.")


def _pitched(wish: Wish, found: Room, rows: Sequence[FloatArray]) -> None:
    """Hold the spaces on the blank of every ply against the limits; openings between stretches aside."""
    first = np.concatenate([[0], np.cumsum([len(row) for row in rows])])
    for ply, xy in zip(wish.plies, found.met.xy, strict=True):
        for low, high in pairwise(first.tolist()):
            space = np.linalg.norm(np.diff(xy[low:high], axis=0), axis=1)
            broken = next(filter(None, (beyond(wish.limits, "pitch", one) for one in space.tolist())), "")
            if broken:
                raise SetoutError(f"spaces on {ply.name} break the limits: {broken}", MEND)
