"""The seams of a body: rows of pieces whose holes meet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import count

import numpy as np

from fabplan.geom.pose import to_outer, turned
from fabplan.geom.stack import touching_groups
from fabplan.geom.tolerance import TOUCH
from fabplan.kit.contact import MEET
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.part import Part
from fabplan.model.pose import Pose

Rows = tuple[tuple[int, str], ...]
"""Instance and row of each ply, from the inside of the body outwards."""

FEW = 2
"""Rivets that make a seam of their own."""


@dataclass(frozen=True, slots=True, eq=False)
class Rivet:
    """Where plies meet.

    Attributes:
        rows: of its plies.
        numbers: of its holes along these rows, from 1.
        at: (3,) mm, body frame.
    """

    rows: Rows
    numbers: tuple[int, ...]
    at: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class _Drilled:
    """The n holes of a piece in its own frame.

    Both ends (n, 2, 3), normals (n, 3), rows, numbers along these, and which are closed.
    """

    faces: FloatArray
    out: FloatArray
    row: tuple[str, ...]
    number: tuple[int, ...]
    closed: BoolArray


class Stacks:
    """What lies on what in bodies of some pieces."""

    def __init__(self, parts: tuple[Part, ...]) -> None:
        """Take the part of each instance."""
        known = {id(part): _drilled(part) for part in dict.fromkeys(parts)}
        self._holes = tuple(known[id(part)] for part in parts)

    def of(self, body: Mapping[int, Pose]) -> list[Rivet]:
        """Every rivet of a body, with the named rows of its plies."""
        pieces = [i for i in body if len(self._holes[i].row)]
        if not pieces:
            return []
        holes = [self._holes[i] for i in pieces]
        home = [(i, row) for i, own in zip(pieces, holes, strict=True) for row in own.row]
        number = [count for own in holes for count in own.number]
        places = np.concatenate([to_outer(body[i], own.faces) for i, own in zip(pieces, holes, strict=True)])
        normals = np.concatenate([turned(body[i], own.out) for i, own in zip(pieces, holes, strict=True)])
        closed = np.concatenate([own.closed for own in holes])
        group = touching_groups(places, normals, closed, MEET, np.full(len(home), TOUCH))
        middles, middle = places.mean(axis=1), places.reshape(-1, 3).mean(axis=0)
        order = np.argsort(group, kind="stable")
        order = order[group[order] >= 0]
        found = []
        for own in np.split(order, np.nonzero(np.diff(group[order]))[0] + 1) if len(order) else ():
            at, axis = middles[own].mean(axis=0), normals[own[0]]
            outwards = axis if float((at - middle) @ axis) >= 0.0 else -axis
            plies = own[np.argsort(middles[own] @ outwards, kind="stable")]
            rows: dict[tuple[int, str], int] = {}
            for k in plies.tolist():
                if home[k][1]:
                    rows.setdefault(home[k], number[k])
            found.append(Rivet(tuple(rows), tuple(rows.values()), at))
        return found


def _drilled(part: Part) -> _Drilled:
    holes = part.holes
    faces, out = np.zeros((len(holes.holes), 2, 3)), np.zeros((len(holes.holes), 3))
    for k in range(len(holes.holes)):
        panel = part.panels[holes.panel[k]]
        depths = np.array([[*holes.holes.xy[k], 0.0], [*holes.holes.xy[k], -panel.thickness]])
        faces[k] = to_outer(panel.frame, depths)
        out[k] = turned(panel.frame, np.array([0.0, 0.0, 1.0]))
    closed = np.array([purpose != "open" for purpose in holes.holes.purpose], dtype=np.bool_)
    along = {row: count(1) for row in holes.holes.row}
    number = tuple(next(along[row]) for row in holes.holes.row)
    return _Drilled(faces, out, tuple(holes.holes.row), number, closed)


def seams_of(rivets: Sequence[Rivet]) -> dict[Rows, tuple[Rivet, ...]]:
    """The rivets of seams by their rows, in the order of their first ones.

    A few rivets whose plies hold all rows of a seam and one more belong to that seam: a third ply passes there.
    """
    by_rows: dict[frozenset[tuple[int, str]], list[Rivet]] = {}
    for rivet in rivets:
        if len(rivet.rows) > 1:
            by_rows.setdefault(frozenset(rivet.rows), []).append(rivet)
    ranked = sorted(by_rows, key=lambda own: (-len(by_rows[own]), sorted(own)))
    kept: list[frozenset[tuple[int, str]]] = []
    for own in ranked:
        larger = next((one for one in kept if one < own and len(by_rows[own]) <= FEW), None)
        if larger is None:
            kept.append(own)
        else:
            by_rows[larger] += by_rows[own]
    return dict(sorted((by_rows[own][0].rows, tuple(by_rows[own])) for own in kept))


def numbers_in(rivets: Sequence[Rivet], row: tuple[int, str]) -> tuple[int, ...]:
    """The numbers along a row of the holes that some rivets fill, in order."""
    return tuple(sorted({one.numbers[one.rows.index(row)] for one in rivets if row in one.rows}))
