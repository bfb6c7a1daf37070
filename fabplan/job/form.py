"""The form of the job file: its tables and keys as pydantic models, used nowhere else.

Words are not taken for numbers nor numbers for words: what a TOML file states is what counts.
"""

import datetime
import math
import re
from typing import Annotated, Any, Literal

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    field_validator,
    model_validator,
)

from fabplan.geom.bend import factor_of, zone_of

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


def _turn(value: float) -> float:
    if not 0.0 < abs(value) < 180.0:
        raise ValueError("an angle over 0 and under 180 degrees, or the same below 0")
    return value


def _mitre(value: float) -> float:
    if not 0.0 < abs(value) <= 75.0:
        raise ValueError("degrees off the square, up to 75, or the same below 0")
    return value


def _not_zero(value: float) -> float:
    if value == 0.0:
        raise ValueError("a figure over 0, or the same below 0 where it goes away from the marked face")
    return value


Limit = Annotated[tuple[float, float], BeforeValidator(_limit)]
Date = Annotated[datetime.date, BeforeValidator(_date)]


class Form(BaseModel):
    """A table of the job file; a key that it does not know is a fault."""

    model_config = ConfigDict(extra="forbid", frozen=True, str_strip_whitespace=True)


class JobForm(Form):
    """The table [job]."""

    title: str = ""
    number: str = ""
    revision: str = ""
    date: Date | None = None
    rules: str = "en1993-1-8-2005"
    datum: str = ""
    exposed: Truth | None = None
    drawings: str = "."


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


class RowForm(Form):
    """A row of holes in a bar."""

    row: Mark
    leg: Literal["a", "b", "w"] = "a"
    back_mark: Positive
    first: NotNegative | None = None
    last: NotNegative | None = None
    pitch: Positive | None = None
    count: Count | None = None
    at: tuple[NotNegative, ...] | None = None
    diameter: Positive
    purpose: Literal["rivet", "bolt", "open"] = "rivet"
    by: Literal["length", "angle"] = "length"


class EndForm(Form):
    """An end of a bar, mitred (degrees off the square) or coped (mm)."""

    end: Literal["first", "last"]
    leg: Literal["a", "b", "w"] = "a"
    mitre: Annotated[Number, AfterValidator(_mitre)] | None = None
    cope: Positive | None = None
    depth: Positive | None = None

    @model_validator(mode="after")
    def _one_of_two(self) -> "EndForm":
        if (self.mitre is None) == (self.cope is None) or (self.depth is not None and self.cope is None):
            raise ValueError("either `mitre`, or `cope` with its `depth` where not the whole leg goes")
        return self


class RingForm(Form):
    """A bar bent to a ring or an arc; angle in degrees."""

    inside_radius: Positive
    centre: Literal["+y", "-y", "+z", "-z"]
    angle: Annotated[Number, Field(gt=0.0, le=360.0)] | None = None


class FoldForm(Form):
    """A fold of a plate; angle in degrees."""

    line: str
    angle: Annotated[Number, AfterValidator(_turn)]
    inside_radius: NotNegative
    k: Share | None = None


class ConeForm(Form):
    """A plate rolled to a cone or frustum."""

    mean_radii: tuple[NotNegative, NotNegative]
    height: Positive
    inside: Literal["marked", "other"] = "marked"
    angle: Annotated[Number, Field(gt=0.0, le=360.0)] = 360.0

    @field_validator("mean_radii")
    @classmethod
    def _unlike(cls, value: tuple[float, float]) -> tuple[float, float]:
        if value[0] == value[1]:
            raise ValueError("two unlike radii; alike ones make a cylinder, which `roll` states")
        return value


class TaperForm(Form):
    """A corner or an edge of a plate that is drawn down, beyond the line between two points of the drawing."""

    start: Annotated[tuple[Number, Number], Field(alias="from")]
    end: Annotated[tuple[Number, Number], Field(alias="to")]
    edge: Positive
    face: Literal["marked", "other"] = "marked"

    @model_validator(mode="after")
    def _two_points(self) -> "TaperForm":
        if self.start == self.end:
            raise ValueError("two unlike points, `from` and `to`")
        return self


class JoggleForm(Form):
    """A joggle of a plate; positive depth towards the marked face."""

    line: str
    depth: Annotated[Number, AfterValidator(_not_zero)]
    run: Positive
    inside_radius: Positive
    k: Share | None = None


class RollForm(Form):
    """A rolled zone of a plate, between two lines."""

    start: Annotated[str, Field(alias="from", min_length=1)]
    end: Annotated[str, Field(alias="to", min_length=1)]
    inside_radius: Annotated[Number, AfterValidator(_not_zero)]


class WholeRollForm(Form):
    """A plate rolled as a whole; `axis` is the direction of the rolls in the drawing."""

    axis: Literal["x", "y"]
    inside_radius: Annotated[Number, AfterValidator(_not_zero)]


class PartForm(Form):
    """A table [[part]]."""

    mark: Mark
    drawing: str = ""
    section: str = ""
    thickness: Thickness | None = None
    length: Length | None = None
    grade: str = ""
    material: str = "steel"
    quantity: Count = 1
    hand: Literal["", "pair"] = ""
    drawn: Literal["R", "L"] = "R"
    supplier: str = ""
    marked: Literal["", "inside", "outside"] = ""
    size: tuple[Positive, Positive] | None = None
    edge: Literal["", "sheared", "machine", "rolled"] = ""
    rows: tuple[RowForm, ...] = ()
    folds: tuple[FoldForm, ...] = ()
    rolls: tuple[RollForm, ...] = ()
    roll: WholeRollForm | None = None
    joggles: tuple[JoggleForm, ...] = ()
    tapers: tuple[TaperForm, ...] = ()
    cone: ConeForm | None = None
    ends: tuple[EndForm, ...] = ()
    ring: RingForm | None = None
    grain: Literal["", "x", "y"] = ""
    formed_size: tuple[Positive, Positive, Positive] | None = None
    bender: str = ""
    formed: Literal["", "template"] = ""
    trim: NotNegative | None = None
    fixed: tuple[Number, Number] | None = None
    packing: Truth = False
    loose: Truth = False
    closing: Truth = False
    mass: Positive | None = None


State = Literal["full", "pilot", "mark", "drilled from mate", "reamed"]


class InsteadForm(Form):
    """Holes of a seam that take another fastener."""

    holes: Annotated[tuple[Count, ...], Field(min_length=1)]
    fastener: Mark


class SeamForm(Form):
    """A table [[seam]]; `state` of all plies, or of each in the order of `parts`."""

    mark: Mark
    parts: tuple[str, ...]
    rivet: str = ""
    fastener: str = ""
    tight: Truth = False
    load: Literal["", "tension", "compression"] = ""
    head: Literal["", "inside", "outside"] = ""
    state: State | tuple[State, ...] = "full"
    faying: Literal["", "bare", "painted", "compound"] = ""
    instead: tuple[InsteadForm, ...] = ()

    @model_validator(mode="after")
    def _whole(self) -> "SeamForm":
        if bool(self.rivet) == bool(self.fastener):
            raise ValueError("either `rivet` or `fastener`")
        if not isinstance(self.state, str) and len(self.state) != len(self.parts):
            raise ValueError("one `state` for all plies, or one for each of `parts`")
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


class BendForm(Form):
    """A row of a bender's own table; angle in degrees, by which the plate turns."""

    thickness: Thickness
    inside_radius: NotNegative
    angle: Annotated[Number, Field(gt=0.0, lt=180.0)] = 90.0
    deduction: Number | None = None
    allowance: Positive | None = None

    @property
    def zone(self) -> float:
        """Length of the bent zone on the blank, mm."""
        if self.allowance is not None:
            return self.allowance
        assert self.deduction is not None
        return zone_of(self.deduction, math.radians(self.angle), self.inside_radius, self.thickness)

    @model_validator(mode="after")
    def _one_of_two(self) -> "BendForm":
        if (self.deduction is None) == (self.allowance is None):
            raise ValueError("either `deduction`, outside legs less blank, or `allowance`, the bent zone on the blank")
        k = factor_of(self.zone, math.radians(self.angle), self.inside_radius, self.thickness)
        if not 0.0 <= k <= 2.0:
            zones = [math.radians(self.angle) * (self.inside_radius + part) for part in (0.0, self.thickness)]
            raise ValueError(f"a bent zone of {zones[0]:.2f} to {zones[1]:.2f} mm, not of {self.zone:.2f} mm")
        return self


class SupplierForm(Form):
    """A table [[supplier]]; what is not stated is assumed where a check needs it, and said so."""

    name: Annotated[str, StringConstraints(min_length=1)]
    limits_dated: Date | None = None
    process: Literal["", "laser", "plasma", "oxy-fuel", "water jet", "punch"] = ""
    smallest_hole: Limit | None = None
    smallest_web: Limit | None = None
    smallest_slot: Limit | None = None
    smallest_corner: Limit | None = None
    smallest_part: tuple[Positive, Positive] | None = None
    bed: tuple[Positive, Positive] | None = None
    sheet: tuple[Positive, Positive] | None = None
    greatest_thickness: Positive | None = None
    dxf_versions: tuple[Literal["R12", "R2000", "R2004", "R2007", "R2010", "R2013", "R2018"], ...] = ()
    units: Literal["", "mm", "inch"] = ""
    layers: dict[Literal["CUT", "RIVET", "BOLT", "MARK", "FOLD", "ROLL", "NOTE"], str] = {}
    marking: Literal["", "cut face", "both faces", "none"] = ""
    die: Limit | None = None
    bends: tuple[BendForm, ...] = ()


class ToolForm(Form):
    """A tool of the shop: [[tool]], or an entry of `tools` in [shop]."""

    name: Annotated[str, StringConstraints(min_length=1)]
    use: Literal["drive", "hold", "squeeze", "enter"]
    nose_diameter: Positive
    nose_length: Positive
    body_diameter: Positive
    body_length: Positive
    body_offset: NotNegative = 0.0
    room_diameter: NotNegative = 0.0
    room_length: NotNegative = 0.0
    crank: NotNegative = 0.0
    handle: NotNegative = 0.0
    swing: Annotated[NotNegative, Field(le=90.0)] = 0.0
    throat: NotNegative = 0.0
    largest: NotNegative = 0.0
    closing: Literal["", "hot", "cold"] = ""

    @model_validator(mode="after")
    def _of_one_kind(self) -> "ToolForm":
        if (self.throat > 0.0) != (self.use == "squeeze"):
            raise ValueError("a `throat` for a tool that squeezes, and for no other")
        if (self.handle > 0.0) != (self.swing > 0.0) or (self.room_diameter > 0.0) != (self.room_length > 0.0):
            raise ValueError("`handle` with `swing`, `room_diameter` with `room_length`, or neither")
        if sum(size > 0.0 for size in (self.throat, self.handle, self.crank)) > 1:
            raise ValueError("one of `throat`, `handle` and `crank`")
        return self


class ShopForm(Form):
    """The table [shop]; what is not stated keeps the default of `fabplan.model.job.Shop`."""

    driving_order: Literal["middle outwards", "back-step", "end to end", "alternate then fill"] | None = None
    service_bolt_share: Share | None = None
    service_bolt_share_tight: Share | None = None
    spares_percent: Annotated[NotNegative, Field(le=100.0)] | None = None
    trial_margin: Annotated[NotNegative, Field(le=0.2)] | None = None
    cutting_deviation: NotNegative | None = None
    hot_growth: Annotated[NotNegative, Field(le=0.05)] | None = None
    hoist: Positive | None = None
    compound_minutes: Positive | None = None
    rivets_per_hour: Positive | None = None
    reach_length: Positive | None = None
    hand_opening: Positive | None = None
    arm_opening: Positive | None = None
    man_opening: Positive | None = None
    assumed_tools: Truth | None = None


class AcceptForm(Form):
    """A table [[accept]]: a finding that somebody answers for."""

    check: Annotated[str, StringConstraints(min_length=1)]
    fingerprint: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{8,64}$")]
    by: Annotated[str, StringConstraints(min_length=1)]
    date: Date
    reason: Annotated[str, StringConstraints(min_length=3)]
    drawing: str = ""
    part: str = ""
    seam: str = ""
    holes: tuple[str, ...] = ()


class HoldForm(Form):
    """A table [[hold]]: work stops after a kind of step until somebody has signed."""

    step: Literal["datum", "erect", "dry-fit", "square", "template", "weld", "rivet", "close", "bolt", "test"]
    by: Annotated[str, StringConstraints(min_length=1, max_length=60)]
    what: str = ""


LISTS: dict[str, type[Form]] = {
    "rivet": RivetForm,
    "fastener": FastenerForm,
    "part": PartForm,
    "seam": SeamForm,
    "weld": WeldForm,
    "level": LevelForm,
    "order": OrderForm,
    "place": PlaceForm,
    "supplier": SupplierForm,
    "tool": ToolForm,
    "accept": AcceptForm,
    "hold": HoldForm,
}
"""Tables that may stand more than once, as [[rivet]]."""

SINGLE: dict[str, type[Form]] = {"job": JobForm, "shop": ShopForm}
"""Tables that stand once, as [job]; [layers] holds free names and has no form."""

SHEETS = {"parts": "part", "rows": "rows", "folds": "folds"}
"""Keys that name a spreadsheet, and the table or the list of a part whose records it holds."""

LATER = {
    "origin": "where an old piece comes from",
    "table_height": "the ground and the table under the work",
}
"""Keys that the job file is to have one day: named, so that nobody takes silence for consent."""

ROLES = ("CUT", "RIVET", "BOLT", "MARK", "FOLD", "ROLL", "NOTE")
"""Roles of layers; a row name may follow RIVET and BOLT."""
