"""Setting out: what the job asks for a seam that has no holes yet, and the holes that were laid for it."""

from dataclasses import dataclass

from fabplan.model.arrays import BoolArray, FloatArray, bools, floats

Place = tuple[float, ...]
"""A place: two figures on a drawing (of a bar: along it and from the heel), three in the body, mm."""


@dataclass(frozen=True, slots=True)
class MirrorSpec:
    """The mirror image of another seam in a plane of the body: across axis "x", "y" or "z", `at` mm along it."""

    seam: str
    axis: str
    at: float


@dataclass(frozen=True, slots=True)
class SetoutSpec:
    """What is stated of the row of a seam that is to be set out. Lengths mm.

    Attributes:
        seam: mark of the seam.
        on: instance on whose drawing the row is laid, "" to choose it.
        leg: of a bar, "" to find the one that lies against the other plies.
        path: centres of the first hole, of those at corners, and of the last; () finds the row by where plies touch.
        circle: centre and radius of a closed row on the drawing of `on`, or None.
        rows: lines of holes side by side.
        zigzag: True where the holes of each line stand in the middle of the spaces of the next.
        back_pitch: between two lines, to the left of the way from the first hole to the last (less than 0: to the
            right); None takes what rules and practice ask.
        pitch: that is wanted; None takes that of practice.
        end_distance: of the first and of the last hole from the end of the metal, or None.
        back_mark: of the first line, on a bar; None takes the usual gauge.
        hole: as drawn in plies whose holes are opened to size when they are together, or None.
        mirror: of which seam it is the mirror image, or None.
        place: where in the job file it stands.
    """

    seam: str
    on: str = ""
    leg: str = ""
    path: tuple[Place, ...] = ()
    circle: tuple[float, float, float] | None = None
    rows: int = 1
    zigzag: bool = False
    back_pitch: float | None = None
    pitch: float | None = None
    end_distance: tuple[float, float] | None = None
    back_mark: float | None = None
    hole: float | None = None
    mirror: MirrorSpec | None = None
    place: str = ""


@dataclass(frozen=True, slots=True)
class SeamCase:
    """What the limits of a seam's spacing depend on. Lengths mm.

    Attributes:
        rivet: nominal diameter.
        hole: finished.
        outer: thickness of the thinner outer ply.
        thickest: of its plies.
        tight: True where it holds water.
        load: "tension", "compression" or "" (the stricter of both).
        exposed: True in the weather.
        sheared: True where a ply has sheared edges.
        lines: side by side.
        staggered: True for zigzag lines.
        riveted: False for bolts.
    """

    rivet: float
    hole: float
    outer: float
    thickest: float
    tight: bool
    load: str
    exposed: bool
    sheared: bool
    lines: int
    staggered: bool
    riveted: bool


@dataclass(frozen=True, slots=True)
class Bound:
    """One limit that holds for a seam: `words` as the rule has it ("2.2 d0"), the figure in mm, and its source."""

    measure: str
    sense: str
    value: float
    words: str
    level: str
    source: str


@dataclass(frozen=True, slots=True, eq=False)
class KeepOff:
    """A line (k, 2) of a blank from which the middles of holes keep `clear` mm, and why."""

    line: FloatArray
    clear: float
    why: str

    def __post_init__(self) -> None:
        """Keep a read-only copy."""
        object.__setattr__(self, "line", floats(self.line, -1, 2))


@dataclass(frozen=True, slots=True, eq=False)
class LaidPly:
    """The holes of a seam in one ply.

    Attributes:
        instance: mark of the piece.
        row: name of the row.
        leg: of a bar, "" for a plate.
        xy: (n, 2) centres on its blank as made, or on its leg as `Panel` has it, mm.
        new: (n,) False for a hole that is there already.
        line: (n,) number of the line, 0 the first.
        diameter: as drawn, mm; 0 where none is drawn, because it is drilled from its mate.
        point: (n, 3) where each axis meets the middle of the ply, mm, body frame.
    """

    instance: str
    row: str
    leg: str
    xy: FloatArray
    new: BoolArray
    line: tuple[int, ...]
    diameter: float
    point: FloatArray

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        object.__setattr__(self, "xy", floats(self.xy, -1, 2))
        object.__setattr__(self, "new", bools(self.new, -1))
        object.__setattr__(self, "point", floats(self.point, -1, 3))


@dataclass(frozen=True, slots=True, eq=False)
class Laid:
    """A seam set out.

    Attributes:
        seam: its mark.
        on: instance on which it was laid.
        plies: the holes of each ply, head side first.
        spaces: runs of equal spaces along the first line: how many, and how wide, mm, on the blank of `on`.
        ends: distance of the first and last hole from the end of the metal along the row, mm, NaN where none is near.
        axis: (n, 3) from the made head to the point, body frame.
        bounds: the limits that were kept.
        why: sentences: where the row lies and why, why this pitch, what was stepped around.
    """

    seam: str
    on: str
    plies: tuple[LaidPly, ...]
    spaces: tuple[tuple[int, float], ...]
    ends: tuple[float, float]
    axis: FloatArray
    bounds: tuple[Bound, ...]
    why: tuple[str, ...]

    def __post_init__(self) -> None:
        """Keep a read-only copy."""
        object.__setattr__(self, "axis", floats(self.axis, -1, 3))

    @property
    def count(self) -> int:
        """Rivets of the seam."""
        return len(self.axis)


@dataclass(frozen=True, slots=True)
class NotLaid:
    """A seam that could not be set out: why, and how to mend it."""

    seam: str
    what: str
    mend: str


@dataclass(frozen=True, slots=True, eq=False)
class PutIn:
    """What is put into one drawing, mm in its own frame.

    Attributes:
        rows: names of rows, (n, 2) centres of new holes, and their diameter.
        named: handles of holes that are there already, and the row that they join.
        marks: lines (k, 2) to be marked, not cut.
        letters: texts to be marked: what, where their lower left corner is, how high.
    """

    rows: tuple[tuple[str, FloatArray, float], ...]
    named: tuple[tuple[str, str], ...] = ()
    marks: tuple[FloatArray, ...] = ()
    letters: tuple[tuple[str, tuple[float, float], float], ...] = ()
