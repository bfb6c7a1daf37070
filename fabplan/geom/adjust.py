"""All poses at once: one least squares over every mated hole and every pair of faces.

An adjustment as of a surveyor's net. Each pair of mated holes gives five residuals: two across the axis, which a
strayed hole must not rule, so that they weigh less the further it strays; and the gap between the faces and the two
tilts of one face on the other, which weigh by themselves, since bolts draw faces together and holes do not. Where
nothing holds a pose in some way, it stays as it is.

Sources: Gauss and Newton's method; weights of Beaton and Tukey (Technometrics 16, 1974, 147), closed from wide to
narrow so that the holes that agree find one another before those that do not lose their say (graduated non-convexity,
Blake and Zisserman, Visual Reconstruction, 1987).
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy import sparse
from scipy.sparse.linalg import splu

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

ARM = 100.0
"""Distance off its face, mm, at which a tilt counts as an offset: a row alone leaves the turn about itself free."""

FACE = 10.0
"""How many times as much as a hole a face weighs: plates bolted up lie flat, whatever their holes do."""

INTO = 3.0
"""How many times as much as faces apart those count that lie in one another, where two ends are compared."""

WIDTHS = (12.0, 6.0, 3.0, 1.5, 0.6)
"""Offsets, mm, from which a hole has no say, from the first look to the last: about the clearance of a rivet."""

APART = 0.6
"""Gap, mm, from which a face has no say in the last look: a wrong thickness holds it apart."""

STILL = 1e-7
"""Movement, mm, under which nothing moves any more."""

TURNS, GLANCE = 60, 8
"""Steps at most of the last width, and of a trial."""

ASTRAY = 0.3
"""Offset of a row, mm, that asks whether another row is to blame: half of what the holes allow."""

SUSPECTS, ROUNDS = 12, 4
"""Seams left out in turn, those first that disagree most; and how many may be out at once."""


@dataclass(frozen=True, slots=True, eq=False)
class Mated:
    """k pairs of holes on faces that should touch, each end in the frame of its own piece.

    Attributes:
        row: (k,) number of the row of pairs that each is of, rising: a row joins the same two pieces, and is out as
            a whole.
        a, b: (k,) numbers of the two pieces.
        at_a, at_b: (k, 3) centres on the faces, mm.
        out_a, out_b: (k, 3) outward normals of the faces.
        worth: (k,) what a millimetre across the axis counts, 1 for holes cut to size, less where opening mends more.
    """

    row: IntArray
    a: IntArray
    b: IntArray
    at_a: FloatArray
    at_b: FloatArray
    out_a: FloatArray
    out_b: FloatArray
    worth: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Poses:
    """n poses: turns (n, 3, 3) and origins (n, 3), mm."""

    turn: FloatArray
    origin: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Misses:
    """Residuals of pairs, mm, b as seen from a, in the frame around.

    Attributes:
        across: (k, 2) across the axis, in two directions of the face of a.
        gap: (k,) between the faces, negative where they overlap.
        tilt: (k, 2) of the face of b on that of a, as an offset at `ARM`.
    """

    across: FloatArray
    gap: FloatArray
    tilt: FloatArray


def misses(poses: Poses, mated: Mated) -> Misses:
    """How far mated holes and faces are from meeting."""
    off, out_a, out_b, sides = _seen(poses, mated)
    return Misses(
        np.einsum("kij,kj->ki", sides, off),
        np.einsum("kj,kj->k", off, out_a),
        ARM * np.einsum("kij,kj->ki", sides, out_a + out_b),
    )


def adjusted(poses: Poses, mated: Mated, fixed: BoolArray, *, doubt: bool = True) -> Poses:
    """The poses that bring all pairs nearest to meeting, from poses near them.

    Tried from as they are, so that a gap that nothing can close stays where it is and is not shared out; with all
    widths, so that a row that is out is found by the others; and, where rows stay out, with one row after the other
    left out, since a long row that is wrong may outweigh the short ones that are right. The best end is taken.

    Args:
        poses: where to start: within about a pitch of the truth.
        mated: the pairs.
        fixed: (n,) True for poses that stay.
        doubt: False leaves no row out.
    """
    net = _Net(mated, fixed, np.ones(len(mated.a)))
    best = min((_descended(net, poses, widths) for widths in (WIDTHS[-1:], WIDTHS)), key=lambda end: _rank(net, end))
    for _ in range(ROUNDS if doubt else 0):
        if not _astray(best, mated):
            break
        common = _descended(net, poses, WIDTHS[:1])
        trials = [_without(net, row, common) for row in _suspects(net, common)]
        less, end = min(trials, key=lambda trial: _rank(net, trial[1]), default=(net, best))
        if _rank(net, end) >= _rank(net, best):
            break
        net, best = less, _descended(replace(net, say=np.ones_like(net.say)), end, WIDTHS[-1:])
    return best


@dataclass(frozen=True, slots=True, eq=False)
class _Net:
    """The pairs, the poses that stay (n,), and the say (k,) of each pair: 0 for those left out."""

    mated: Mated
    fixed: BoolArray
    say: FloatArray


def _rank(net: _Net, poses: Poses) -> float:
    return round(cost(poses, net.mated), 9)


def _astray(poses: Poses, mated: Mated) -> bool:
    """True where a row of holes or faces is out by `ASTRAY` on the whole."""
    hole, face = _squares(misses(poses, mated), mated.worth)
    count = np.maximum(np.bincount(mated.row), 1)
    mean = [np.bincount(mated.row, weights=np.sqrt(square)) / count for square in (hole, face)]
    return bool(np.max(mean, initial=0.0) > ASTRAY)


def _suspects(net: _Net, poses: Poses) -> list[int]:
    """The rows that disagree most with all others, the worst first."""
    hole, face = _squares(misses(poses, net.mated), net.mated.worth)
    total = np.bincount(net.mated.row, weights=net.say * (hole + FACE * face))
    return [row for row in np.argsort(-total, kind="stable")[:SUSPECTS].tolist() if total[row] > 0.0]


def _without(net: _Net, row: int, poses: Poses) -> tuple[_Net, Poses]:
    """The net with one row left out, and where the whole comes to rest from there."""
    less = replace(net, say=np.where(net.mated.row == row, 0.0, net.say))
    whole = replace(net, say=np.ones_like(net.say))
    return less, _descended(whole, _descended(less, poses, WIDTHS[:-1]), WIDTHS[-1:], GLANCE)


def _descended(net: _Net, poses: Poses, widths: tuple[float, ...], turns: int = TURNS) -> Poses:
    for width in widths:
        for _ in range(turns if width == WIDTHS[-1] else 2):
            step, centre = _step(net, poses, width)
            poses = _moved(poses, step, centre)
            if np.abs(step).max(initial=0.0) <= STILL:
                break
    return poses


def cost(poses: Poses, mated: Mated) -> float:
    """What the least squares makes least, mm2: a sixth of the width squared a hole at most, `FACE` times that a face.

    Metal does not pass through metal, so that faces which lie in one another count `INTO` times as much.
    """
    seen = misses(poses, mated)
    hole, face = _squares(seen, mated.worth)
    into = np.where(seen.gap < -APART, INTO, 1.0)
    return float(np.sum(_lost(hole, WIDTHS[-1])) + FACE * np.sum(into * _lost(face, APART)))


def _squares(seen: Misses, worth: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far holes (k,), each by its worth (k,), and faces (k,) are from meeting, squared, mm2."""
    return worth**2 * np.sum(seen.across**2, axis=1), seen.gap**2 + np.sum(seen.tilt**2, axis=1)


def _lost(square: FloatArray, width: float) -> FloatArray:
    """Tukey's loss (k,), mm2, of squared offsets (k,)."""
    return np.asarray(width**2 / 6.0 * (1.0 - np.maximum(1.0 - square / width**2, 0.0) ** 3))


def _seen(poses: Poses, mated: Mated) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Offsets b less a (k, 3), both normals (k, 3), and two directions (k, 2, 3) in the face of a."""
    turn_a, turn_b = poses.turn[mated.a], poses.turn[mated.b]
    at_a = np.einsum("kij,kj->ki", turn_a, mated.at_a) + poses.origin[mated.a]
    at_b = np.einsum("kij,kj->ki", turn_b, mated.at_b) + poses.origin[mated.b]
    out_a, out_b = np.einsum("kij,kj->ki", turn_a, mated.out_a), np.einsum("kij,kj->ki", turn_b, mated.out_b)
    level = np.eye(3)[np.abs(out_a).argmin(axis=1)]
    first = np.cross(level, out_a)
    first /= np.linalg.norm(first, axis=1)[:, None]
    return at_b - at_a, out_a, out_b, np.stack([first, np.cross(out_a, first)], axis=1)


def _step(net: _Net, poses: Poses, width: float) -> tuple[FloatArray, FloatArray]:
    """Turns and shifts (n, 6) of one step of Gauss and Newton, each about the middle (n, 3) of a piece's own holes."""
    system, free, right, centre = _system(net, poses, width)
    step = np.zeros((len(net.fixed), 6))
    if len(free):
        stiff = max(float(system.diagonal().max()), 1.0)  # nothing may have a say from where the pieces stand
        held = system + 1e-12 * stiff * sparse.eye(system.shape[0], format="csc")
        step[free] = splu(held.tocsc()).solve(right).reshape(-1, 6)
    return step, centre


def _system(net: _Net, poses: Poses, width: float) -> tuple[sparse.csc_matrix, IntArray, FloatArray, FloatArray]:
    """Normal equations of the free poses: matrix (6 m, 6 m), their numbers (m,), right side (6 m,), middles (n, 3)."""
    mated = net.mated
    _, out_a, out_b, sides = _seen(poses, mated)
    centre, arms = _arms(poses, mated)
    seen = misses(poses, mated)
    residual = np.concatenate([seen.across, seen.gap[:, None], seen.tilt], axis=1)
    lines = np.concatenate([sides, out_a[:, None, :]], axis=1)
    slopes = []
    for arm, out, sign in ((arms[0], out_a, -1.0), (arms[1], out_b, 1.0)):
        place = np.concatenate([np.cross(arm[:, None, :], lines), lines], axis=2) * sign
        tilt = ARM * np.concatenate([np.cross(out[:, None, :], sides), np.zeros_like(sides)], axis=2)
        slopes.append(np.concatenate([place, tilt], axis=1))
    slope = np.concatenate(slopes, axis=2)
    weight = net.say[:, None] * _weights(seen, mated.worth, width)
    weighed = slope * weight[:, :, None]
    first = np.nonzero(np.diff(mated.row, prepend=-1))[0]
    blocks = np.add.reduceat(np.swapaxes(weighed, 1, 2) @ slope, first)
    pulls = -np.add.reduceat(np.einsum("kri,kr->ki", weighed, residual), first)
    return *_assembled(blocks, pulls, (mated.a[first], mated.b[first]), net.fixed), centre


def _arms(poses: Poses, mated: Mated) -> tuple[FloatArray, tuple[FloatArray, FloatArray]]:
    """The middle (n, 3) of each piece's own holes, and the arms (k, 3) from there to each end of the pairs."""
    at_a = np.einsum("kij,kj->ki", poses.turn[mated.a], mated.at_a) + poses.origin[mated.a]
    at_b = np.einsum("kij,kj->ki", poses.turn[mated.b], mated.at_b) + poses.origin[mated.b]
    total, count = np.zeros_like(poses.origin), np.zeros(len(poses.origin))
    for piece, at in ((mated.a, at_a), (mated.b, at_b)):
        np.add.at(total, piece, at)
        np.add.at(count, piece, 1.0)
    centre = np.where(count[:, None] > 0.0, total / np.maximum(count, 1.0)[:, None], poses.origin)
    return centre, (at_a - centre[mated.a], at_b - centre[mated.b])


def _weights(seen: Misses, worth: FloatArray, width: float) -> FloatArray:
    """(k, 5) weights of the residuals of each pair."""
    hole, face = _squares(seen, worth)
    own = worth**2 * np.maximum(1.0 - hole / width**2, 0.0) ** 2
    flat = FACE * np.maximum(1.0 - face / max(width, APART) ** 2, 0.0) ** 2
    return np.column_stack([own, own, flat, flat, flat])


def _assembled(
    blocks: FloatArray, pulls: FloatArray, ends: tuple[IntArray, IntArray], fixed: BoolArray
) -> tuple[sparse.csc_matrix, IntArray, FloatArray]:
    """Blocks (r, 12, 12) and pulls (r, 12) of rows of pairs, summed over the free poses."""
    free = np.nonzero(~fixed)[0]
    slot = np.full(len(fixed), -1)
    slot[free] = np.arange(len(free))
    size = 6 * len(free)
    where = np.concatenate([6 * slot[end][:, None] + np.arange(6) for end in ends], axis=1)
    held = np.repeat(np.stack([slot[end] >= 0 for end in ends], axis=1), 6, axis=1)
    right = np.zeros(size)
    np.add.at(right, where[held], pulls[held])
    both = held[:, :, None] & held[:, None, :]
    row, column = np.broadcast_arrays(where[:, :, None], where[:, None, :])
    system = sparse.coo_matrix((blocks[both], (row[both], column[both])), shape=(size, size)).tocsc()
    return system, free, right


def _moved(poses: Poses, step: FloatArray, centre: FloatArray) -> Poses:
    """The poses turned about the middles and shifted; turns stay turns (Rodrigues)."""
    angle = np.linalg.norm(step[:, :3], axis=1)
    axis = step[:, :3] / np.where(angle > 0.0, angle, 1.0)[:, None]
    cross = np.zeros((len(step), 3, 3))
    cross[:, 0, 1], cross[:, 0, 2], cross[:, 1, 2] = -axis[:, 2], axis[:, 1], -axis[:, 0]
    cross -= np.swapaxes(cross, 1, 2)
    sine, cosine = np.sin(angle)[:, None, None], np.cos(angle)[:, None, None]
    turn = np.eye(3) + sine * cross + (1.0 - cosine) * (cross @ cross)
    origin = np.einsum("nij,nj->ni", turn, poses.origin - centre) + centre + step[:, 3:]
    return Poses(turn @ poses.turn, origin)
