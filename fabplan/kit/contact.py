"""Two pieces in given places: which of their holes meet, which lie against blind metal, whether metal meets metal."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.blocks import meeting, stay_clear
from fabplan.geom.match import near
from fabplan.geom.prism import clash, contains
from fabplan.geom.tolerance import TOUCH
from fabplan.kit.shape import Shape
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.pose import Pose

MEET = 1.0
"""Holes whose axes lie closer than this, mm, are mates: well over any clearance, well under a pitch."""

FACING = 0.995
"""Cosine of 5.7 degrees: as square as two faces of a round drawn in facets may be to one another."""

DEEP = 1.0
"""Depth, mm, by which pieces run into one another in earnest: more than facets leave the round they stand for."""

SIZES = 1.0
"""Diameters of holes that meet differ by no more, mm: a smaller one is opened to suit (common practice)."""

AT_ONCE = 400_000
"""Pairs of holes, or of panels, looked at together: some 30 MB."""


MORE = 4
"""Times as many pairs of panels of a place are held against one another, once those before were clear."""


@dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """What two pieces do to one another.

    Attributes:
        one, two: (k,) indices of the holes of either that meet.
        blind: True where a hole of either lies against metal of the other where it has none.
        fouls: True where metal runs into metal.
    """

    one: IntArray
    two: IntArray
    blind: bool
    fouls: bool

    @property
    def sound(self) -> bool:
        """True where nothing speaks against it."""
        return not self.fouls and not self.blind


@dataclass(frozen=True, slots=True, eq=False)
class Lies:
    """Poses of one piece in the frame of another: `rotation` (p, 3, 3), `origin` (p, 3) mm."""

    rotation: FloatArray
    origin: FloatArray

    def __len__(self) -> int:
        """How many."""
        return len(self.origin)

    def some(self, index: IntArray | slice) -> "Lies":
        """Some of them."""
        return Lies(self.rotation[index], self.origin[index])

    def back(self) -> "Lies":
        """The same as the second piece sees the first."""
        turn = self.rotation.transpose(0, 2, 1)
        return Lies(turn, -(turn @ self.origin[:, :, None])[:, :, 0])

    def pose(self, number: int) -> Pose:
        """One of them."""
        return Pose(self.rotation[number], self.origin[number])


_NONE = np.zeros(0, dtype=np.int64)
APART = Contact(_NONE, _NONE, blind=False, fouls=False)
FOUL = Contact(_NONE, _NONE, blind=False, fouls=True)


def contact(one: Shape, two: Shape, lie: Pose) -> Contact:
    """What `two`, whose frame has the pose `lie` in the frame of `one`, does to it."""
    return contacts(one, two, Lies(lie.rotation[None], lie.origin[None]))[0]


def contacts(one: Shape, two: Shape, lies: Lies) -> list[Contact]:
    """What `two` does to `one` in each of some places; where it fouls it, nothing else is told."""
    each = max(len(one) * len(two), len(one.solids) * len(two.solids), 1)
    step = max(1, AT_ONCE // each)
    found: list[Contact] = []
    for start in range(0, len(lies), step):
        found += _at_once(one, two, lies.some(slice(start, start + step)))
    return found


def _at_once(one: Shape, two: Shape, lies: Lies) -> list[Contact]:
    depth = _depth(one, two)
    meet = meeting(one.blocks, two.blocks, lies.rotation, lies.origin, depth)
    surely = one.blocks.filled[meet[:, 1]] & two.blocks.filled[meet[:, 2]]
    fouls = np.zeros(len(lies), dtype=np.bool_)
    fouls[meet[surely, 0]] = True
    mates = _mates(one, two, lies)
    blind = np.zeros(len(lies), dtype=np.bool_)
    blind |= _bare(one, two, lies, fouls, mates[:, [0, 2]])
    blind |= _bare(two, one, lies.back(), fouls | blind, mates[:, [0, 1]])
    fouls |= _cross(one, two, lies, meet[~(fouls | blind)[meet[:, 0]]], depth)
    bounds = np.searchsorted(mates[:, 0], np.arange(len(lies) + 1))
    return [
        Contact(mates[low:high, 1], mates[low:high, 2], bool(blind[p]), bool(fouls[p])) if not fouls[p] else FOUL
        for p, (low, high) in enumerate(zip(bounds[:-1].tolist(), bounds[1:].tolist(), strict=True))
    ]


def _depth(one: Shape, two: Shape) -> float:
    """By how much two pieces run into one another in earnest, mm: never more than half of a thin sheet."""
    return min(DEEP, *(solid.thickness / 2.0 for solid in (*one.solids, *two.solids)))


def _cross(one: Shape, two: Shape, lies: Lies, meet: IntArray, depth: float) -> BoolArray:
    """(p,) True where panels run into one another whose blocks do, (n, 3) in order of places; few at first of each."""
    fouls, many = np.zeros(len(lies), dtype=np.bool_), 1
    while len(meet):
        now = np.arange(len(meet)) - np.searchsorted(meet[:, 0], meet[:, 0]) < many
        for place, i, k in _maybe(one, two, lies, meet[now], depth).tolist():
            if not fouls[place]:
                fouls[place] = clash(one.solids[i], Pose(), two.solids[k], lies.pose(place), depth)
        meet, many = meet[~now & ~fouls[meet[:, 0]]], MORE * many
    return fouls


def _maybe(one: Shape, two: Shape, lies: Lies, meet: IntArray, depth: float) -> IntArray:
    """Those of some places and panels (n, 3) of which neither lies beyond one side of the other's block."""
    for a, b, i, k, own in ((one, two, 1, 2, lies), (two, one, 2, 1, lies.back())):
        own = own.some(meet[:, 0])
        meet = meet[~stay_clear(a.blocks, meet[:, i], b.blocks, meet[:, k], own.rotation, own.origin, depth)]
    return meet


def _mates(one: Shape, two: Shape, lies: Lies) -> IntArray:
    """Holes that lie on one another, face to face: (n, 3) place, hole of one, hole of two, in order."""
    if not len(one) or not len(two):
        return np.zeros((0, 3), dtype=np.int64)
    fixed = one.faces.reshape(-1, 3)
    moved = two.faces.reshape(-1, 3) @ lies.rotation.transpose(0, 2, 1) + lies.origin[:, None]
    row, a = near(fixed, moved.reshape(-1, 3), float(np.hypot(MEET, TOUCH)))
    place, b = row // moved.shape[1], row % moved.shape[1]
    off = moved[place, b] - fixed[a]
    i, k, j, m = a // 2, a % 2, b // 2, b % 2
    rise = np.abs(np.einsum("ni,ni->n", off, one.out[i]))
    across = np.einsum("ni,ni->n", off, off) - rise**2
    out = np.einsum("nij,nj->ni", lies.rotation[place], two.out[j])
    level = np.einsum("ni,ni->n", out, one.out[i]) * np.where(k == m, 1.0, -1.0)
    right = (level < -FACING) & (rise <= TOUCH) & (across <= MEET**2) & one.plain[i, k] & two.plain[j, m]
    right &= np.abs(one.size[i] - two.size[j]) <= SIZES
    return np.unique(np.column_stack([place, i, j])[right], axis=0)


def _bare(one: Shape, two: Shape, lies: Lies, skip: BoolArray, met: IntArray) -> BoolArray:
    """(p,) True where a hole of `two` that is not met lies flat against metal of `one`.

    Args:
        one: the metal.
        two: the holes.
        lies: poses of `two` as `one` sees it.
        skip: (p,) places that are not asked for.
        met: (n, 2) place and hole of those met.
    """
    wanted = np.ones((len(lies), len(two)), dtype=np.bool_)
    wanted[skip] = False
    wanted[met[:, 0], met[:, 1]] = False
    blind = np.zeros(len(lies), dtype=np.bool_)
    place, hole = np.nonzero(wanted)
    if not len(place):
        return blind
    normals = one.blocks.axes[:, :, 2]
    out = np.einsum("nij,nj->ni", lies.rotation[place], two.out[hole])
    row, panel = np.nonzero(np.abs(out @ normals.T) > FACING)
    place, hole = place[row], hole[row]
    points = two.faces[hole] @ lies.rotation[place].transpose(0, 2, 1) + lies.origin[place][:, None]
    rise = np.einsum("nfi,ni->nf", points - one.blocks.middle[panel][:, None], normals[panel])
    row, face = np.nonzero(np.abs(np.abs(rise) - one.blocks.half[panel, 2][:, None]) <= TOUCH)
    place, panel, points = place[row], panel[row], points[row, face]
    for number in np.unique(panel).tolist():
        solid, own = one.solids[number], np.nonzero(panel == number)[0]
        local = (points[own] - solid.frame.origin) @ solid.frame.rotation
        blind[place[own[contains(solid.face, local[:, :2])]]] = True
    return blind
