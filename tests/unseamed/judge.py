"""Whether bodies found are the true one, up to symmetry and the exchange of pieces alike.

Told by metal and holes alone: a true piece and a found one are the same where their holes fall on one another, and the
boxes round them, whichever piece it is. Nothing of the search is used; answers are put together as `fabplan new` does
it, for that is what is judged.
"""

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from fabplan.geom.congruent import motions
from fabplan.geom.pose import inverse, to_outer
from fabplan.geom.prism import thick
from fabplan.kit.find import Bodies
from fabplan.kit.fit import Fit
from fabplan.kit.propose import chosen, proposal
from fabplan.model.body import Body
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.model.proposal import Proposal
from tests.kits.build import Array, Kit

SOLVED, LISTED, UNSURE, WRONG = "solved", "listed", "unsure", "WRONG"
NEAR = 1.0  # mm
SWEEPS = 2  # over the choices

Piece = tuple[Array, Array]
"""Corners and holes of one piece in the body."""


def true_pose(kit: Kit, mark: str) -> Pose:
    """The pose of an instance as it was laid out."""
    matrix = kit.piece(mark).frame.matrix
    return Pose(matrix[:3, :3], matrix[:3, 3])


def outcome(kit: Kit, parts: Sequence[Part], marks: Sequence[str], found: Bodies) -> str:
    """One of the four words: a list holds the truth where answers to what it leaves open make it."""
    if not found.bodies or not found.whole:
        return UNSURE
    if any(len(body) < len(parts) for body in found.bodies):
        return UNSURE
    same = offered(found, parts, [true_pose(kit, mark) for mark in marks])
    return (LISTED if found.ways else SOLVED) if same else WRONG


def offered(found: Bodies, parts: Sequence[Part], poses: Sequence[Pose]) -> bool:
    """Whether a body with pieces in some poses is that which is proposed, or answers to what is left open make it."""
    points = {id(part): _points(part) for part in parts}
    true = [_moved(points[id(part)], pose) for part, pose in zip(parts, poses, strict=True)]
    return _same(proposal(tuple(parts), found), tuple(parts), true)


def stands(parts: Sequence[Part], poses: Mapping[int, Pose], true: Sequence[Pose]) -> bool:
    """Whether all pieces of a body stand as they were built, up to its own frame and the exchange of like ones."""
    pieces = [_points(part) for part in parts]
    wanted = [_moved(piece, pose) for piece, pose in zip(pieces, true, strict=True)]
    first = next(iter(poses))
    lies = _lies(_moved(pieces[first], poses[first]), wanted)
    moved = [[_moved(piece, inverse(lie)) for piece in wanted] for lie in lies]
    return len(poses) == len(parts) and any(_off(pieces, poses, own) == 0 for own in moved)


def _points(part: Part) -> Piece:
    corners = np.vstack([thick(panel).corners for panel in part.panels])
    holes = [
        to_outer(part.panels[panel].frame, np.array([*xy, -part.panels[panel].thickness / 2.0]))
        for xy, panel in zip(part.holes.holes.xy, part.holes.panel, strict=True)
    ]
    return corners, np.array(holes).reshape(-1, 3)


def _moved(piece: Piece, pose: Pose) -> Piece:
    return to_outer(pose, piece[0]), to_outer(pose, piece[1])


def _same(told: Proposal, parts: tuple[Part, ...], true: Sequence[Piece]) -> bool:
    """True where a proposal is the true body, or answers to what it leaves open make it.

    Args:
        told: the proposal.
        parts: of each instance.
        true: where each was built.
    """
    fit, points = Fit(parts), {id(part): _points(part) for part in parts}
    pieces = [points[id(part)] for part in parts]
    datum = _moved(pieces[told.datum], told.poses[told.datum])
    for lie in _lies(datum, true):
        back = inverse(lie)
        wanted = [_moved(piece, back) for piece in true]
        for fixed in _starts(told):
            if _off(pieces, _answered(told, fit, fixed, pieces, wanted), wanted) == 0:
                return True
    return False


def _starts(told: Proposal) -> Iterator[dict[int, int]]:
    """Answers from which the others are sought: none, then each alone: what moves along with others hides them."""
    yield {}
    for number, choice in enumerate(told.choices, 1):
        for way in range(2, len(choice.ways) + 1):
            yield {number: way}


def _answered(
    told: Proposal, fit: Fit, fixed: dict[int, int], pieces: Sequence[Piece], wanted: list[Piece]
) -> dict[int, Pose]:
    """The poses of the answers that bring most pieces to where they are wanted, those next to the datum first."""
    answers = {**dict.fromkeys(range(1, len(told.choices) + 1), 1), **fixed}

    def rank(number: int, way: int) -> tuple[int, int]:
        poses = {**told.poses, **chosen(told, {**answers, number: way}, fit)}
        own = {i: poses[i] for i in told.choices[number - 1].pieces}
        return _off(pieces, own, wanted), _off(pieces, poses, wanted)

    for _ in range(SWEEPS):
        for number in sorted(answers.keys() - fixed, key=lambda k: (told.choices[k - 1].ways[1][0].depth, k)):
            ways = range(1, len(told.choices[number - 1].ways) + 1)
            answers[number] = min(ways, key=lambda way: rank(number, way))
    return {**told.poses, **chosen(told, answers, fit)}


def _off(pieces: Sequence[Piece], poses: Mapping[int, Pose], wanted: list[Piece]) -> int:
    """How many pieces stand where none like it is wanted."""
    middles = np.array([piece[0].mean(axis=0) for piece in wanted])
    off = 0
    for i, pose in poses.items():
        middle = to_outer(pose, pieces[i][0].mean(axis=0)[None])[0]
        near = np.nonzero(np.abs(middles - middle).max(axis=1) <= NEAR)[0]
        moved = _moved(pieces[i], pose) if len(near) else pieces[i]
        off += not any(_on(moved, wanted[k]) for k in near.tolist())
    return off


def _lies(piece: Piece, true: Sequence[Piece]) -> list[Pose]:
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
    if any(pose is None for pose in body.poses):
        return False
    poses = {i: pose for i, pose in enumerate(body.poses) if pose is not None}
    told = Proposal(0, poses, (), (), 0, whole=True)
    return _same(told, tuple(parts), true)
