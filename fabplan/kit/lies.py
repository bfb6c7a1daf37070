"""The ways in which a run of holes of one piece may lie on a run of another, face on face."""

from collections.abc import Iterator
from itertools import product

import numpy as np

from fabplan.geom.match import lay_over
from fabplan.geom.pose import best_fit, to_outer
from fabplan.geom.round import circle_through
from fabplan.kit.contact import MEET, SIZES, Lies
from fabplan.kit.shape import Run, Shape
from fabplan.model.arrays import BoolArray, FloatArray

SAME = 0.6
"""Holes of two rows nearer than this, mm, are mates: near-equal pitches drift apart by more along a row."""

OFF_FACE = 100.0
"""Distance of the second point that stands for a face round a bend, mm."""

BENT = 10.0
"""By how much such points of two rounds that lie on one another differ at most, mm: 5 degrees between facets."""

LEAST = 3
"""Holes round a bend that tell how a piece lies: by two it would lie too loosely."""


def all_lies(one: Shape, two: Shape) -> Lies:
    """Poses of `two` in the frame of `one` that lay a run of either whole on a run of the other; some more than once.

    Args:
        one: the piece that stands.
        two: the piece that is laid on it.
    """
    runs = product(laid(one), laid(two))
    parts = product(_parts(one), _parts(two))
    found = [
        lies
        for run, other in (*runs, *(pair for pair in parts if len(pair[0].holes) == len(pair[1].holes)))
        if abs(float(np.median(one.size[run.holes])) - float(np.median(two.size[other.holes]))) <= SIZES
        for lies in _lies(one, run, two, other)
    ]
    if not found:
        return Lies(np.zeros((0, 3, 3)), np.zeros((0, 3)))
    return Lies(np.vstack([lies.rotation for lies in found]), np.vstack([lies.origin for lies in found]))


def laid(shape: Shape) -> list[Run]:
    """Runs by which a piece is laid: of a plate those without a name only where they hold a hole that has none.

    Rows of a plate are named as they are riveted; those of a bar by its back marks, be they of one seam or of several.
    """
    if shape.part.section is not None:
        return list(shape.runs)
    named = {hole for run in shape.runs if run.row for hole in run.holes.tolist()}
    return [run for run in shape.runs if run.row or not named.issuperset(run.holes.tolist())]


def _parts(shape: Shape) -> list[Run]:
    """Lengths of rows that go on beyond wider spaces: two rows in line that were taken for one may meet in one of them.

    Such lie on lengths of as many holes alone: shorter ones would lie anywhere on longer ones.
    """
    return [part for run in laid(shape) for part in run.parts() if LEAST <= len(part.holes) < len(run.holes)]


def _lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Lies]:
    if run.round and other.round:
        yield from _round_lies(one, run, two, other)
    elif run.line and other.line:
        yield from _line_lies(one, run, two, other)
    elif run.radius and other.radius:
        if abs(run.radius - other.radius) <= MEET:
            yield from _circle_lies(one, run, two, other)
    elif not (run.round or other.round or (run.radius and other.line) or (other.radius and run.line)):
        yield from _flat_lies(one, run, two, other)


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


def _line_lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Lies]:
    start, way = _line(one, run)
    first, along = _line(two, other)
    out_one, out_two = one.out[run.holes[0]], two.out[other.holes[0]]
    for sign in (1.0, -1.0):
        places = np.array([shift for shift, _ in shifts(run.along, sign * other.along)])
        if not len(places):
            continue
        for face_one, face_two in _faces(one, run, two, other):
            n_one, n_two = out_one * (1 - 2 * face_one), out_two * (1 - 2 * face_two)
            basis_two = np.column_stack([along, n_two, np.cross(along, n_two)])
            basis_one = np.column_stack([sign * way, -n_one, np.cross(sign * way, -n_one)])
            turn = basis_one @ basis_two.T
            depth = one.faces[run.holes[0], face_one] - one.faces[run.holes[0], 0]
            own = first + two.faces[other.holes[0], face_two] - two.faces[other.holes[0], 0]
            origin = start + depth - turn @ own + np.outer(places, way)
            yield Lies(np.repeat(turn[None], len(places), axis=0), origin)


def _line(shape: Shape, run: Run) -> tuple[FloatArray, FloatArray]:
    """Where a line of holes begins on the marked face, and the way (3,) it runs."""
    points = shape.faces[run.holes, 0]
    way = points[-1] - points[0]
    return points[0], way / np.linalg.norm(way)


def _flat_lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Lies]:
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
            yield Lies((basis_one @ plane @ basis_two.T)[None], (basis_one @ np.array([*shift, height]))[None])


def _circle_lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Lies]:
    """Rows in a circle, turned about its middle until all holes of the fewer lie on holes of the other."""
    least, reach = min(len(run.holes), len(other.holes)), SAME / run.radius
    for face_one, face_two in _faces(one, run, two, other):
        n_one = one.out[run.holes[0]] * (1 - 2 * face_one)
        n_two = two.out[other.holes[0]] * (1 - 2 * face_two)
        basis_one, basis_two = _basis(n_one), _basis(-n_two)
        at, own = one.faces[run.holes, face_one] @ basis_one, two.faces[other.holes, face_two] @ basis_two
        (middle, there), (start, here) = _from_middle(at), _from_middle(own)
        apart = np.sort(np.mod((there[:, None] - here[None]).ravel(), 2.0 * np.pi))
        apart = np.append(apart, apart[apart < reach] + 2.0 * np.pi)
        first = np.searchsorted(apart, apart - reach / 2.0)
        last = np.searchsorted(apart, apart + reach / 2.0, side="right")
        spans = {(int(a), int(b)) for a, b in zip(first, last, strict=True) if b - a >= least}
        for angle in sorted(float(apart[a:b].mean()) for a, b in spans):
            turn = np.array(
                [[np.cos(angle), -np.sin(angle), 0.0], [np.sin(angle), np.cos(angle), 0.0], [0.0, 0.0, 1.0]]
            )
            yield Lies((basis_one @ turn @ basis_two.T)[None], (basis_one @ (middle - turn @ start))[None])


def _from_middle(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The middle (3,) of the circle through points (n, 3) of one level, and the directions (n,) of these from it."""
    centre, _ = circle_through(points[:, :2])
    away = points[:, :2] - centre
    return np.append(centre, points[0, 2]), np.arctan2(away[:, 1], away[:, 0])


def _round_lies(one: Shape, run: Run, two: Shape, other: Run) -> Iterator[Lies]:
    """Runs round a bend: hole on hole in order, forwards and back, as where a ring passes the joint of its shell."""
    n, m = len(run.holes), len(other.holes)
    start = np.arange(LEAST - m, n - LEAST + 1)
    first, last = np.maximum(start, 0), np.minimum(start + m, n) - 1
    ends = np.stack([first, (first + last + 1) // 2, last], axis=1)
    for face_one, face_two in _faces(one, run, two, other):
        at, own = one.faces[run.holes, face_one], two.faces[other.holes, face_two]
        n_one, n_two = one.out[run.holes] * (1 - 2 * face_one), two.out[other.holes] * (1 - 2 * face_two)
        out, against = at + OFF_FACE * n_one, own - OFF_FACE * n_two
        for way in (1, -1):
            theirs = ends - start[:, None] if way > 0 else m - 1 - (ends - start[:, None])
            alike = _spaced_alike(at[ends], own[theirs]) & _spaced_alike(out[ends], against[theirs], BENT)
            for k in np.nonzero(alike)[0].tolist():
                mine = np.arange(first[k], last[k] + 1)
                his = (mine - start[k]) if way > 0 else (m - 1 - (mine - start[k]))
                pose = best_fit(np.vstack([own[his], against[his]]), np.vstack([at[mine], out[mine]]))
                if np.linalg.norm(to_outer(pose, own[his]) - at[mine], axis=1).max() <= SAME:
                    yield Lies(pose.rotation[None], pose.origin[None])


def _spaced_alike(one: FloatArray, two: FloatArray, slack: float = 2.0 * MEET) -> BoolArray:
    """(n,) True where three points (n, 3, 3) are as far from one another as three others."""
    off = [np.linalg.norm(points - np.roll(points, 1, axis=1), axis=2) for points in (one, two)]
    return np.asarray(np.abs(off[0] - off[1]).max(axis=1) <= slack)


def _basis(normal: FloatArray) -> FloatArray:
    """A right-handed frame (3, 3) whose third column is `normal`."""
    helper = np.eye(3)[int(np.abs(normal).argmin())]
    first = np.cross(helper, normal)
    first /= np.linalg.norm(first)
    return np.column_stack([first, np.cross(normal, first), normal])
