"""The order of driving within one seam: a setting of the shop."""

import numpy as np

from fabplan.model.arrays import IntArray

WORDS = {
    "middle outwards": "from the middle outwards, both ways in turn",
    "end to end": "from the marked end to the other",
    "skip": "every second rivet from the marked end, then back through the rest",
}


def driving_order(rivets: IntArray, setting: str) -> IntArray:
    """Rivets of one seam, given along the seam, in the order in which they are driven.

    >>> driving_order(np.arange(5), "middle outwards").tolist()
    [2, 3, 1, 4, 0]
    >>> driving_order(np.arange(4), "middle outwards").tolist()
    [2, 3, 1, 0]
    >>> driving_order(np.arange(5), "skip").tolist()
    [0, 2, 4, 3, 1]
    """
    if setting == "end to end" or len(rivets) < 3:
        return rivets
    if setting == "skip":
        return np.concatenate([rivets[::2], rivets[1::2][::-1]])
    middle = len(rivets) // 2
    count = np.arange(1, len(rivets) + 2)
    places = middle + count // 2 * np.where(count % 2 == 0, 1, -1)
    return rivets[places[(places >= 0) & (places < len(rivets))]]
