"""A change of a piece that may undo a mistake, and how pieces with such changes are made."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.pose import to_own
from fabplan.geom.profile import bounds
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Drawing
from fabplan.model.job import PartSpec
from fabplan.model.part import Part

Remake = Callable[[PartSpec, Drawing | None], tuple[Part, ...]]
OtherHand = Callable[[Drawing], Drawing]
Forms = Mapping[str, Part]
"""The form of a mark by hand: "" for a piece without one, "R" and "L" of a pair."""


@dataclass(frozen=True, slots=True, eq=False)
class Shop:
    """What is needed to make a piece anew: from its specification and drawing, and the opposite hand of a drawing."""

    remake: Remake
    other_hand: OtherHand


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """One single change that may undo a mistake.

    Attributes:
        kind: the mistake, in words of the trade, the same for all of its sort.
        what: the mistake with its piece, row and figures.
        cure: what to do.
        forms: the forms of the mark, once changed.
        by: how far it moves holes, mm; 0 for a change of another sort.
        choices: among how many of its sort it was picked: 1 for one that leaves no choice, such as turning a strip.
    """

    kind: str
    what: str
    cure: str
    forms: Forms
    by: float = 0.0
    choices: int = 1


def with_places(part: Part, holes: IntArray, xy: FloatArray) -> Part:
    """The piece with some holes elsewhere on their panels."""
    every = part.holes.holes.xy.copy()
    every[holes] = xy
    return replace(part, holes=replace(part.holes, holes=replace(part.holes.holes, xy=every)))


def with_hole(part: Part, beside: int, shift: FloatArray) -> Part:
    """The piece with one more hole like `beside`, `shift` (2,) mm from it."""
    every = np.append(np.arange(len(part.holes.holes)), beside)
    more = _chosen(part, every)
    xy = more.holes.holes.xy.copy()
    xy[-1] += shift
    return replace(more, holes=replace(more.holes, holes=replace(more.holes.holes, xy=xy)))


def with_hole_at(part: Part, like: int, place: FloatArray) -> Part:
    """The piece with one more hole like another, on that facet of its round that lies under `place` (3,), mm."""
    found: tuple[float, int, FloatArray] | None = None
    for number, panel in enumerate(part.panels):
        local = to_own(panel.frame, place)
        low, high = bounds(panel.outline).reshape(2, 2)
        beside = float(np.maximum(np.maximum(low - local[:2], local[:2] - high), 0.0).sum()) + abs(float(local[2]))
        if found is None or beside < found[0]:
            found = beside, number, local[:2]
    assert found is not None
    more = _chosen(part, np.append(np.arange(len(part.holes.holes)), like))
    xy, panels = more.holes.holes.xy.copy(), more.holes.panel.copy()
    panels[-1], xy[-1] = found[1], found[2]
    return replace(more, holes=replace(more.holes, holes=replace(more.holes.holes, xy=xy), panel=panels))


def without_hole(part: Part, hole: int) -> Part:
    """The piece without one hole."""
    return _chosen(part, np.delete(np.arange(len(part.holes.holes)), hole))


def _chosen(part: Part, index: IntArray) -> Part:
    """The piece with holes by their numbers, in that order, some more than once."""
    old = part.holes.holes
    columns = {
        name: tuple(getattr(old, name)[i] for i in index.tolist()) for name in ("row", "number", "purpose", "handle")
    }
    holes = replace(old, xy=old.xy[index], diameter=old.diameter[index], **columns)
    return replace(part, holes=replace(part.holes, holes=holes, panel=part.holes.panel[index]))


def each_hand(forms: Forms, drawn: Part, change: Callable[[Part, FloatArray], Part]) -> Forms:
    """All hands of the mark changed as the one wants it; x runs the other way on the other hand."""
    return {hand: change(form, np.array([1.0 if hand == drawn.hand else -1.0, 1.0])) for hand, form in forms.items()}
