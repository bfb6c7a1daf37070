"""The form of the job file: its tables and keys as pydantic models, used nowhere else."""

import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, StringConstraints

Mark = Annotated[str, StringConstraints(min_length=1, pattern=r"^[^/]+$")]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
Place = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Triple = tuple[float, float, float]


def _limit(value: Any) -> tuple[float, float]:
    """A limit as (mm, times t): a number in mm, or "<number> t"."""
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value >= 0:
        return float(value), 0.0
    if isinstance(value, str) and value.strip().endswith("t"):
        try:
            return 0.0, float(value.strip()[:-1])
        except ValueError:
            pass
    raise ValueError('a number in mm, or "<number> t"')


Limit = Annotated[tuple[float, float], BeforeValidator(_limit)]


class Form(BaseModel):
    """A table of the job file: no unknown keys, no silent conversion of words to numbers."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class JobForm(Form):
    """The table [job]."""

    title: str = ""
    number: str = ""
    revision: str = ""
    date: datetime.date | None = None
    rules: str = "en1993-1-8-2005"
    datum: str = ""
    exposed: bool | None = None
    drawings: str = "."


class RivetForm(Form):
    """A table [[rivet]]."""

    mark: Mark
    diameter: Positive
    hole: Positive
    head: Literal["round", "countersunk"] = "round"
    point: Literal["round", "countersunk"] = "round"
    closing: Literal["hot", "cold"] = "hot"
    standard: str = ""


class RowForm(Form):
    """A row of holes in a bar."""

    row: Mark
    leg: Literal["a", "b"] = "a"
    back_mark: Positive
    first: Place | None = None
    last: Place | None = None
    pitch: Positive | None = None
    count: Annotated[int, Field(ge=1)] | None = None
    at: tuple[Place, ...] | None = None
    diameter: Positive
    purpose: Literal["rivet", "bolt", "open"] = "rivet"


class FoldForm(Form):
    """A fold of a plate; angle in degrees."""

    line: str
    angle: float
    inside_radius: Place


class PartForm(Form):
    """A table [[part]]."""

    mark: Mark
    drawing: str = ""
    section: str = ""
    thickness: Positive | None = None
    length: Positive | None = None
    grade: str = ""
    material: str = "steel"
    quantity: Annotated[int, Field(ge=1)] = 1
    hand: Literal["", "pair"] = ""
    drawn: Literal["R", "L"] = "R"
    supplier: str = ""
    marked: Literal["", "inside", "outside"] = ""
    size: tuple[Positive, Positive] | None = None
    edge: Literal["", "sheared", "machine", "rolled"] = ""
    rows: tuple[RowForm, ...] = ()
    folds: tuple[FoldForm, ...] = ()
    loose: bool = False
    closing: bool = False
    mass: Positive | None = None


class SeamForm(Form):
    """A table [[seam]]."""

    mark: Mark
    parts: Annotated[tuple[str, ...], Field(min_length=2)]
    rivet: str
    tight: bool = False
    load: Literal["", "tension", "compression"] = ""
    head: Literal["", "inside", "outside"] = ""
    state: Literal["full", "pilot", "mark", "drilled from mate"] = "full"


class PlaceForm(Form):
    """A table [[place]]."""

    part: str
    origin: Triple
    x: Triple
    y: Triple


class SupplierForm(Form):
    """A table [[supplier]]."""

    name: str
    limits_dated: datetime.date | None = None
    process: str = ""
    smallest_hole: Limit | None = None
    smallest_web: Limit | None = None
    bed: tuple[Positive, Positive] | None = None
    dxf_versions: tuple[str, ...] = ()


class ToolForm(Form):
    """A tool of the shop, in [shop] tools."""

    name: str
    use: Literal["drive", "hold"]
    nose_diameter: Positive
    nose_length: Positive
    body_diameter: Positive
    body_length: Positive
    body_offset: Place = 0.0


class ShopForm(Form):
    """The table [shop]; what is not stated keeps the default of `fabplan.model.job.Shop`."""

    driving_order: Literal["middle outwards", "end to end", "skip"] | None = None
    service_bolt_share: Annotated[float, Field(gt=0.0, le=1.0)] | None = None
    service_bolt_share_tight: Annotated[float, Field(gt=0.0, le=1.0)] | None = None
    spares_percent: Annotated[float, Field(ge=0.0, le=100.0)] | None = None
    trial_margin: Annotated[float, Field(ge=0.0, le=0.2)] | None = None
    cutting_deviation: Place | None = None
    hot_growth: Annotated[float, Field(ge=0.0, le=0.05)] | None = None
    table_height: Positive | None = None
    hoist: Positive | None = None
    reach_length: Positive | None = None
    man_opening: Positive | None = None
    tools: tuple[ToolForm, ...] = ()


class JobFile(Form):
    """The whole file; `parts`, `rows` and `folds` name a spreadsheet that holds those tables."""

    job: JobForm = JobForm()
    rivet: tuple[RivetForm, ...] = ()
    part: tuple[PartForm, ...] = ()
    seam: tuple[SeamForm, ...] = ()
    place: tuple[PlaceForm, ...] = ()
    supplier: tuple[SupplierForm, ...] = ()
    layers: dict[str, str] = {}
    shop: ShopForm = ShopForm()


LATER = {
    "rolls": "rolled plates",
    "roll": "rolled plates",
    "ring": "bars bent to a ring",
    "origin": "provenance",
    "accept": "accepted findings",
    "order": "the foreman's own order",
}
"""Keys that the job file is to have one day: named, so that nobody takes silence for consent."""
