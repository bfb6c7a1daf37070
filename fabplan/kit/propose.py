"""Seams and open choices from the bodies that a kit's holes allow."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import count
from string import ascii_uppercase

import numpy as np

from fabplan.geom.motion import motion_of
from fabplan.geom.pose import compose, to_outer
from fabplan.geom.prism import thick
from fabplan.kit.find import Bodies, height, metal_of
from fabplan.kit.fit import Fit
from fabplan.kit.hang import Hanging
from fabplan.kit.seams import Rivet, Stacks, numbers_in, seams_of
from fabplan.model.arrays import FloatArray
from fabplan.model.choice import Choice, Way, moving
from fabplan.model.marks import instance_marks
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.model.proposal import Proposal, ProposedSeam

LEVEL = 20.0
"""Mm: a body whose middle lies no further under its datum lies flat on either side."""


def proposal(parts: tuple[Part, ...], found: Bodies) -> Proposal:
    """What is proposed: the first of the bodies found, and what makes the others from it.

    Args:
        parts: part of each instance.
        found: the bodies.
    """
    if not found.bodies:
        return Proposal(found.datum, {found.datum: Pose()}, (), (), found.bare, found.whole)
    body, choices, stacks = found.bodies[0], _choices(parts, found), Stacks(parts)
    hanging = Hanging(found.datum, Fit(parts).held, compose)
    others = {
        number: [_known(stacks, hanging.moved(body, way)) for way in choice.ways[1:]]
        for number, choice in enumerate(choices, 1)
    }
    rivets = stacks.of(body)
    return Proposal(
        found.datum,
        body,
        _seams(parts, rivets, others),
        choices,
        found.bare,
        found.whole,
        found.taken,
        inside=_inside(parts, body),
        unlisted=_unlisted(rivets),
        usual=found.usual,
        doubles=found.doubles,
        outside=found.outside,
    )


def answered(parts: tuple[Part, ...], told: Proposal, answers: Mapping[int, int], fit: Fit) -> Proposal:
    """What is proposed as it is in the body that answers make: a ring that is turned on meets other rows.

    Args:
        parts: part of each instance.
        told: what is proposed.
        answers: way taken of a choice, both by number from 1.
        fit: of the pieces.
    """
    if not answers:
        return told
    stacks = Stacks(parts)

    def body(taken: Mapping[int, int]) -> dict[int, Pose]:
        return {**told.poses, **chosen(told, taken, fit)}

    others = {
        number: [_known(stacks, body({**answers, number: way})) for way in range(2, len(choice.ways) + 1)]
        for number, choice in enumerate(told.choices, 1)
        if number not in answers
    }
    taken = body(answers)
    rivets = stacks.of(taken)
    return replace(
        told,
        seams=_seams(parts, rivets, others),
        bare=told.bare + fit.holes_met(told.poses) - fit.holes_met(taken),
        inside=_inside(parts, taken),
        unlisted=_unlisted(rivets),
    )


def _inside(parts: tuple[Part, ...], body: Mapping[int, Pose]) -> bool:
    """Whether the marked face of the datum looks into a body, or lies level with its middle."""
    return height(parts, body, metal_of(parts)) > -LEVEL


def _unlisted(rivets: Sequence[Rivet]) -> int:
    """How many rivets lie in rows without a name."""
    return sum(len(one.rows) < 2 for one in rivets)


def chosen(told: Proposal, answers: Mapping[int, int], fit: Fit) -> dict[int, Pose]:
    """Poses of the pieces whose way was chosen, with what hangs on them.

    Args:
        told: what is proposed.
        answers: way taken of a choice, both by number from 1.
        fit: of the pieces.
    """
    taken = {number: told.choices[number - 1].ways[way - 1] for number, way in answers.items()}
    steps = [step for number in sorted(taken) for step in taken[number]]
    body = Hanging(told.datum, fit.held, compose).moved(told.poses, steps)
    asked = {i for number in taken for i in told.choices[number - 1].pieces}
    return {i: body[i] for i in sorted(body) if i in asked or body[i] is not told.poses[i]}


def _seams(
    parts: tuple[Part, ...], rivets: Sequence[Rivet], others: Mapping[int, Sequence[set[frozenset[tuple[int, str]]]]]
) -> tuple[ProposedSeam, ...]:
    """The seams of a body by its rivets; `others`: those of the other ways of each choice, by its number."""
    pieces = {part.spec.mark for part in parts} | {mark for part in parts for mark, _ in instance_marks(part.spec)}
    letters = (mark for mark in map(letter, count()) if mark not in pieces)
    return tuple(
        ProposedSeam(
            mark,
            rows,
            tuple(_count(parts, *row) for row in rows),
            tuple(numbers_in(own, row) for row in rows),
            np.array([one.at for one in own]),
            tuple(k for k, known in others.items() if not all(frozenset(rows) in there for there in known)),
        )
        for mark, (rows, own) in zip(letters, seams_of(rivets).items(), strict=False)
    )


def letter(number: int) -> str:
    """A, B ... Z, AA, AB ...: a letter with a figure would read as the mark of a piece.

    >>> letter(0), letter(25), letter(26), letter(52)
    ('A', 'Z', 'AA', 'BA')
    """
    before, place = divmod(number, len(ascii_uppercase))
    return (letter(before - 1) if before else "") + ascii_uppercase[place]


def _choices(parts: tuple[Part, ...], found: Bodies) -> tuple[Choice, ...]:
    """The ways of the same pieces together, those of fewest pieces first; turns from one way round to the other.

    Of as many pieces those come first that `fabplan.kit.choices` found first: in that order answers go together.
    """
    ways: dict[tuple[int, ...], list[Way]] = {}
    for way in found.ways:
        ways.setdefault(moving(way), []).append(way)
    body = found.bodies[0]
    corners = {
        i: np.vstack([to_outer(body[i], thick(panel).corners) for panel in parts[i].panels])
        for i in {i for pieces in ways for i in pieces}
    }
    for own in ways.values():
        own.sort(key=lambda way: _rank(corners, way))
    return tuple(Choice(pieces, ((), *ways[pieces])) for pieces in sorted(ways, key=len))


def _rank(corners: Mapping[int, FloatArray], way: Way) -> tuple[int, bool, bool, float, float]:
    """Where a way stands among others of the same pieces, by its first step."""
    step = way[0]
    motion = motion_of(np.vstack([corners[i] for i in step.pieces]), step.move)
    turn = motion.turn if motion.axis.sum() > 0.0 else -motion.turn
    return len(way), motion.over, motion.ends, round(turn, 1), round(float(np.linalg.norm(motion.shift)), 1)


def _known(stacks: Stacks, body: Mapping[int, Pose]) -> set[frozenset[tuple[int, str]]]:
    return {frozenset(rows) for rows in seams_of(stacks.of(body))}


def _count(parts: tuple[Part, ...], instance: int, row: str) -> int:
    return sum(one == row for one in parts[instance].holes.holes.row)
