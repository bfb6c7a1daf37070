"""The job file as read: what the draughtsman states, nothing worked out yet."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from fabplan.model.bends import BarEnd, BendRow, ConeSpec, FoldSpec, JoggleSpec, RingSpec, RollSpec, TaperSpec
from fabplan.model.joints import LevelSpec, OrderSpec, PlaceSpec, RivetSpec, SeamSpec, WeldSpec
from fabplan.model.tool import Tool

if TYPE_CHECKING:  # what a check of drawings alone never meets is not loaded for it
    from fabplan.model.dry_fit import DryFitSpec
    from fabplan.model.fitting import LocationSpec
    from fabplan.model.measured import Measured
    from fabplan.model.provenance import Provenance
    from fabplan.model.setout import SetoutSpec


@dataclass(frozen=True, slots=True)
class RowSpec:
    """A row of holes in one leg of a bar. Lengths mm, measured from the marked end and from the heel.

    Attributes:
        row: name of the row.
        leg: "a" or "b"; "w" for the web of a channel (a flat or half-round bar has only "a").
        back_mark: distance of the row from the heel (flat bar, half-round and flange of a tee: from the edge y = 0;
            flange of a channel: from the back of its web; stem of a tee: from the face of its flange).
        at: places along the bar, already worked out from `first`, `last`, `pitch`, `count` or `at`.
        diameter: hole diameter.
        purpose: rivet, bolt or open.
        by: "length", or "angle" where `at` holds degrees round a bent bar from its marked end; of a made `Part` the
            places are always lengths along the straight bar.
    """

    row: str
    leg: str
    back_mark: float
    at: tuple[float, ...]
    diameter: float
    purpose: str = "rivet"
    by: str = "length"


@dataclass(frozen=True, slots=True)
class PartSpec:
    """One piece as ordered. Lengths mm, mass kg.

    Attributes:
        mark: piece mark.
        drawing: file name of its drawing, relative to the job's folder of drawings, or "" for a bar.
        section: section name of a bar ("L50x50x6", "FL50x6", "UPN100"), or "" for a plate.
        thickness: of a plate as drawn and ordered; None when not stated.
        measured: sizes of the piece that is there, where it was measured: what the body is built of; else None.
        length: of a bar, straight; None for a plate, and where the angle of its `ring` settles it.
        grade: steel grade, "" when not stated.
        plate_standard: "EN 10051" (rolled from strip), "EN 10029" (rolled as plate) or "": how thick it may come.
        material: "steel" unless stated otherwise.
        quantity: how many, per hand.
        hand: "" or "pair".
        drawn: "R" or "L": the hand that the drawing shows, for a pair.
        supplier: name of the supplier, or "".
        marked: "inside", "outside" or "": where the marked face looks.
        size: stated overall size of the blank, or None.
        edge: "sheared", "machine", "rolled" or "" (by the supplier's process).
        rows: rows of holes of a bar.
        folds: folds of a plate.
        rolls: rolled zones of a plate.
        joggles: joggles of a plate.
        tapers: corners and edges of a flat plate that are drawn down.
        cone: the cone that a plate is rolled to; None for any other.
        ends: ends of a bar that are not sawn square.
        ring: how a bar is bent; None for a straight one.
        grain: "x" or "y", the direction of the plate's rolling in the drawing, or "" where it is not stated.
        formed_size: stated size over the outside when formed, along x and y of the still piece and square to it, mm.
        bender: name of the supplier who forms it, or "" where it is `supplier`.
        formed: "template" for a plate whose form no development gives (dished, flanged round a corner), else "".
        trim: allowance left on the edges of such a plate, to be trimmed off when it fits, mm; None where not stated.
        fixed: a point of the blank, mm, on the flat piece that keeps still in forming; None takes the largest.
        packing: True for a packing: it fills a space and carries no load.
        loose: True for a piece that is lifted out for access while riveting.
        closing: True where the job names this piece as a closing piece, fitted last.
        mass: stated mass, or None to work it out.
        provenance: where it comes from; None where not stated, and then it is new.
        place: where in the job file it stands, for messages.
    """

    mark: str
    drawing: str = ""
    section: str = ""
    thickness: float | None = None
    length: float | None = None
    grade: str = ""
    material: str = "steel"
    quantity: int = 1
    hand: str = ""
    drawn: str = "R"
    supplier: str = ""
    marked: str = ""
    size: tuple[float, float] | None = None
    edge: str = ""
    rows: tuple[RowSpec, ...] = ()
    folds: tuple[FoldSpec, ...] = ()
    rolls: tuple[RollSpec, ...] = ()
    joggles: tuple[JoggleSpec, ...] = ()
    tapers: tuple[TaperSpec, ...] = ()
    cone: ConeSpec | None = None
    ends: tuple[BarEnd, ...] = ()
    ring: RingSpec | None = None
    grain: str = ""
    formed_size: tuple[float, float, float] | None = None
    bender: str = ""
    formed: str = ""
    trim: float | None = None
    fixed: tuple[float, float] | None = None
    packing: bool = False
    loose: bool = False
    closing: bool = False
    mass: float | None = None
    measured: "Measured | None" = None
    provenance: "Provenance | None" = None
    plate_standard: str = ""
    place: str = ""

    @property
    def measured_thickness(self) -> float | None:
        """Of a plate, where it was measured."""
        return self.measured.thickness if self.measured is not None else None

    @property
    def master(self) -> bool:
        """True where its holes were measured: they are steel, which mates follow and no drawing moves."""
        return self.measured is not None and bool(self.measured.holes)

    @property
    def made(self) -> bool:
        """False for a piece that is there already: neither cut nor bought."""
        return self.provenance is None or self.provenance.made


@dataclass(frozen=True, slots=True)
class Supplier:
    """A supplier's limits, stated by him and dated; a limit not stated is None and then assumed, and said so.

    Limits that grow with the thickness are pairs (mm, times t): the limit is mm + times * t.

    Attributes:
        name: of the supplier.
        limits_dated: ISO date on which he stated them, or "".
        process: how he cuts: "laser", "plasma", "oxy-fuel", "water jet", "punch" or "".
        smallest_hole, smallest_web, smallest_slot: diameter of a hole, metal between two cuts, width of a slot.
        smallest_corner: radius of an inner corner.
        smallest_part: length and width of a piece that does not fall through the grid, mm.
        bed: length and width of his machine, mm.
        sheet: usable length and width of the sheets that he keeps, mm.
        greatest_thickness: mm.
        dxf_versions: that he reads ("R12", "R2000", ...); () for any.
        units: that he takes a drawing in: "mm", "inch" or "".
        layers: pairs (role, layer name) that he wants; () for any.
        marking: "cut face", "both faces", "none" or "": whether he marks lines and centres, and on which face.
        die: opening of the die that he folds with.
        bends: his own table of bends, in place of DIN 6935.
    """

    name: str
    limits_dated: str = ""
    process: str = ""
    smallest_hole: tuple[float, float] | None = None
    smallest_web: tuple[float, float] | None = None
    smallest_slot: tuple[float, float] | None = None
    smallest_corner: tuple[float, float] | None = None
    smallest_part: tuple[float, float] | None = None
    bed: tuple[float, float] | None = None
    sheet: tuple[float, float] | None = None
    greatest_thickness: float | None = None
    dxf_versions: tuple[str, ...] = ()
    units: str = ""
    layers: tuple[tuple[str, str], ...] = ()
    marking: str = ""
    die: tuple[float, float] | None = None
    bends: tuple[BendRow, ...] = ()


@dataclass(frozen=True, slots=True)
class AcceptSpec:
    """A finding that somebody answers for. It holds for one geometry only, and lapses when that changes.

    Attributes:
        check: name of the check.
        fingerprint: the first eight signs or more of the drawing's fingerprint; of the kit's for a finding on a seam, a
            bar or the whole body.
        by: who accepts it.
        date: ISO date.
        reason: why it may stand.
        drawing, part, seam: where; "" does not matter.
        holes: numbers of the holes that it covers; () covers all.
        place: where in the job file it stands.
    """

    check: str
    fingerprint: str
    by: str
    date: str
    reason: str
    drawing: str = ""
    part: str = ""
    seam: str = ""
    holes: tuple[str, ...] = ()
    place: str = ""


@dataclass(frozen=True, slots=True)
class HoldSpec:
    """A hold point: after each step of a kind the work stops until somebody has signed.

    Attributes:
        step: kind of step, one of `fabplan.model.sequence.STEP_KINDS`.
        by: who signs.
        what: what is released or witnessed, "" where not stated.
    """

    step: str
    by: str
    what: str = ""


@dataclass(frozen=True, slots=True)
class Shop:
    """Settings of the shop; each has a stated default, printed where it is used. Lengths mm.

    Attributes:
        compound_minutes: how long jointing compound stays open, or None.
        rivets_per_hour: what a gang drives (25, pneumatic and hot, planning practice).
        driving_order: "middle outwards", "back-step", "end to end" or "alternate then fill".
        service_bolt_share: share of holes bolted in the dry fit of a plain seam (1 in 3, common practice).
        service_bolt_share_tight: the same for a tight seam (1 in 2, from memory).
        spares_percent: rivets ordered over the count.
        trial_margin: share added to a shank for scale and flash when hot (0.03).
        cutting_deviation: how much smaller than drawn a hole may be cut (0.25, ISO 9013 class 1).
        hot_growth: how much fatter a hot rivet is (0.012, from memory).
        hoist: greatest lift, kg, or None.
        reach_length: how far a hand reaches from the tool's end, along the way of the arm, to where a man is (600).
        hand_opening: least opening for a hand that holds a tool (100).
        arm_opening: least opening for an arm (150).
        man_opening: least opening for a man (575).
        table_height: of the trestles, open underneath, that the work lies on, over the floor; 0 on the floor (900,
            common practice).
        turn_over_minutes: what a turn-over by crane takes (60, assumed).
        lift_minutes: what a lift by crane takes (15, assumed).
        open_minutes: what opening a pilot, or a hole ordered undersize, takes in place (3, assumed).
        ease_minutes: what reaming a hole to its own size takes (3, assumed).
        next_size_minutes: what the next size of rivet takes: asking, reaming all plies, another rivet (20, assumed).
        remake_minutes: what a hole takes that is welded up and drilled again (90, assumed).
        align_minutes: what each row takes more that is drawn together at its middle: found, held and bolted both ways
            (4, assumed).
        tools: tools that the shop states.
        assumed_tools: False where assumed tools that drive or hold up do not count beside those stated.
    """

    compound_minutes: float | None = None
    rivets_per_hour: float = 25.0
    driving_order: str = "middle outwards"
    service_bolt_share: float = 1 / 3
    service_bolt_share_tight: float = 1 / 2
    spares_percent: float = 5.0
    trial_margin: float = 0.03
    cutting_deviation: float = 0.25
    hot_growth: float = 0.012
    hoist: float | None = None
    reach_length: float = 600.0
    hand_opening: float = 100.0
    arm_opening: float = 150.0
    man_opening: float = 575.0
    table_height: float = 900.0
    turn_over_minutes: float = 60.0
    lift_minutes: float = 15.0
    open_minutes: float = 3.0
    ease_minutes: float = 3.0
    next_size_minutes: float = 20.0
    remake_minutes: float = 90.0
    align_minutes: float = 4.0
    tools: tuple[Tool, ...] = ()
    assumed_tools: bool = True


@dataclass(frozen=True, slots=True)
class Job:
    """The whole job file.

    Attributes:
        path: the job file itself.
        drawings: folder that holds the drawings.
        date: as written in the job file, ISO, or "": the only date that is printed.
        rules: name of the rule set for spacing.
        datum: instance mark of the part that all others are set from.
        exposed: True where the body stands in the weather; None when not stated.
        roles: pairs (layer name, role) of `[layers]`.
        accepted: findings that somebody answers for.
        holds: hold points.
        locations: places for fittings, each with its options.
        setouts: seams whose rows are to be laid.
        dry_fits: sizes of the body as it was bolted together.
    """

    path: Path
    drawings: Path
    title: str = ""
    number: str = ""
    revision: str = ""
    date: str = ""
    rules: str = "en1993-1-8-2005"
    datum: str = ""
    exposed: bool | None = None
    rivets: tuple[RivetSpec, ...] = ()
    parts: tuple[PartSpec, ...] = ()
    seams: tuple[SeamSpec, ...] = ()
    welds: tuple[WeldSpec, ...] = ()
    levels: tuple[LevelSpec, ...] = ()
    order: tuple[OrderSpec, ...] = ()
    places: tuple[PlaceSpec, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    roles: tuple[tuple[str, str], ...] = ()
    accepted: tuple[AcceptSpec, ...] = ()
    holds: tuple[HoldSpec, ...] = ()
    locations: "tuple[LocationSpec, ...]" = ()
    setouts: "tuple[SetoutSpec, ...]" = ()
    dry_fits: "tuple[DryFitSpec, ...]" = ()
    shop: Shop = field(default_factory=Shop)
