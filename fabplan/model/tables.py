"""Published shop tables as read from the data files of `fabplan.rules`."""

from dataclasses import dataclass

from fabplan.model.tool import Tool


@dataclass(frozen=True, slots=True)
class Section:
    """A rolled section. Lengths mm, area mm2, mass kg/m.

    Attributes:
        name: as the job writes it, without blanks: "L50x50x6".
        kind: "angle", "flat", "channel", "tee" or "half-round".
        a, b, t: legs and thickness of an angle; width (b = 0) and thickness of a flat, and of a half-round at its
            middle; both flanges and their thickness of a channel, at half their width where they taper; flange, height
            over all and thickness of the flange of a tee.
        root_radius: inner fillet where two legs meet.
        toe_radius: radius of the leg tips.
        area: cross section.
        mass: per metre.
        source: the table it was read from.
        web: height of a channel over both flanges, else 0.
        web_thickness: of a channel's web and of a tee's stem, else 0.
        taper: slope of the inner faces of a channel's flanges: 0.08, or 0 where they are parallel.
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
    web: float = 0.0
    web_thickness: float = 0.0
    taper: float = 0.0


@dataclass(frozen=True, slots=True)
class Gauge:
    """The usual place of a single row of holes in a leg, and the largest hole that the leg takes there. Lengths mm.

    Attributes:
        of: "leg" of an angle or flange of a channel, "flange" or "stem" of a tee.
        width: of the leg.
        back_mark: from the heel; of a tee's flange the distance between its two rows, one on either side of the stem.
        largest_hole: diameter.
        source: the table it was read from.
    """

    of: str
    width: float
    back_mark: float
    largest_hole: float
    source: str


@dataclass(frozen=True, slots=True)
class LegLimits:
    """What is asked of rows and heads on the legs of sections, each with its source. Lengths mm.

    Attributes:
        off_gauge: how far a row may stand off its usual gauge before it is told.
        root_clearance: how clear of the root a head must be.
        head_gap: how far the rim of a flat head may stand off.
        slope: of a face under a head or nut, rise over run.
    """

    off_gauge: float
    off_gauge_source: str
    root_clearance: float
    root_source: str
    head_gap: float
    head_gap_source: str
    slope: float
    slope_source: str


@dataclass(frozen=True, slots=True)
class FastenerLimits:
    """What is asked of bolts, tap rivets, packings and welds, each with its source.

    Attributes:
        fitted_play: mm that the hole of a fitted bolt may be over its shank.
        thread: diameters of thread that a tap rivet wants in the tapped ply.
        packing: diameters of packing from which a fastener counts as weaker.
        throat_least, length_least: throat and length of a fillet weld, mm.
        throat_share: greatest throat, in thicknesses of the thinner plate.
        length_throats: least length of a fillet, in throats.
        weld_gap: mm that pieces to be welded may lie apart.
    """

    fitted_play: float
    fitted_source: str
    thread: float
    thread_source: str
    packing: float
    packing_source: str
    throat_least: float
    throat_source: str
    throat_share: float
    share_source: str
    length_least: float
    length_throats: float
    length_source: str
    weld_gap: float
    weld_gap_source: str


@dataclass(frozen=True, slots=True)
class BoltHole:
    """What a normal round hole is over its bolt, mm."""

    d: float
    add: float
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
class NearLimits:
    """Room between a rivet's centre and an upstand, as a share of the head's diameter and so many mm more.

    Attributes:
        least: share for a snap or dolly made for the place: nearer than that nothing is driven.
        ordinary: share for ordinary ones.
        plus: mm.
        source: where the rule stands.
    """

    least: float
    ordinary: float
    plus: float
    source: str


@dataclass(frozen=True, slots=True)
class StockLengths:
    """Lengths that rivets are stocked in, mm, for shank diameters in a range (both ends included)."""

    standard: str
    d_least: float
    d_greatest: float
    lengths: tuple[float, ...]
    source: str


@dataclass(frozen=True, slots=True)
class BendRadius:
    """Least inside radius of a fold in plate over `over` and up to `to` mm thick, mm.

    `across` holds for a fold across the rolling direction, `along` for one along it.
    """

    grade: str
    over: float
    to: float
    across: float
    along: float
    source: str


@dataclass(frozen=True, slots=True)
class LengthLimit:
    """How far a length over `over` and up to `to` mm may be off, plus or minus, mm."""

    over: float
    to: float
    tolerance: float
    source: str


@dataclass(frozen=True, slots=True)
class Tables:
    """All shop tables; `density` in kg/m3."""

    sections: tuple[Section, ...]
    heads: tuple[HeadForm, ...]
    lengths: tuple[StockLengths, ...]
    tools: tuple[Tool, ...]
    near: NearLimits
    density: float
    density_source: str
    gauges: tuple[Gauge, ...]
    leg_limits: LegLimits
    bend_radii: tuple[BendRadius, ...]
    lengths_off: tuple[LengthLimit, ...]
    fasteners: FastenerLimits
    bolt_holes: tuple[BoltHole, ...]
