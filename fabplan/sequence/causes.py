"""Why rivets stay in the core: which side is not reached, and what is in the way there."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.sequence.access import NONE, Access
from fabplan.sequence.reach import Ways

DRIVE = 0
SIDES = ("the made heads' side", "the points' side", "either side")


@dataclass(frozen=True, slots=True, eq=False)
class Cause:
    """Rivets that one thing keeps from being driven.

    Attributes:
        check: "no-driver" or "no-hold-up".
        side: a word of `SIDES`: where no tool, or nobody with one, gets at the rivet.
        parts: instances in the way of the tool; none where the tool has room and nobody gets to it.
        rivets: (k,) indices.
        other: True where the other side of every one is reached.
    """

    check: str
    side: str
    parts: tuple[int, ...]
    rivets: IntArray
    other: bool


def causes(ways: Ways, last: Access, present: BoolArray, left: IntArray) -> Iterator[Cause]:
    """The rivets `left` (k,) of a core by their causes, most rivets first.

    Args:
        ways: all ways.
        last: access in the state that stayed.
        present: (m,) instances that stood in it.
        left: rivets that nobody can drive.
    """
    reached = np.asarray(last.kind > NONE, dtype=np.bool_)
    driver = reached[:, 0, DRIVE] | reached[:, 1, DRIVE]
    sides = reached[:, :, 0] | reached[:, :, 1]
    side = np.where(sides[:, 0] == sides[:, 1], 2, sides.argmin(axis=1))
    in_room = _least_blocked(ways, present, len(reached)) & ~reached[..., None]
    parts = np.asarray(in_room.any(axis=(1, 2)), dtype=np.bool_)
    alike: dict[tuple[bool, int, tuple[int, ...]], list[int]] = {}
    for rivet in left.tolist():
        key = bool(driver[rivet]), int(side[rivet]), tuple(np.nonzero(parts[rivet])[0].tolist())
        alike.setdefault(key, []).append(rivet)
    for (driven, where, in_way), own in sorted(alike.items(), key=lambda item: (-len(item[1]), item[1])):
        yield Cause("no-hold-up" if driven else "no-driver", SIDES[where], in_way, np.array(own), where < 2)


def _least_blocked(ways: Ways, present: BoolArray, rivets: int) -> BoolArray:
    """(n, 2, 2, m) what stands in the room of the least blocked way of each rivet, side and use."""
    blocked = ways.blocked & present
    group = (ways.rivet * 2 + ways.side) * 2 + ways.use
    order = np.lexsort((blocked.sum(axis=1), group))
    found, first = np.unique(group[order], return_index=True)
    least = np.zeros((rivets * 4, len(present)), dtype=np.bool_)
    least[found] = blocked[order[first]]
    return least.reshape(rivets, 2, 2, len(present))
