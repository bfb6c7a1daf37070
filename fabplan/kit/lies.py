"""The ways in which a run of holes of one piece may lie on a run of another, face on face."""

from collections.abc import Iterator
from itertools import product

import numpy as np

from fabplan.geom.match import lay_over
from fabplan.geom.pose import best_fit, to_outer
from fabplan.kit.contact import MEET, SIZES
from fabplan.kit.shape import Run, Shape
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

SAME = 0.6
"""Holes of two rows nearer than this, mm, are mates: near-equal pitches drift apart by more along a row."""

OFF_FACE = 100.0
"""Distance of the second point that stands for a face round a bend, mm."""


def lies(one: Shape, run: Run, two: Shape, other: Run, *, whole: bool) -> Iterator[Pose]:
    """Poses of `two` in the frame of `one` that lay its run on the run of `one`.

    Args:
        one: the piece that stands.
        run: of it.
        two: the piece that is laid on it.
        other: its run.
        whole: True for runs alike in full, False for a shorter one somewhere along a longer.
    """
    if abs(float(np.median(one.size[run.holes])) - float(np.median(two.size[other.holes]))) > SIZES:
        return
    if run.round and other.round:
        yield from (
            _round_lies(one, run, two, other, whole=whole) if not whole or len(run.holes) == len(other.holes) else ()
        )
        return
    if (len(run.holes) == len(other.holes)) != whole or run.round != other.round:
        return
    elif run.line and other.line:
        yield from _line_lies(one, run, two, other)
    elif not run.line and not other.line:
        yield from _flat_lies(one, run, two, other)
    else:
        yield from _flat_lies(one, run, two, other)


def may_lie(one: Shape, run: Run, two: Shape, other: Run) -> bool:
    """True where the spaces of two runs allow that one lies on the other, in part or in full."""
    if abs(float(np.median(one.size[run.holes])) - float(np.median(two.size[other.holes]))) > SIZES:
        return False
    if run.line and other.line:
        return bool(shifts(run.along, other.along) or shifts(run.along, -other.along))
    return run.round == other.round


def _faces(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[tuple[int, int]]:
    """Which face (0 marked, 1 back) of either piece touches."""
    for mine, theirs in product((0, 1), repeat=2):
        if one.plain[run.holes[0], mine] and two.plain[other.holes[0], theirs]:
            yield mine, theirs


def shifts(fixed: FloatArray, moving: FloatArray) -> list[tuple[float, int]]:
    """Shifts of `moving` (m,) along `fixed` (n,), mm, that bring all of the fewer together, and how many.

    >>> shifts(np.array([0.0, 40.0, 80.0]), np.array([0.0, 40.0]))
    [(0.0, 2), (40.0, 2)]
    """
    apart = np.sort((fixed[:, None] - moving[None]).ravel())
    least = max(2, min(len(fixed), len(moving)))
    first = np.searchsorted(apart, apart - SAME / 2.0)
    count = np.searchsorted(apart, apart + SAME / 2.0, side="right") - first
    found: list[tuple[float, int]] = []
    for k in np.nonzero(count >= least)[0].tolist():
        middle = float(apart[first[k] : first[k] + count[k]].mean())
        if not found or middle - found[-1][0] > SAME:
            found.append((middle, int(count[k])))
        elif count[k] > found[-1][1]:
            found[-1] = (middle, int(count[k]))
    return found


def _line_lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Pose]:
    start, way = _line(one, run)
    first, along = _line(two, other)
    out_one, out_two = one.out[run.holes[0]], two.out[other.holes[0]]
    for sign in (1.0, -1.0):
        for shift, _ in shifts(run.along, sign * other.along):
            for face_one, face_two in _faces(one, run, two, other):
                n_one, n_two = out_one * (1 - 2 * face_one), out_two * (1 - 2 * face_two)
                basis_two = np.column_stack([along, n_two, np.cross(along, n_two)])
                basis_one = np.column_stack([sign * way, -n_one, np.cross(sign * way, -n_one)])
                turn = basis_one @ basis_two.T
                depth = one.faces[run.holes[0], face_one] - one.faces[run.holes[0], 0]
                at = start + depth + shift * way
                own = first + two.faces[other.holes[0], face_two] - two.faces[other.holes[0], 0]
                yield Pose(turn, at - turn @ own)


def _line(shape: Shape, run: Run) -> tuple[FloatArray, FloatArray]:
    """Where a line of holes begins on the marked face, and the way (3,) it runs."""
    points = shape.faces[run.holes, 0]
    way = points[-1] - points[0]
    return points[0], way / np.linalg.norm(way)


def _flat_lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Pose]:
    """Patterns in a plane, laid over one another in it."""
    share = min(len(run.holes), len(other.holes)) / max(len(run.holes), len(other.holes)) - 1e-9
    for face_one, face_two in _faces(one, run, two, other):
        n_one = one.out[run.holes[0]] * (1 - 2 * face_one)
        n_two = two.out[other.holes[0]] * (1 - 2 * face_two)
        basis_one, basis_two = _basis(n_one), _basis(-n_two)
        at, own = one.faces[run.holes, face_one], two.faces[other.holes, face_two]
        for turn, shift, _ in lay_over((own @ basis_two)[:, :2], (at @ basis_one)[:, :2], MEET, share):
            plane = np.eye(3)
            plane[:2, :2] = turn
            height = float(at[0] @ n_one) + float(own[0] @ n_two)
            yield Pose(basis_one @ plane @ basis_two.T, basis_one @ np.array([*shift, height]))


def _round_lies(one: Shape, run: Run, two: Shape, other: Run, *, whole: bool) -> Iterator[Pose]:
    """Runs round a bend: hole on hole in order, forwards and back, at least half of the fewer together."""
    n, m = len(run.holes), len(other.holes)
    least = min(n, m) if n == m and whole else max(3, min(n, m) // 2)
    for face_one, face_two in _faces(one, run, two, other):
        at, own = one.faces[run.holes, face_one], two.faces[other.holes, face_two]
        n_one, n_two = one.out[run.holes] * (1 - 2 * face_one), two.out[other.holes] * (1 - 2 * face_two)
        for start, way in product(range(least - m, n - least + 1), (1, -1)):
            mine = np.arange(max(0, start), min(n, start + m))
            theirs = (mine - start) if way > 0 else (m - 1 - (mine - start))
            ends = [0, len(mine) // 2, len(mine) - 1]
            if not _spaced_alike(at[mine[ends]], own[theirs[ends]]):
                continue
            to = np.vstack([at[mine], at[mine] + OFF_FACE * n_one[mine]])
            by = np.vstack([own[theirs], own[theirs] - OFF_FACE * n_two[theirs]])
            pose = best_fit(by, to)
            if np.linalg.norm(to_outer(pose, by) - to, axis=1)[: len(mine)].max() <= SAME:
                yield pose


def _spaced_alike(one: FloatArray, two: FloatArray) -> bool:
    """True where three points are as far from one another as three others."""
    off = [np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1) for points in (one, two)]
    return bool(np.abs(off[0] - off[1]).max() <= 2.0 * MEET)


def _basis(normal: FloatArray) -> FloatArray:
    """A right-handed frame (3, 3) whose third column is `normal`."""
    helper = np.eye(3)[int(np.abs(normal).argmin())]
    first = np.cross(helper, normal)
    first /= np.linalg.norm(first)
    return np.column_stack([first, np.cross(normal, first), normal])
