"""A pattern of points from sizes by tape: least squares over all, what they leave loose, what they contradict."""

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from fabplan.model.arrays import FloatArray, IntArray

STEPS, DONE = 60, 1e-10  # steps of the least squares at most; mm moved that end them
STIFF = 1e-9  # share of the stiffest way of moving below which a way of moving is free
PROVED = 1e-6  # share of a size that the others prove, below which they do not


@dataclass(frozen=True, slots=True, eq=False)
class Tape:
    """Sizes by tape between points.

    Attributes:
        start, end: (m,) indices of points.
        along: (m,) index of the point that the tape is stretched to, -1 for a length straight across.
        length: (m,) mm from start to end, along the tape.
        off: (m,) mm of the end to the left of the tape.
    """

    start: IntArray
    end: IntArray
    along: IntArray
    length: FloatArray
    off: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Taped:
    """The pattern that fits all sizes best.

    Attributes:
        xy: (n, 2) mm, in no particular axes.
        left: (m, 2) size less pattern: along the tape, and beside it, mm; the second 0 for a length straight across.
        proved: (m,) share of each length that the others prove, 0 to 1.
        doubt: (n,) mm that each point moves at most where sizes err by 1 mm altogether; infinite where one is loose.
        tie: the two points whose distance the sizes leave in most doubt.
    """

    xy: FloatArray
    left: FloatArray
    proved: FloatArray
    doubt: FloatArray
    tie: tuple[int, int]


def solved(tape: Tape, near: FloatArray) -> Taped:
    """The pattern, of those that fit the sizes, that lies nearest to where it is looked for.

    Sizes know no hand: a pattern and its mirror image fit alike. The start decides, so that it is never turned over.

    Args:
        tape: the sizes.
        near: (n, 2) mm, roughly where the points lie to one another; n at least 2.
    """
    xy = near.copy()
    for _ in range(STEPS):
        step = np.linalg.lstsq(_slopes(tape, xy), _left(tape, xy).T.ravel(), rcond=STIFF)[0].reshape(-1, 2)
        size = 1.0
        while size > 1e-3 and _misfit(tape, xy + size * step) > _misfit(tape, xy):
            size /= 2.0
        xy = xy + size * step
        if float(np.abs(size * step).max()) < DONE:
            break
    return _judged(tape, xy)


def _left(tape: Tape, xy: FloatArray) -> FloatArray:
    """(m, 2) size less pattern, along and beside."""
    way, straight = xy[tape.end] - xy[tape.start], tape.along < 0
    unit = _unit(tape, xy)
    along = np.where(straight, np.linalg.norm(way, axis=1), np.sum(way * unit, axis=1))
    beside = np.where(straight, tape.off, unit[:, 0] * way[:, 1] - unit[:, 1] * way[:, 0])
    return np.column_stack([tape.length - along, tape.off - beside])


def _unit(tape: Tape, xy: FloatArray) -> FloatArray:
    """(m, 2) the direction of each tape."""
    far = np.where(tape.along < 0, tape.end, tape.along)
    reach = xy[far] - xy[tape.start]
    unit: FloatArray = reach / np.maximum(np.linalg.norm(reach, axis=1, keepdims=True), 1e-12)
    return unit


def _misfit(tape: Tape, xy: FloatArray) -> float:
    return float(np.sum(_left(tape, xy) ** 2))


def _slopes(tape: Tape, xy: FloatArray) -> FloatArray:
    """(2 m, 2 n): how lengths, then places beside the tape, change with the points."""
    count, many = len(tape.start), len(xy)
    far = np.where(tape.along < 0, tape.end, tape.along)
    way, unit = xy[tape.end] - xy[tape.start], _unit(tape, xy)
    left = np.column_stack([-unit[:, 1], unit[:, 0]])
    long = np.maximum(np.linalg.norm(xy[far] - xy[tape.start], axis=1), 1e-12)
    aside, ahead = np.sum(way * left, axis=1) / long, np.sum(way * unit, axis=1) / long
    running = (tape.along >= 0).astype(np.float64)
    turned = ((running * aside)[:, None] * left, (-running * ahead)[:, None] * left)
    slopes = np.zeros((2 * count, many, 2))
    for part, (own, turn) in enumerate(zip((unit, running[:, None] * left), turned, strict=True)):
        rows = np.arange(count) + part * count
        for points, value in ((tape.end, own), (far, turn), (tape.start, -own - turn)):
            np.add.at(slopes, (rows, points), value)
    return slopes.reshape(2 * count, 2 * many)


def _judged(tape: Tape, xy: FloatArray) -> Taped:
    """The pattern with what the sizes prove and leave loose; shifts and the turn of the whole are left out."""
    slopes = _slopes(tape, xy)
    apart = xy - xy.mean(axis=0)
    rigid = np.stack([np.tile([1.0, 0.0], len(xy)), np.tile([0.0, 1.0], len(xy)), (apart[:, ::-1] * [-1, 1]).ravel()])
    inner = np.linalg.qr(rigid.T, mode="complete")[0][:, 3:]
    stiff, ways = np.linalg.eigh((slopes @ inner).T @ (slopes @ inner))
    free = ~(stiff > STIFF * float(stiff.max(initial=0.0)))
    moves = (inner @ ways).reshape(len(xy), 2, -1)
    give = np.where(free, np.inf, 1.0 / np.maximum(stiff, 1e-300))
    doubt = np.array([_reach(one, give) for one in moves])
    held = moves.reshape(2 * len(xy), -1)[:, ~free]
    used = np.einsum("ij,j,ij->i", slopes @ held, give[~free], slopes @ held)
    return Taped(xy, _left(tape, xy), 1.0 - used[: len(tape.start)], doubt, _loosest(xy, moves, give))


def _reach(moves: FloatArray, give: FloatArray) -> float:
    """How far a point (2, k ways) goes at most."""
    if bool(np.any(np.isinf(give) & (np.linalg.norm(moves, axis=0) > 1e-6))):
        return float("inf")
    own = moves[:, np.isfinite(give)]
    return float(np.sqrt(np.linalg.eigvalsh((own * give[np.isfinite(give)]) @ own.T).max()))


def _loosest(xy: FloatArray, moves: FloatArray, give: FloatArray) -> tuple[int, int]:
    """The two points whose distance is in most doubt, by the loosest way of moving."""
    one, other = np.triu_indices(len(xy), 1)
    way = xy[one] - xy[other]
    way = way / np.maximum(np.linalg.norm(way, axis=1, keepdims=True), 1e-12)
    loosest = moves[:, :, int(give.argmax())] if len(give) else np.zeros_like(xy)
    changed = np.abs(np.sum((loosest[one] - loosest[other]) * way, axis=1))
    k = int(changed.argmax())
    return int(one[k]), int(other[k])


def turned_over(tape: Tape, xy: FloatArray, within: float) -> list[FloatArray]:
    """Other patterns (n, 2) that fit the sizes as well: points on one side of a line turned over about it.

    Two points part the others where all sizes between both shares go through them: then the sizes do not say on which
    side of their line each share lies.

    Args:
        tape: the sizes.
        xy: (n, 2) the pattern that fits them.
        within: mm by which a size may be off.
    """
    far = np.where(tape.along < 0, tape.end, tape.along)
    ends = np.column_stack([np.r_[tape.start, tape.start, tape.end], np.r_[tape.end, far, far]])
    found, count = [], len(xy)
    for i, j in zip(*np.triu_indices(count, 1), strict=True):
        kept = ends[~np.any((ends == i) | (ends == j), axis=1)]
        links = coo_array((np.ones(len(kept)), (kept[:, 0], kept[:, 1])), shape=(count, count))
        many, share = connected_components(links, directed=False)
        if many <= 3:  # the two by themselves, and one share
            continue
        for one in np.unique(np.delete(share, [i, j])):
            other = xy.copy()
            other[share == one] = _over(xy[share == one], xy[i], xy[j])
            if float(np.abs(_left(tape, other)).max()) <= within:
                found.append(other)
    return found


def _over(points: FloatArray, a: FloatArray, b: FloatArray) -> FloatArray:
    """Points (n, 2) turned over about the line through a and b."""
    unit = (b - a) / max(float(np.linalg.norm(b - a)), 1e-12)
    off = points - a
    turned: FloatArray = a + 2.0 * np.outer(off @ unit, unit) - off
    return turned
