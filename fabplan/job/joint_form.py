"""The forms of what joins and sets the pieces: rivets, fasteners, seams, welds, levels, places and their order."""

import re
from typing import Annotated, Literal

from pydantic import Field, model_validator

from fabplan.job.fields import Count, Form, Mark, Number, Positive, Thickness, Triple, Truth


class RivetForm(Form):
    """A table [[rivet]]."""

    mark: Mark
    diameter: Thickness
    hole: Thickness
    head: Literal["round", "countersunk"] = "round"
    point: Literal["round", "countersunk"] = "round"
    closing: Literal["hot", "cold"] = "hot"
    standard: str = ""


class FastenerForm(Form):
    """A table [[fastener]]: what stands in place of a rivet."""

    mark: Mark
    kind: Literal["bolt", "fitted bolt", "tap rivet", "dummy head"]
    diameter: Thickness
    hole: Thickness | None = None
    tapped: Thickness | None = None
    head: Literal["hexagon", "round", "countersunk"] | None = None
    grade: str = ""

    @model_validator(mode="after")
    def _as_its_kind(self) -> "FastenerForm":
        if (self.kind == "tap rivet") != (self.tapped is not None):
            raise ValueError("`tapped`, the hole in the last ply, of a tap rivet, and of no other")
        if self.hole is None and self.kind != "dummy head":
            raise ValueError("a `hole`, as drawn; a dummy head alone has none")
        return self


State = Literal["full", "pilot", "mark", "drilled from mate", "reamed"]


class InsteadForm(Form):
    """Holes of a seam that take another fastener."""

    holes: Annotated[tuple[Count, ...], Field(min_length=1)]
    fastener: Mark


SPAN = re.compile(r"\s*([1-9]\d{0,5})\s*(?:-\s*([1-9]\d{0,5})\s*)?")
"""One number of a hole, or the first and the last of a run."""


def numbers_of(text: str) -> tuple[int, ...]:
    """Numbers of holes along a row, each once, in order; none for all.

    >>> numbers_of("1-3, 7"), numbers_of("all")
    ((1, 2, 3, 7), ())

    Raises:
        ValueError: neither "all" nor numbers and runs of them.
    """
    if text.strip() == "all":
        return ()
    found: set[int] = set()
    for span in text.split(","):
        match = SPAN.fullmatch(span)
        if match is None or int(match[2] or match[1]) < int(match[1]):
            raise ValueError('"all", or numbers along the row, such as "1-9, 12"')
        found.update(range(int(match[1]), int(match[2] or match[1]) + 1))
    return tuple(sorted(found))


class SeamForm(Form):
    """A table [[seam]]; `state` of all plies, or of each in the order of `parts`; `holes` of each."""

    mark: Mark
    parts: tuple[str, ...]
    rivet: str = ""
    fastener: str = ""
    tight: Truth = False
    load: Literal["", "tension", "compression"] = ""
    head: Literal["", "inside", "outside"] = ""
    holes: tuple[str, ...] = ()
    state: State | tuple[State, ...] = "full"
    faying: Literal["", "bare", "painted", "compound"] = ""
    instead: tuple[InsteadForm, ...] = ()

    @model_validator(mode="after")
    def _whole(self) -> "SeamForm":
        if bool(self.rivet) == bool(self.fastener):
            raise ValueError("either `rivet` or `fastener`")
        if not isinstance(self.state, str) and len(self.state) != len(self.parts):
            raise ValueError("one `state` for all plies, or one for each of `parts`")
        if self.holes and len(self.holes) != len(self.parts):
            raise ValueError('`holes` for each of `parts`, "all" where it takes its whole row')
        for text in self.holes:
            numbers_of(text)
        return self

    def states(self) -> tuple[str, ...]:
        """State of each ply."""
        return (self.state,) * len(self.parts) if isinstance(self.state, str) else self.state


class WeldForm(Form):
    """A table [[weld]]."""

    mark: Mark
    parts: Annotated[tuple[str, ...], Field(min_length=2)]
    kind: Literal["fillet", "butt"]
    size: Positive
    length: Positive
    when: Literal["before riveting", "after riveting"]


class OrderForm(Form):
    """A table [[order]]: one step of the foreman's own order of riveting."""

    pieces: tuple[str, ...] = ()
    seams: tuple[str, ...] = ()

    @model_validator(mode="after")
    def _does_something(self) -> "OrderForm":
        if not self.pieces and not self.seams:
            raise ValueError("`pieces` that are put on, `seams` that are riveted, or both")
        return self


class LevelForm(Form):
    """A table [[level]]: rows whose faces are to lie at one height."""

    mark: Mark
    rows: Annotated[tuple[str, ...], Field(min_length=1)]
    height: Number | None = None
    within: Positive = 1.0

    @model_validator(mode="after")
    def _something_to_hold(self) -> "LevelForm":
        if self.height is None and len(self.rows) < 2:
            raise ValueError("a `height`, or two rows or more that are to lie level")
        return self


class PlaceForm(Form):
    """A table [[place]]."""

    part: str
    origin: Triple
    x: Triple
    y: Triple


class OptionForm(Form):
    """One option of a location."""

    mark: Mark
    parts: Annotated[tuple[Mark, ...], Field(min_length=1)]


class LocationForm(Form):
    """A table [[location]]: holes on the body that several fittings share."""

    mark: Mark
    holes: Annotated[str, Field(pattern=r"^[^/]+/[^/]+$")]
    face: Literal["", "marked", "other"] = ""
    greatest_grip: Positive | None = None
    plug: str = ""
    chosen: str = ""
    options: Annotated[tuple[OptionForm, ...], Field(min_length=1)]


class DryFitForm(Form):
    """A table [[dry_fit]]: sizes of the body as it was bolted together, from hole to hole."""

    sizes: Annotated[str, Field(min_length=1)]
    accuracy: Positive
    source: str = ""
    photograph: str = ""
    doubt: str = ""
