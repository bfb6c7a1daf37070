"""Pieces that are one another's like, whatever their marks, and the turns that leave a piece as it was."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.congruent import motions, same_holes, same_metal
from fabplan.geom.pose import to_outer
from fabplan.kit.shape import Shape, shape_of
from fabplan.model.arrays import FloatArray
from fabplan.model.part import Part
from fabplan.model.pose import Pose


@dataclass(frozen=True, slots=True, eq=False)
class Kind:
    """Pieces of one shape.

    Attributes:
        shape: of the first of them.
        instances: all of them, by index.
        moved: by part, the pose that carries that part onto the first one's shape.
        turns: poses that carry the shape onto itself, the one that does nothing first.
    """

    shape: Shape
    instances: tuple[int, ...]
    moved: dict[int, Pose]
    turns: tuple[Pose, ...]


def kinds_of(parts: tuple[Part, ...]) -> tuple[Kind, ...]:
    """The kinds of pieces, in the order of the kit.

    Args:
        parts: part of each instance; the same object for pieces of one mark and hand.
    """
    shapes: list[Shape] = []
    moved: list[dict[int, Pose]] = []
    members: list[list[int]] = []
    home: dict[int, int] = {}
    for instance, part in enumerate(parts):
        if id(part) not in home:
            home[id(part)] = _home(shape_of(part), shapes, moved, id(part))
        number = home[id(part)]
        if number == len(members):
            members.append([])
        members[number].append(instance)
    return tuple(
        Kind(shape, tuple(own), by_part, _turns(shape))
        for shape, own, by_part in zip(shapes, members, moved, strict=True)
    )


def _home(shape: Shape, shapes: list[Shape], moved: list[dict[int, Pose]], part: int) -> int:
    """The number of the shape that this one is the like of; a new one where it has none."""
    for number, other in enumerate(shapes):
        pose = next(iter(onto(shape, other, 1)), None)
        if pose is not None:
            moved[number][part] = pose
            return number
    shapes.append(shape)
    moved.append({part: Pose()})
    return len(shapes) - 1


def onto(one: Shape, two: Shape, most: int) -> list[Pose]:
    """Poses that carry one shape onto another, metal on metal and hole on hole; at most so many."""
    if len(one) != len(two) or len(one.solids) != len(two.solids) or not one.solids:
        return []
    found: list[Pose] = []
    for pose in motions(_points(one), _points(two), _marks(one), _marks(two)):
        if len(found) == most:
            break
        if _holes_on(one, pose, two) and same_metal(one.solids, pose, two.solids):
            found.append(pose)
    return found


def _points(shape: Shape) -> FloatArray:
    """Places (n, 3) whose spread tells how the piece lies: its boxes and its holes."""
    return np.vstack([shape.boxes.reshape(-1, 3), shape.faces.reshape(-1, 3)])


def _marks(shape: Shape) -> FloatArray:
    """Places (n, 3) that tell the turn of a round piece: holes, or corners where it has none."""
    return shape.faces.mean(axis=1) if len(shape) else shape.boxes.reshape(-1, 3)


def _holes_on(one: Shape, pose: Pose, two: Shape) -> bool:
    (places, sizes), (others, theirs) = _ends(one), _ends(two)
    return same_holes(places, others, pose, sizes, theirs)


def _ends(shape: Shape) -> tuple[FloatArray, FloatArray]:
    """Places (n, 3) and sizes (n,) of holes on the faces that can lie on something: of a half-round one alone."""
    return shape.faces[shape.plain], np.broadcast_to(shape.size[:, None], shape.plain.shape)[shape.plain]


def _turns(shape: Shape) -> tuple[Pose, ...]:
    still = [Pose()]
    reach = _points(shape)
    for pose in onto(shape, shape, 400):
        if np.abs(to_outer(pose, reach) - reach).max(initial=0.0) > 0.01:
            still.append(pose)
    return tuple(still)
