"""What is asked for one seam, and the refusal of places where a hole cannot be."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.errors import SetoutError
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.setout import SetoutSpec
from fabplan.setout.heads import Heads
from fabplan.setout.limits import Limits
from fabplan.setout.ply import Ply
from fabplan.setout.room import Room

MEND = "Move the row or its ends, or what stands in its way."


@dataclass(frozen=True, slots=True, eq=False)
class Wish:
    """A seam to be set out: what is stated, its plies from the head side, its limits and its heads."""

    spec: SetoutSpec
    plies: tuple[Ply, ...]
    limits: Limits
    heads: Heads


def hold(found: Room, heads: Heads) -> None:
    """Refuse places at which a hole cannot be.

    Raises:
        SetoutError: there is one; the first reason is told.
    """
    wrong = np.where(found.off >= 0, found.off, found.taken)
    told = [(int(np.argmax(wrong >= 0)), found.words[int(wrong[np.argmax(wrong >= 0)])])] if np.any(wrong >= 0) else []
    told += [(int(np.argmax(struck)), words) for struck, words in heads.in_way(found.met, ordinary=False)]
    for number, words in told:
        raise SetoutError(f"hole {number + 1} of the row cannot be: {words}", MEND)


def without(plies: Sequence[Ply], taken: Sequence[FloatArray]) -> tuple[Ply, ...]:
    """The plies without some of their holes, (k, 2) of each."""
    return tuple(_less(ply, xy) if len(xy) else ply for ply, xy in zip(plies, taken, strict=True))


def _less(ply: Ply, xy: FloatArray) -> Ply:
    apart = np.linalg.norm(ply.holes.xy[:, None] - xy[None], axis=2).min(axis=1)
    kept = np.nonzero(apart > FIGURE)[0].tolist()
    holes = ply.holes
    row, number, purpose, handle = (
        tuple(column[k] for k in kept) for column in (holes.row, holes.number, holes.purpose, holes.handle)
    )
    left = type(holes)(holes.xy[kept], holes.diameter[kept], row, number, purpose, handle)
    return replace(ply, holes=left, spare=ply.spare[kept])
