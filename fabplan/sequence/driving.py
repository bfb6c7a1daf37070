"""The order of driving within one seam: a setting of the shop; and seams that are driven in turn with their like."""

from collections.abc import Sequence

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray

WORDS = {
    "middle outwards": "from the middle outwards, both ways in turn",
    "back-step": "in stretches from the middle outwards, each driven back towards the middle",
    "end to end": "from the marked end to the other",
    "alternate then fill": "every second rivet from the marked end, then back through the rest",
}
STRETCH = 6  # rivets driven back towards the middle at a time (common practice)
ALIKE = 2.0  # mm: rivets that lie so near the mirror image of others are their like


def driving_order(rivets: IntArray, setting: str) -> IntArray:
    """Rivets of one seam, given along the seam, in the order in which they are driven.

    >>> driving_order(np.arange(5), "middle outwards").tolist()
    [2, 3, 1, 4, 0]
    >>> driving_order(np.arange(4), "middle outwards").tolist()
    [2, 3, 1, 0]
    >>> driving_order(np.arange(5), "alternate then fill").tolist()
    [0, 2, 4, 3, 1]
    >>> driving_order(np.arange(16), "back-step").tolist()
    [13, 12, 11, 10, 9, 8, 2, 3, 4, 5, 6, 7, 15, 14, 0, 1]
    """
    if setting == "end to end" or len(rivets) < 3:
        return rivets
    if setting == "alternate then fill":
        return np.concatenate([rivets[::2], rivets[1::2][::-1]])
    middle = len(rivets) // 2
    if setting == "back-step":
        return _in_turn(_stretches(rivets[middle:]), _stretches(rivets[:middle][::-1]))
    count = np.arange(1, len(rivets) + 2)
    places = middle + count // 2 * np.where(count % 2 == 0, 1, -1)
    return rivets[places[(places >= 0) & (places < len(rivets))]]


def _stretches(outwards: IntArray) -> list[IntArray]:
    """Rivets from the middle outwards as stretches, each turned back."""
    return [outwards[k : k + STRETCH][::-1] for k in range(0, len(outwards), STRETCH)]


def _in_turn(ones: list[IntArray], others: list[IntArray]) -> IntArray:
    """Stretches of both halves in turn, the longer half's rest last."""
    pairs = [stretch for pair in zip(ones, others, strict=False) for stretch in pair]
    few = min(len(ones), len(others))
    return np.concatenate([*pairs, *ones[few:], *others[few:]])


def likes(runs: Sequence[FloatArray], middle: FloatArray) -> list[int]:
    """For each run of rivets the number of its like on the other side of the body, -1 where it has none.

    Args:
        runs: the rivets (n, 3) of each run, mm, body frame.
        middle: (3,) middle of all rivets: the planes of x and y through it are tried as the plane between both sides.
    """
    found = [-1] * len(runs)
    for one, points in enumerate(runs):
        for axis in (1, 0):
            mirrored = points.copy()
            mirrored[:, axis] = 2.0 * middle[axis] - mirrored[:, axis]
            if found[one] >= 0 or np.abs(mirrored - points).max(initial=0.0) <= ALIKE:
                continue
            for other in range(len(runs)):
                if other != one and found[other] < 0 and _over(mirrored, runs[other]):
                    found[one], found[other] = other, one
                    break
    return found


def _over(points: FloatArray, others: FloatArray) -> bool:
    """True where as many points lie each on one of the others."""
    if len(points) != len(others):
        return False
    apart = np.linalg.norm(points[:, None] - others[None], axis=2)
    return bool(apart.min(axis=1).max(initial=0.0) <= ALIKE and apart.min(axis=0).max(initial=0.0) <= ALIKE)
