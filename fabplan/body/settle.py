"""Every placed piece laid best on all its neighbours at once, once it is known which face lies on which."""

from collections.abc import Mapping

import numpy as np

from fabplan.body.fit import NEAR_ROW, fit
from fabplan.body.rows import FIT, Link
from fabplan.geom.adjust import Mated, Poses, adjusted
from fabplan.model.arrays import FloatArray
from fabplan.model.pose import Pose

WITHIN = 0.3  # mm for which a hole counts that is out by all that opening takes away: half of where one has no say
ROUNDS = 2  # holes are mated anew once the pieces have moved


def settled(
    found: Mapping[int, Pose], start: Mapping[int, Pose], every: tuple[Link, ...], *, doubt: bool = True
) -> dict[int, Pose]:
    """The poses that bring all mated holes and faces of the body nearest to meeting; those of `start` stay.

    Args:
        found: the poses to start from, by instance.
        start: stated places and the datum.
        every: the links of all seams.
        doubt: whether rows that stay out are left out in turn.
    """
    body = dict(found)
    order = sorted(body)
    fixed = np.array([instance in start for instance in order])
    for _ in range(ROUNDS):
        mated = mated_holes(body, every)
        if not len(mated.a):
            return body
        poses = adjusted(_stacked([body[i] for i in order]), _numbered(mated, order), fixed, doubt=doubt)
        body = {i: Pose(poses.turn[k], poses.origin[k]) for k, i in enumerate(order)}
    return {i: found[i] if i in start else body[i] for i in found}


def mated_holes(body: Mapping[int, Pose], every: tuple[Link, ...]) -> Mated:
    """The pairs of holes of all links between placed pieces, on the faces that come nearest; a and b are instances."""
    columns: list[list[FloatArray]] = [[np.zeros(0)] * 3 + [np.zeros((0, 3))] * 4 + [np.zeros(0)]]
    for number, link in enumerate(every):
        if link.a not in body or link.b not in body:
            continue
        near = fit(link, body[link.a], body[link.b], NEAR_ROW)
        if not np.isfinite(near.gap):
            continue
        ends = [link.row_a.face(near.back_a), link.row_b.face(near.back_b)]
        count = len(near.mate_a)
        (at_a, out_a), (at_b, out_b) = ends
        columns.append(
            [
                *(np.full(count, float(value)) for value in (number, link.a, link.b)),
                at_a[near.mate_a],
                at_b[near.mate_b],
                out_a[near.mate_a],
                out_b[near.mate_b],
                np.full(count, 1.0 if link.reach <= FIT else WITHIN / link.reach),
            ]
        )
    row, a, b, *places = (np.concatenate(column) for column in zip(*columns, strict=True))
    return Mated(row.astype(np.int64), a.astype(np.int64), b.astype(np.int64), *places)


def _stacked(poses: list[Pose]) -> Poses:
    return Poses(np.array([pose.rotation for pose in poses]), np.array([pose.origin for pose in poses]))


def _numbered(mated: Mated, order: list[int]) -> Mated:
    """The pairs with pieces by their place in `order`."""
    a, b = (np.searchsorted(order, end) for end in (mated.a, mated.b))
    return Mated(mated.row, a, b, mated.at_a, mated.at_b, mated.out_a, mated.out_b, mated.worth)
