"""How a plate is formed, as its sheet tells the man at the press or the rolls. Lengths mm, angles degrees."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BendRecord:
    """One bend, in the order of the job.

    Attributes:
        name: the layer of its line, or the lines of a rolled zone.
        start, end: of the middle of the bent zone, on the blank.
        angle: by which the plate turns, positive towards the marked face.
        radius: inside.
        factor: k of the neutral line, k t / 2 from the inside.
        width: of the bent zone on the blank.
        allowance: what the outside legs of a fold together miss of the blank's length; 0 for a rolled zone.
        rolled: True for rolls, False for a fold.
        by: whose figure `factor` is, in words.
        edges: how far the blank reaches from the line to either side, square to it; the shorter first.
    """

    name: str
    start: tuple[float, float]
    end: tuple[float, float]
    angle: float
    radius: float
    factor: float
    width: float
    allowance: float
    rolled: bool = False
    by: str = ""
    edges: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True)
class JoggleRecord:
    """A joggle, whose two bends stand among the others.

    Attributes:
        name: the layer of its line.
        depth: by which the side beyond is set, positive towards the marked face.
        run: along the formed plate.
        angle: of the slope.
        shortening: how much shorter the plate becomes.
    """

    name: str
    depth: float
    run: float
    angle: float
    shortening: float


@dataclass(frozen=True, slots=True)
class RingRecord:
    """A bar bent to a ring or an arc.

    Attributes:
        section: its name.
        centre: where the axis lies, as in `fabplan.model.job.RingSpec`.
        angle: of the arc.
        inside, neutral, outside: radii of the innermost metal, of the centroid and of the outermost metal.
        length: of the straight bar.
        holes: number, degrees from the marked end and mm along the straight bar of each hole.
    """

    section: str
    centre: str
    angle: float
    inside: float
    neutral: float
    outside: float
    length: float
    holes: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True)
class ConeRecord:
    """A plate rolled to a cone or frustum.

    Attributes:
        half: angle between axis and generators.
        slant: length along a generator, on the middle of the plate.
        sector: outer and inner radius and angle of the blank, by the stated radii and height.
        drawn: the same as drawn.
        wide, narrow: diameter inside and outside of either end.
        inward: True where the marked face lies inside.
        round: degrees round the axis.
        holes: number, degrees round the axis from the still edge and mm of slant from the wide end of each hole.
    """

    half: float
    slant: float
    sector: tuple[float, float, float]
    drawn: tuple[float, float, float]
    wide: tuple[float, float]
    narrow: tuple[float, float]
    inward: bool
    round: float
    holes: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True, slots=True)
class TemplateRecord:
    """A plate formed to template.

    Attributes:
        trim: allowance on its edges, None where not stated.
        holes: seam, mate with its row, rivet, diameter of the hole and how many are taken from it.
    """

    trim: float | None
    holes: tuple[tuple[str, str, str, float, int], ...]


@dataclass(frozen=True, slots=True)
class FormingRecord:
    """A formed plate, or a bent bar.

    Attributes:
        mark: of the part.
        thickness: of the plate.
        bends: in the order of the job.
        size: over the outside of the formed plate, along x, y and z of its still piece; of a cone twice
            the greatest diameter, and the height.
        ring: of a bent bar, which has no bends of its own; None for a plate.
        joggles: of the plate.
        cone: of a cone, which has no bends of its own; None for any other.
        template: of a plate formed to template, whose size is not known; None for any other.
    """

    mark: str
    thickness: float
    bends: tuple[BendRecord, ...]
    size: tuple[float, float, float]
    ring: RingRecord | None = None
    joggles: tuple[JoggleRecord, ...] = ()
    cone: ConeRecord | None = None
    template: TemplateRecord | None = None


@dataclass(frozen=True, slots=True)
class BuiltRecord:
    """What became of the sizes that were measured over a formed plate, along x, y and z of its still piece.

    Attributes:
        mark: of the part.
        size: as it is built.
        best: what its bends come nearest to the measured sizes with.
        settled: True for a measured size that a bend settles.
        taken: False where these contradict each other, and the plate is built by its blank.
        trouble: why its bends cannot be moved so; "" where they can.
    """

    mark: str
    size: tuple[float, float, float]
    best: tuple[float, float, float]
    settled: tuple[bool, bool, bool]
    taken: bool
    trouble: str = ""
