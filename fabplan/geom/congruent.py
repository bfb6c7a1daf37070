"""Whether two pieces of metal are the same, wherever they lie: turns that may bring one onto the other, and proof."""

from collections.abc import Iterator
from itertools import product

import numpy as np
import shapely

from fabplan.geom.pose import compose, inverse, to_outer
from fabplan.geom.prism import Solid
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

SAME = 0.3
"""Places and edges nearer than this, mm, are the same: drawn sizes are rounded to 0.1 mm, in inches to less."""

SIZED = 0.05
"""Diameters of holes that differ by no more, mm, are one size: by as much as one that is drawn rounded."""

ALIKE = 1e-3
"""Share by which two spreads differ at most that count as one, so that the piece may be turned about their axis."""

MOST = 240  # turns about one axis that are tried


def motions(one: FloatArray, two: FloatArray, marks_one: FloatArray, marks_two: FloatArray) -> Iterator[Pose]:
    """Turns and shifts that may carry one piece onto another, by the spread of their points.

    Args:
        one: (n, 3) corners of one piece, mm.
        two: (m, 3) of the other.
        marks_one: (k, 3) places that must fall on places of the other, such as holes; where the spread leaves the turn
            about an axis free, they tell it.
        marks_two: (k, 3) those places.
    """
    middle_one, middle_two = one.mean(axis=0), two.mean(axis=0)
    spread_one, axes_one = np.linalg.eigh(np.cov((one - middle_one).T))
    spread_two, axes_two = np.linalg.eigh(np.cov((two - middle_two).T))
    scale = float(spread_one[2]) + 1e-9
    if np.abs(spread_one - spread_two).max() > 10.0 * ALIKE * scale:
        return
    alike = [spread_one[k + 1] - spread_one[k] <= 10.0 * ALIKE * spread_one[k + 1] for k in (0, 1)]
    if any(alike):
        lone = 2 if alike[0] else 0
        turns = _about(axes_one[:, lone], axes_two[:, lone], marks_one - middle_one, marks_two - middle_two)
    else:
        turns = _square(axes_one, axes_two)
    for turn in turns:
        yield Pose(turn, middle_two - turn @ middle_one)


def _square(one: FloatArray, two: FloatArray) -> Iterator[FloatArray]:
    for first, second in product((1.0, -1.0), repeat=2):
        basis = two * [first, second, 1.0]
        basis[:, 2] *= np.linalg.det(basis) * np.linalg.det(one)
        yield basis @ one.T


def _about(one: FloatArray, two: FloatArray, marks_one: FloatArray, marks_two: FloatArray) -> Iterator[FloatArray]:
    """Turns that carry one axis onto another, either way up, and the outermost mark onto one as far out."""
    if not len(marks_one):
        return
    out = np.linalg.norm(marks_one - np.outer(marks_one @ one, one), axis=1)
    first = marks_one[int(np.round(out, 2).argmax())]
    if not out.max() > SAME:
        return
    for sign in (1.0, -1.0):
        axis = sign * two
        height, far = float(first @ one), float(out.max())
        off = np.abs(marks_two @ axis - height) <= SAME
        off &= np.abs(np.linalg.norm(marks_two - np.outer(marks_two @ axis, axis), axis=1) - far) <= SAME
        for mark in marks_two[off][:MOST]:
            yield _frame(axis, mark) @ _frame(one, first).T


def _frame(axis: FloatArray, towards: FloatArray) -> FloatArray:
    side = towards - (towards @ axis) * axis
    side = side / np.linalg.norm(side)
    return np.column_stack([side, np.cross(axis, side), axis])


def same_metal(one: tuple[Solid, ...], pose: Pose, two: tuple[Solid, ...]) -> bool:
    """True where the panels of one piece, moved by `pose`, are those of another, edge on edge."""
    if len(one) != len(two):
        return False
    middles = np.array([solid.middle for solid in two])
    left = set(range(len(two)))
    for solid in one:
        near = int(np.linalg.norm(middles - to_outer(pose, solid.middle), axis=1).argmin())
        if near not in left or not _on(solid, pose, two[near]):
            return False
        left.remove(near)
    return True


def _on(one: Solid, pose: Pose, two: Solid) -> bool:
    if abs(one.thickness - two.thickness) > SAME or abs(one.volume - two.volume) > 0.02 * two.volume + 1.0:
        return False
    if np.linalg.norm(to_outer(pose, one.middle) - two.middle) > SAME:
        return False
    seen = compose(inverse(two.frame), compose(pose, one.frame))
    if abs(seen.rotation[2, 2]) < 1.0 - 1e-4:
        return False
    ring = np.asarray(one.face.exterior.coords)
    flat = to_outer(seen, np.column_stack([ring, np.zeros(len(ring))]))[:, :2]
    holes = [
        to_outer(seen, np.column_stack([np.asarray(hole.coords), np.zeros(len(hole.coords))]))[:, :2]
        for hole in one.face.interiors
    ]
    moved = shapely.Polygon(flat, holes)
    return bool(shapely.hausdorff_distance(moved.boundary, two.face.boundary) <= SAME)


def same_holes(one: FloatArray, two: FloatArray, pose: Pose, sizes_one: FloatArray, sizes_two: FloatArray) -> bool:
    """True where places (n, 3) moved by `pose` are places (n, 3), each one of its own, with a hole of its size.

    Args:
        one: of holes of one piece, mm.
        two: of those of the other.
        pose: moves the first.
        sizes_one: (n,) diameters of the holes, mm.
        sizes_two: (n,) of those of the other.
    """
    if len(one) != len(two):
        return False
    if not len(one):
        return True
    apart = np.linalg.norm(to_outer(pose, one)[:, None] - two[None], axis=2)
    nearest = apart.argmin(axis=1)
    sized = np.abs(sizes_one - sizes_two[nearest]).max() <= SIZED
    return bool(apart.min(axis=1).max() <= SAME and sized) and len(np.unique(nearest)) == len(two)
