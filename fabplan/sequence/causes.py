"""Why rivets stay in the core: which side is not reached, what for, and what is in the way there."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.sequence.access import NONE, Access
from fabplan.sequence.reach import DRIVE, ENTER, HOLD, USES, Ways

SIDES = ("the made heads' side", "the points' side", "either side")


@dataclass(frozen=True, slots=True, eq=False)
class Cause:
    """Rivets that one thing keeps from being driven.

    Attributes:
        check: "no-driver", "no-hold-up", or "no-way-in" for rivets that can be driven and held up once they are in.
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
    check, side, asked = _missing(reached)
    in_room = _least_blocked(ways, present, len(reached)) & (~reached & asked)[..., None]
    parts = np.asarray(in_room.any(axis=(1, 2)), dtype=np.bool_)
    alike: dict[tuple[str, int, tuple[int, ...]], list[int]] = {}
    for rivet in left.tolist():
        key = str(check[rivet]), int(side[rivet]), tuple(np.nonzero(parts[rivet])[0].tolist())
        alike.setdefault(key, []).append(rivet)
    for (name, where, in_way), own in sorted(alike.items(), key=lambda item: (-len(item[1]), item[1])):
        yield Cause(name, SIDES[where], in_way, np.array(own), where < 2)


def _missing(reached: BoolArray) -> tuple[npt.NDArray[np.str_], IntArray, BoolArray]:
    """What each rivet lacks, as the name of a check (n,), on which of `SIDES` (n,), and where (n, 2, 3).

    A rivet that can be driven lacks a hold on the other side; one that can be held up too lacks a way in there.
    """
    drive, hold, enter = (reached[:, :, use] for use in (DRIVE, HOLD, ENTER))
    closed = drive & hold[:, ::-1]  # by the side it is driven from
    driven = np.asarray(drive.any(axis=1), dtype=np.bool_)
    shut = np.asarray(closed.any(axis=1) & ~(closed & enter[:, ::-1]).any(axis=1), dtype=np.bool_)
    tools = drive | hold
    side = np.where(tools[:, 0] == tools[:, 1], 2, tools.argmin(axis=1))
    side[shut] = np.where(closed.all(axis=1), 2, closed.argmin(axis=1))[shut]
    check = np.where(shut, "no-way-in", np.where(driven, "no-hold-up", "no-driver"))
    asked = np.zeros_like(reached)
    asked[:, :, DRIVE] = ~driven[:, None]
    asked[:, :, HOLD] = drive[:, ::-1] & ~shut[:, None]
    asked[:, :, ENTER] = closed[:, ::-1] & shut[:, None]
    return check, side, asked


def _least_blocked(ways: Ways, present: BoolArray, rivets: int) -> BoolArray:
    """(n, 2, 3, m) what stands in the room of the least blocked way of each rivet, side and use."""
    group = (ways.rivet * 2 + ways.side) * len(USES) + ways.use
    order = np.lexsort((ways.blocked.pieces(present), group))
    found, first = np.unique(group[order], return_index=True)
    kept = ways.blocked.take(order[first])
    least = np.zeros((rivets * 2 * len(USES), len(present)), dtype=np.bool_)
    least[found[kept.of], kept.instance] = present[kept.instance]
    return least.reshape(rivets, 2, len(USES), len(present))
