"""The forms of those who make it: [[supplier]], [[tool]], [shop]."""

import math
from typing import Annotated, Literal

from pydantic import Field, StringConstraints, model_validator

from fabplan.geom.bend import factor_of, zone_of
from fabplan.job.fields import Date, Form, Limit, NotNegative, Number, Positive, Share, Thickness, Truth


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
    layers: dict[Literal["CUT", "RIVET", "BOLT", "MARK", "FOLD", "ROLL", "NOTE"], str] = Field(default_factory=dict)
    marking: Literal["", "cut face", "both faces", "none"] = ""
    die: Limit | None = None
    bends: tuple[BendForm, ...] = ()


class ToolForm(Form):
    """A tool of the shop: [[tool]], or an entry of `tools` in [shop]."""

    name: Annotated[str, StringConstraints(min_length=1)]
    use: Literal["drive", "hold", "squeeze", "enter", "turn", "keep"]
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
        if self.use in ("turn", "keep") and not self.handle > 0.0:
            raise ValueError("a `handle` for a tool that turns a nut or keeps a head")
        still = self.use == "keep"
        if (self.handle > 0.0) != (self.swing > 0.0 or still) or (still and self.swing > 0.0):
            raise ValueError("`handle` with `swing`, or neither; no `swing` for a tool that keeps a head")
        if (self.room_diameter > 0.0) != (self.room_length > 0.0):
            raise ValueError("`room_diameter` with `room_length`, or neither")
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
    table_height: NotNegative | None = None
    turn_over_minutes: Positive | None = None
    lift_minutes: Positive | None = None
    open_minutes: Positive | None = None
    ease_minutes: Positive | None = None
    next_size_minutes: Positive | None = None
    remake_minutes: Positive | None = None
    align_minutes: NotNegative | None = None
    assumed_tools: Truth | None = None
