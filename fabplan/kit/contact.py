"""Two pieces in given places: which of their holes meet, which lie against blind metal, whether metal meets metal."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.pose import compose, inverse, to_outer, turned
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


@dataclass(frozen=True, slots=True, eq=False)
class Contact:
    """What two pieces do to one another.

    Attributes:
        one, two: (k,) indices of the holes of either that meet.
        blind: holes of either that lie against metal of the other where it has none.
        fouls: True where metal runs into metal.
    """

    one: IntArray
    two: IntArray
    blind: int
    fouls: bool

    @property
    def sound(self) -> bool:
        """True where nothing speaks against it."""
        return not self.fouls and not self.blind


_NONE = np.zeros(0, dtype=np.int64)
APART = Contact(_NONE, _NONE, 0, fouls=False)


def contact(one: Shape, two: Shape, lie: Pose) -> Contact:
    """What `two`, whose frame has the pose `lie` in the frame of `one`, does to it."""
    boxes = to_outer(lie, two.boxes)
    if _clear(one.boxes, boxes, -TOUCH):
        return APART
    faces, out = to_outer(lie, two.faces), turned(lie, two.out)
    mates = _mates(one, two, faces, out)
    back = inverse(lie)
    blind = _bare(two, lie, one, mates[0]) + _bare(one, back, two, mates[1])
    fouls = blind == 0 and _fouls(one, two, lie, boxes)
    return Contact(*mates, blind, fouls)


def _clear(one: FloatArray, two: FloatArray, depth: float) -> bool:
    """True where the boxes around all of two pieces stay apart, but for `depth` mm."""
    low, high = one.min(axis=(0, 1)), one.max(axis=(0, 1))
    return bool(np.any(two.min(axis=(0, 1)) >= high - depth) or np.any(two.max(axis=(0, 1)) <= low + depth))


def _mates(one: Shape, two: Shape, faces: FloatArray, out: FloatArray) -> tuple[IntArray, IntArray]:
    """Holes that lie on one another, face to face."""
    if not len(one) or not len(two):
        return _NONE, _NONE
    low, high = one.boxes.min(axis=(0, 1)) - MEET, one.boxes.max(axis=(0, 1)) + MEET
    near = np.nonzero(np.any(np.all((faces > low) & (faces < high), axis=2), axis=1))[0]
    if not len(near):
        return _NONE, _NONE
    found = np.zeros((len(one), len(near)), dtype=np.bool_)
    level = out[near] @ one.out.T
    for k in (0, 1):
        for m in (0, 1):
            apart = faces[near, m][None] - one.faces[:, k][:, None]
            looking = level.T * (1.0 if k == m else -1.0) < -FACING
            rise = np.abs(np.einsum("nmi,ni->nm", apart, one.out))
            across = np.einsum("nmi,nmi->nm", apart, apart) - rise**2
            found |= (
                looking & (rise <= TOUCH) & (across <= MEET**2) & one.plain[:, k][:, None] & two.plain[near, m][None]
            )
    found &= np.abs(one.size[:, None] - two.size[near][None]) <= SIZES
    i, j = np.nonzero(found)
    return i, near[j]


def _bare(metal: Shape, lie: Pose, holes: Shape, met: IntArray) -> int:
    """How many holes, not among those met, lie flat against metal; `lie` is the pose of `metal` as `holes` see it."""
    left = np.ones(len(holes), dtype=np.bool_)
    left[met] = False
    index = np.nonzero(left)[0]
    if not len(index):
        return 0
    points = holes.faces[index].reshape(-1, 3)
    out = np.repeat(holes.out[index], 2, axis=0)
    covered = np.zeros(len(points), dtype=np.bool_)
    low, high = points.min(axis=0) - TOUCH, points.max(axis=0) + TOUCH
    boxes = to_outer(lie, metal.boxes)
    near = np.nonzero(np.all(boxes.min(axis=1) <= high, axis=1) & np.all(boxes.max(axis=1) >= low, axis=1))[0]
    for panel in near.tolist():
        covered |= _covered(metal, panel, lie, points, out)
    return int(covered.reshape(-1, 2).any(axis=1).sum())


def _covered(metal: Shape, panel: int, lie: Pose, points: FloatArray, out: FloatArray) -> BoolArray:
    solid = metal.solids[panel]
    frame = compose(lie, solid.frame)
    normal = frame.rotation[:, 2]
    rise = (points - frame.origin) @ normal
    flat = np.minimum(np.abs(rise), np.abs(rise + solid.thickness)) <= TOUCH
    flat &= np.abs(out @ normal) > FACING
    found = np.zeros(len(points), dtype=np.bool_)
    index = np.nonzero(flat)[0]
    if len(index):
        local = (points[index] - frame.origin) @ frame.rotation
        found[index] = contains(solid.face, local[:, :2])
    return found


def _fouls(one: Shape, two: Shape, lie: Pose, boxes: FloatArray) -> bool:
    """Solid against solid, only where their boxes meet."""
    low_one, high_one = one.boxes.min(axis=1), one.boxes.max(axis=1)
    low_two, high_two = boxes.min(axis=1), boxes.max(axis=1)
    meet = np.all(low_one[:, None] < high_two[None] - DEEP, axis=2)
    meet &= np.all(low_two[None] < high_one[:, None] - DEEP, axis=2)
    still = Pose()
    return any(clash(one.solids[i], still, two.solids[k], lie, DEEP) for i, k in np.argwhere(meet).tolist())
