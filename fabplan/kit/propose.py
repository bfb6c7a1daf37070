"""Seams and open choices from the bodies that a kit's holes allow."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import chain, permutations, product
from string import ascii_uppercase

import numpy as np

from fabplan.geom.pose import to_outer, turned
from fabplan.geom.prism import thick
from fabplan.geom.stack import touching_groups
from fabplan.geom.tolerance import TOUCH
from fabplan.kit.contact import MEET
from fabplan.kit.find import Bodies
from fabplan.model.arrays import FloatArray
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.model.proposal import Choice, Proposal, ProposedSeam

Rows = tuple[tuple[int, str], ...]
Places = Mapping[int, Pose]
MOVED = 0.5  # mm by which a corner of a piece is elsewhere in another body
PAIRED = 150  # bodies held against one another, not the first alone, for what they leave open
LEVEL = 20.0  # mm: a body whose middle lies no further under its datum lies flat on either side
FEW = 2  # rivets that make a seam of their own


def proposal(parts: tuple[Part, ...], found: Bodies) -> Proposal:
    """What is proposed: of bodies as good, that on the side to which the datum's marked face looks.

    Args:
        parts: part of each instance.
        found: the bodies.
    """
    if not found.bodies:
        return Proposal(found.datum, {found.datum: Pose()}, (), (), found.bare, found.whole)
    bodies = list(found.bodies)
    if found.whole:  # else the others differ by one choice each from the first
        bodies.sort(key=lambda body: -round(_height(parts, body), 3))
    stacks = [_stacks(parts, body) for body in bodies]
    grouped = [_grouped(own) for own in stacks]
    known = [{frozenset(rows) for rows in own} for own in grouped]
    seams = tuple(
        ProposedSeam(
            letter(number),
            rows,
            tuple(_count(parts, *row) for row in rows),
            points,
            sum(frozenset(rows) in other for other in known),
        )
        for number, (rows, points) in enumerate(grouped[0].items())
    )
    unlisted = sum(len(rows) < 2 for rows, _ in stacks[0])
    choices = _choices(parts, bodies)
    inside = _height(parts, bodies[0]) > -LEVEL
    told = Proposal(found.datum, bodies[0], seams, choices, found.bare, found.whole, len(bodies), inside, unlisted)
    return replace(told, near=found.near)


def letter(number: int) -> str:
    """A, B ... Z, A2, B2 ...

    >>> letter(0), letter(25), letter(26)
    ('A', 'Z', 'A2')
    """
    round_, place = divmod(number, len(ascii_uppercase))
    return ascii_uppercase[place] + (str(round_ + 1) if round_ else "")


def _height(parts: tuple[Part, ...], body: Places) -> float:
    """How far the middle of all metal lies over the marked face of the datum, mm."""
    weights, middles = [], []
    for i, pose in body.items():
        for panel in parts[i].panels:
            solid = thick(panel)
            weights.append(solid.volume)
            middles.append(float(to_outer(pose, solid.middle)[2]))
    return float(np.average(middles, weights=weights)) if weights else 0.0


def _count(parts: tuple[Part, ...], instance: int, row: str) -> int:
    return sum(one == row for one in parts[instance].holes.holes.row)


def _stacks(parts: tuple[Part, ...], body: Places) -> list[tuple[Rows, FloatArray]]:
    """The named rows of the plies of every rivet, from the inside outwards, and where it is."""
    faces, out, home = [], [], []
    for i, pose in body.items():
        holes = parts[i].holes
        for k in range(len(holes.holes)):
            panel = parts[i].panels[holes.panel[k]]
            depths = np.array([[*holes.holes.xy[k], 0.0], [*holes.holes.xy[k], -panel.thickness]])
            faces.append(to_outer(pose, to_outer(panel.frame, depths)))
            out.append(turned(pose, turned(panel.frame, np.array([0.0, 0.0, 1.0]))))
            home.append((i, holes.holes.row[k], holes.holes.purpose[k] != "open"))
    if not home:
        return []
    places, normals = np.array(faces), np.array(out)
    eligible = np.array([closed for _, _, closed in home], dtype=np.bool_)
    group = touching_groups(places, normals, eligible, MEET, np.full(len(home), TOUCH))
    middle = places.reshape(-1, 3).mean(axis=0)
    found = []
    for label in range(int(group.max(initial=-1)) + 1):
        own = np.nonzero(group == label)[0]
        centres = places[own].mean(axis=1)
        axis = normals[own[0]]
        outwards = axis if float((centres.mean(axis=0) - middle) @ axis) >= 0.0 else -axis
        order = own[np.argsort(centres @ outwards, kind="stable")]
        rows = tuple(dict.fromkeys((home[k][0], home[k][1]) for k in order.tolist() if home[k][1]))
        found.append((rows, centres.mean(axis=0)))
    return found


def _grouped(stacks: Sequence[tuple[Rows, FloatArray]]) -> dict[Rows, FloatArray]:
    """Seams by their rows, in the order of their first rivets.

    A few rivets whose plies hold all rows of a seam and one more belong to that seam: a third ply passes there.
    """
    by_rows: dict[frozenset[tuple[int, str]], list[tuple[Rows, FloatArray]]] = {}
    for rows, point in stacks:
        if len(rows) > 1:
            by_rows.setdefault(frozenset(rows), []).append((rows, point))
    ranked = sorted(by_rows, key=lambda own: (-len(by_rows[own]), sorted(own)))
    kept: list[frozenset[tuple[int, str]]] = []
    for own in ranked:
        larger = next((one for one in kept if one < own and len(by_rows[own]) <= FEW), None)
        if larger is None:
            kept.append(own)
        else:
            by_rows[larger] += by_rows[own]
    seams = [(by_rows[own][0][0], np.array([point for _, point in by_rows[own]])) for own in kept]
    return dict(sorted(seams, key=lambda seam: seam[0]))


def _choices(parts: tuple[Part, ...], bodies: Sequence[Places]) -> tuple[Choice, ...]:
    """Pieces that may lie otherwise with all others as they are, by what two bodies differ in.

    A way that others of fewer pieces make together is not told again.
    """
    first, order = bodies[0], sorted(bodies[0])
    table = np.array([_numbers(parts, [body.get(i) for body in bodies], i) for i in order]).T
    ways: dict[tuple[tuple[int, int], ...], Places] = {}
    for one, other in chain(product([0], range(1, len(bodies))), permutations(range(min(len(bodies), PAIRED)), 2)):
        moved = np.nonzero(table[one] != table[other])[0]
        if len(moved) and np.array_equal(table[one, moved], table[0, moved]):
            key = tuple((order[k], int(table[other, k])) for k in moved.tolist())
            ways.setdefault(key, {i: bodies[other][i] for i, number in key if number >= 0})
    least: dict[tuple[int, ...], list[Places]] = {}
    kept: list[frozenset[tuple[int, int]]] = []
    for key in sorted(ways, key=lambda key: (len(key), key)):
        own = frozenset(key)
        if frozenset().union(*(one for one in kept if one < own)) != own:
            kept.append(own)
            least.setdefault(tuple(i for i, _ in key), []).append(ways[key])
    return tuple(
        Choice(pieces, ({i: first[i] for i in pieces}, *least[pieces]))
        for pieces in sorted(least, key=lambda own: (len(own), own))
    )


def _numbers(parts: tuple[Part, ...], poses: Sequence[Pose | None], instance: int) -> list[int]:
    """For each of some poses of a piece the number of the first that is the same place; -1 where it has none."""
    found: list[int] = []
    for k, pose in enumerate(poses):
        like = (n for n in dict.fromkeys(found) if n >= 0 and pose is not None)
        found.append(
            -1 if pose is None else next((n for n in like if not _moved(parts[instance], poses[n] or Pose(), pose)), k)
        )
    return found


def _moved(part: Part, one: Pose, two: Pose) -> bool:
    corners = np.vstack([thick(panel).corners for panel in part.panels])
    return bool(np.linalg.norm(to_outer(one, corners) - to_outer(two, corners), axis=1).max() > MOVED)
