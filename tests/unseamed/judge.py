"""Whether bodies found are the true one, up to symmetry and the exchange of pieces alike.

Told by metal and holes alone: a true piece and a found one are the same where their corners and their holes fall on one
another, whichever piece it is. Nothing of the search is used.
"""

from collections.abc import Sequence
from itertools import permutations

import numpy as np

from fabplan.geom.congruent import motions
from fabplan.geom.pose import inverse, to_outer
from fabplan.geom.prism import thick
from fabplan.kit.find import Bodies
from fabplan.model.body import Body
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from tests.kits.build import Array, Kit

SOLVED, LISTED, UNSURE, WRONG = "solved", "listed", "unsure", "WRONG"
NEAR = 1.0  # mm
PAIRED = 200  # bodies held against one another for the choices in which they differ

Piece = tuple[Array, Array]
"""Corners and holes of one piece in the body."""


def true_pose(kit: Kit, mark: str) -> Pose:
    """The pose of an instance as it was laid out."""
    matrix = kit.piece(mark).frame.matrix
    return Pose(matrix[:3, :3], matrix[:3, 3])


def outcome(kit: Kit, parts: Sequence[Part], marks: Sequence[str], found: Bodies) -> str:
    """One of the four words."""
    if not found.bodies or not found.whole:
        return UNSURE
    points = {id(part): _points(part) for part in parts}
    true = [_moved(points[id(part)], true_pose(kit, mark)) for part, mark in zip(parts, marks, strict=True)]
    if any(len(body) < len(parts) for body in found.bodies):
        return UNSURE
    bodies = [[_moved(points[id(parts[i])], body[i]) for i in range(len(parts))] for body in found.bodies]
    same = _same(bodies, true, found.datum)
    if len(bodies) == 1:
        return SOLVED if same else WRONG
    return LISTED if same else WRONG


def _points(part: Part) -> Piece:
    corners = np.vstack([thick(panel).corners for panel in part.panels])
    holes = [
        to_outer(part.panels[panel].frame, np.array([*xy, -part.panels[panel].thickness / 2.0]))
        for xy, panel in zip(part.holes.holes.xy, part.holes.panel, strict=True)
    ]
    return corners, np.array(holes).reshape(-1, 3)


def _moved(piece: Piece, pose: Pose) -> Piece:
    return to_outer(pose, piece[0]), to_outer(pose, piece[1])


def _same(bodies: list[list[Piece]], true: list[Piece], datum: int) -> bool:
    """True where one of some bodies is the true one, or the choices in which they differ make it, taken together.

    Args:
        bodies: pieces of each, one of them in one place throughout.
        true: the true pieces.
        datum: the number of the piece that is in one place.
    """
    known: list[Piece] = []
    pieces = {id(piece): piece for body in bodies for piece in body}
    number = dict(zip(pieces, _numbered(list(pieces.values()), known), strict=True))
    numbers = [{number[id(piece)] for piece in body} for body in bodies]
    for lie in _lies(bodies[0][datum], true):
        back = inverse(lie)
        wanted = set(_numbered([_moved(piece, back) for piece in true], list(known)))
        if any(_by_choices(k, numbers, wanted) for k in range(min(len(numbers), PAIRED))):
            return True
    return False


def _by_choices(number: int, bodies: list[set[int]], wanted: set[int]) -> bool:
    """Whether a body is the one wanted, once pieces are put as in other bodies of the list, choice by choice."""
    mine = bodies[number]
    for one, other in permutations(bodies[:PAIRED], 2):
        if mine == wanted:
            break
        away, come = one - other, other - one
        if come and come <= wanted and away <= mine and not away & wanted:
            mine = mine - away | come
    return mine == wanted


def _numbered(pieces: list[Piece], known: list[Piece]) -> list[int]:
    """Pieces by their place in a list of all that are known; new ones are added."""
    count = len(known)
    middles = np.array([piece[0].mean(axis=0) for piece in (*known, *pieces)])
    numbers: list[int] = []
    at = list(range(count))  # where the middle of each known one stands
    for row, piece in enumerate(pieces, count):
        near = np.nonzero(np.abs(middles[at] - middles[row]).max(axis=1) <= NEAR)[0] if at else ()
        number = next((int(k) for k in near if _on(piece, known[int(k)])), len(known))
        if number == len(known):
            known.append(piece)
            at.append(row)
        numbers.append(number)
    return numbers


def _lies(piece: Piece, true: list[Piece]) -> list[Pose]:
    """Turns and shifts that carry a piece onto a true one like it: the first body's own frame is the datum's."""
    found = []
    for other in true:
        if len(other[0]) != len(piece[0]) or len(other[1]) != len(piece[1]):
            continue
        for lie in motions(np.vstack(piece), np.vstack(other), piece[1], other[1]):
            if _on(_moved(piece, lie), other):
                found.append(lie)
    return found


def _on(one: Piece, two: Piece) -> bool:
    if len(one[1]) != len(two[1]) or np.abs(one[0].mean(axis=0) - two[0].mean(axis=0)).max() > NEAR:
        return False
    if not len(one[1]):
        return True
    apart = np.linalg.norm(one[1][:, None] - two[1][None], axis=2)
    if max(apart.min(axis=0).max(), apart.min(axis=1).max()) > NEAR:
        return False
    box = [np.array([points.min(axis=0), points.max(axis=0)]) for points in (one[0], two[0])]
    return bool(np.abs(box[0] - box[1]).max() <= NEAR)


def same_body(kit: Kit, body: Body) -> bool:
    """True where all pieces of a placed body stand as they were built, up to symmetry and the exchange of like ones."""
    parts = [body.part_of(i) for i in range(len(body.instances))]
    points = {id(part): _points(part) for part in parts}
    marks = [instance.mark for instance in body.instances]
    true = [_moved(points[id(part)], true_pose(kit, mark)) for part, mark in zip(parts, marks, strict=True)]
    found = [_moved(points[id(part)], pose) for part, pose in zip(parts, body.poses, strict=True) if pose is not None]
    return len(found) == len(parts) and _same([found], true, 0)
