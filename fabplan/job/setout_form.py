"""The form of [[setout]]: a seam whose row is to be laid, and where."""

from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, model_validator

from fabplan.job.fields import Form, Mark, Number, Positive, Truth

PlaceOf = Annotated[tuple[Number, ...], Field(min_length=2, max_length=3)]


def _both(value: Any) -> Any:
    """One figure for both ends as a pair."""
    return value if isinstance(value, (list, tuple)) else (value, value)


Pair = Annotated[tuple[Positive, Positive], BeforeValidator(_both)]


class CircleForm(Form):
    """A closed row round a centre on the drawing."""

    centre: tuple[Number, Number]
    radius: Positive


class MirrorForm(Form):
    """The mirror image of another seam in a plane across an axis of the body."""

    seam: Mark
    axis: Literal["x", "y", "z"]
    at: Number


class SetoutForm(Form):
    """A table [[setout]]."""

    seam: Mark
    on: str = ""
    start: Annotated[PlaceOf | None, Field(alias="from")] = None
    end: Annotated[PlaceOf | None, Field(alias="to")] = None
    through: tuple[PlaceOf, ...] = ()
    circle: CircleForm | None = None
    rows: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    zigzag: Truth = False
    back_pitch: Number | None = None
    pitch: Positive | None = None
    end_distance: Pair | None = None
    back_mark: Positive | None = None
    hole: Positive | None = None
    mirror: MirrorForm | None = None

    @model_validator(mode="after")
    def _one_way(self) -> "SetoutForm":
        if (self.start is None) != (self.end is None) or (self.through and self.start is None):
            raise ValueError(
                "`from` and `to`, with corners `through` between them where there are any, or none of them"
            )
        if any(one == other for one, other in pairwise(self.path())):
            raise ValueError("places of which each is another than the one before it")
        if len({len(place) for place in self.path()}) > 1:
            raise ValueError("places all on the drawing (two figures) or all in the body (three)")
        ways = (self.start is not None, self.circle is not None, self.mirror is not None)
        if sum(ways) > 1:
            raise ValueError("one of `from` with `to`, `circle` and `mirror`")
        if (self.start is not None or self.circle is not None) and not self.on:
            raise ValueError("`on`, the piece on whose drawing the places are")
        if self.rows == 1 and (self.zigzag or self.back_pitch is not None):
            raise ValueError("`rows` of 2 or more with `zigzag` or `back_pitch`")
        if self.end_distance is not None and sum(ways):
            raise ValueError("`end_distance` only where the ends are not stated otherwise")
        return self

    def path(self) -> tuple[tuple[float, ...], ...]:
        """All places, from the first hole to the last."""
        ends = (self.start, *self.through, self.end)
        return tuple(place for place in ends if place is not None)
