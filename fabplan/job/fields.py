"""Kinds of values of the job file, as pydantic types.

Words are not taken for numbers nor numbers for words: what a TOML file states is what counts.
"""

import datetime
import math
import re
from typing import Annotated, Any

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
)

_LIMIT = re.compile(r"(?:(\d+(?:\.\d+)?)\s*\+\s*)?(\d+(?:\.\d+)?)\s*t")
_UNPRINTABLE = r"^[^/\x00-\x1f\x7f]+$"

Mark = Annotated[str, StringConstraints(min_length=1, max_length=60, pattern=_UNPRINTABLE)]
Number = Annotated[float, Field(strict=True, allow_inf_nan=False)]
Positive = Annotated[float, Field(strict=True, gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(strict=True, ge=0.0, allow_inf_nan=False)]
Share = Annotated[float, Field(strict=True, gt=0.0, le=1.0, allow_inf_nan=False)]
Thickness = Annotated[float, Field(strict=True, gt=0.0, le=300.0, allow_inf_nan=False)]
Length = Annotated[float, Field(strict=True, gt=0.0, le=100_000.0, allow_inf_nan=False)]
Count = Annotated[int, Field(strict=True, ge=1, le=10_000)]
Truth = Annotated[bool, Field(strict=True)]
Triple = tuple[Number, Number, Number]


def _limit(value: Any) -> Any:
    """A limit as (mm, times t) from a number in mm, "<number> t" or "<mm> + <number> t"."""
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value >= 0 and math.isfinite(value):
        return float(value), 0.0
    found = _LIMIT.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None:
        raise ValueError('a number in mm, or "<number> t", such as "1.0 t"')
    return float(found[1] or 0.0), float(found[2])


def _date(value: Any) -> Any:
    """A date as TOML writes it, or the same in quotation marks."""
    if isinstance(value, datetime.datetime):
        return value.date()
    if isinstance(value, datetime.date):
        return value
    try:
        return datetime.date.fromisoformat(value)
    except (TypeError, ValueError):
        raise ValueError("a date, such as 2026-11-02") from None


Limit = Annotated[tuple[float, float], BeforeValidator(_limit)]
Date = Annotated[datetime.date, BeforeValidator(_date)]


class Form(BaseModel):
    """A table of the job file; a key that it does not know is a fault."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)
