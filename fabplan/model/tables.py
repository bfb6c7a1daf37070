"""Published shop tables as read from the data files of `fabplan.rules`."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Section:
    """A rolled section. Lengths mm, area mm2, mass kg/m.

    Attributes:
        name: as the job writes it, without blanks: "L50x50x6".
        kind: "angle" or "flat".
        a, b, t: legs and thickness of an angle; width (b = 0) and thickness of a flat.
        root_radius: inner fillet of an angle.
        toe_radius: radius of the leg tips.
        area: cross section.
        mass: per metre.
        source: the table it was read from.
    """

    name: str
    kind: str
    a: float
    b: float
    t: float
    root_radius: float
    toe_radius: float
    area: float
    mass: float
    source: str


@dataclass(frozen=True, slots=True)
class HeadForm:
    """One row of a table of rivet heads, mm; `angle` in degrees for countersunk heads, else 0."""

    standard: str
    form: str
    d: float
    head_diameter: float
    head_height: float
    angle: float
    source: str


@dataclass(frozen=True, slots=True)
class Tool:
    """A driving or holding-up tool as two cylinders on the rivet's axis. Lengths mm.

    The nose stands on the head, its diameter `nose_over_head` more than the head's; the body stands behind it and may
    lie off the axis by `body_offset` in any direction.
    """

    name: str
    use: str  # "drive" or "hold"
    nose_over_head: float
    nose_length: float
    body_diameter: float
    body_length: float
    body_offset: float
    source: str
    assumed: bool = True


@dataclass(frozen=True, slots=True)
class StockLengths:
    """Lengths that rivets are stocked in, mm, for shank diameters in a range (both ends included)."""

    standard: str
    d_least: float
    d_greatest: float
    lengths: tuple[float, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Tables:
    """All shop tables; `density` in kg/m3."""

    sections: tuple[Section, ...]
    heads: tuple[HeadForm, ...]
    lengths: tuple[StockLengths, ...]
    tools: tuple[Tool, ...]
    density: float
    density_source: str
