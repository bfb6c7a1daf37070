"""The form of [[part]]: rows of bars, forming of plates and bars."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, field_validator, model_validator

from fabplan.job.fields import Count, Form, Length, Mark, NotNegative, Number, Positive, Share, Thickness, Truth


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


class OverForm(Form):
    """Sizes over the outside of a formed plate, along x and y of its still piece and square to it."""

    x: Positive | None = None
    y: Positive | None = None
    z: Positive | None = None

    @model_validator(mode="after")
    def _one(self) -> "OverForm":
        if self.x is None and self.y is None and self.z is None:
            raise ValueError("at least one of `x`, `y` and `z`")
        return self


class MeasuredForm(Form):
    """Sizes of the piece that is there; `holes` names a table of places, `tape` one of sizes from hole to hole."""

    thickness: Thickness | None = None
    over: OverForm | None = None
    across: Positive | None = None
    holes: str = ""
    tape: str = ""
    accuracy: Positive | None = None
    diameter_accuracy: Positive | None = None
    source: str = ""
    photograph: str = ""
    doubt: str = ""

    @model_validator(mode="after")
    def _something(self) -> "MeasuredForm":
        sizes = (self.thickness, self.over, self.across)
        if not self.holes and not self.tape and all(one is None for one in sizes):
            raise ValueError("a `thickness`, sizes `over` or `across`, or `holes` or `tape` with their `accuracy`")
        if self.over is not None and self.across is not None:
            raise ValueError("`across` of a plate rolled as a whole, or `over` of any other that is formed")
        if self.accuracy is not None and not self.holes and not self.tape:
            raise ValueError("the `accuracy` of `holes` or `tape`, mm, only where these are stated")
        if self.tape and self.accuracy is None:
            raise ValueError("the `accuracy` of the sizes of `tape`, mm")
        return self


class MeasuredHoleForm(Form):
    """A row of a table of measured holes; those measured by tape have no places here."""

    hole: Annotated[str, Field(min_length=1)]
    x: Number | None = None
    y: Number | None = None
    diameter: Positive | None = None
    least_diameter: Positive | None = None
    accuracy: Positive | None = None
    diameter_accuracy: Positive | None = None
    source: str = ""
    doubt: str = ""

    @model_validator(mode="after")
    def _both(self) -> "MeasuredHoleForm":
        if self.diameter is not None and self.least_diameter is not None and self.least_diameter > self.diameter:
            raise ValueError("a `least_diameter` no larger than the `diameter`; are the two columns exchanged?")
        if (self.x is None) != (self.y is None):
            raise ValueError("`x` and `y`, or neither where a `tape` tells the places")
        return self


class SizeForm(Form):
    """A row of a table of sizes, straight from hole to hole."""

    start: Annotated[str, Field(alias="from", min_length=1)]
    end: Annotated[str, Field(alias="to", min_length=1)]
    length: Positive

    @model_validator(mode="after")
    def _two_holes(self) -> "SizeForm":
        if self.start == self.end:
            raise ValueError("unlike holes, `from` and `to`")
        return self


class TapeForm(SizeForm):
    """A row of a table of tape sizes, from hole to hole."""

    along: str = ""
    off: Number = 0.0

    @model_validator(mode="after")
    def _far_end(self) -> "TapeForm":
        if self.along == self.start:
            raise ValueError("another hole than `from` as the far end of the tape, `along`")
        if self.off and not self.along:
            raise ValueError("`along`, the hole that the tape is stretched to, where `off` is stated")
        return self


class ProvenanceForm(Form):
    """Where a piece comes from; of any that is not new, the evidence and the doubt."""

    origin: Literal["new", "original", "repaired", "recovered", "copied"]
    evidence: str = ""
    doubt: str = ""

    @model_validator(mode="after")
    def _told(self) -> "ProvenanceForm":
        if self.origin != "new" and not (self.evidence and self.doubt):
            raise ValueError('`evidence` and `doubt` of a piece that is not new; `doubt = "none known"` will do')
        return self


class PartForm(Form):
    """A table [[part]]."""

    mark: Mark
    drawing: str = ""
    section: str = ""
    thickness: Thickness | None = None
    length: Length | None = None
    grade: str = ""
    plate_standard: Literal["", "EN 10051", "EN 10029"] = ""
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
    measured: MeasuredForm | None = None
    provenance: ProvenanceForm | None = None
