"""One drawing as read: profiles, holes, folds, marks, and an account of every entity in the file."""

from dataclasses import dataclass, field

from fabplan.model.arrays import FloatArray, floats
from fabplan.model.finding import Finding
from fabplan.model.holes import NO_HOLES, Holes
from fabplan.model.profile import Profile

FATES = ("used", "set aside", "reported")


@dataclass(frozen=True, slots=True)
class Entry:
    """What became of one entity of the file.

    Attributes:
        handle: DXF handle; entities inside a block carry the handle of the INSERT that shows them.
        kind: DXF type, such as LWPOLYLINE.
        layer: layer name as written.
        fate: one of `FATES`.
        reason: the rule that decided, in words: "outer profile", "hole of row left", "note layer".
    """

    handle: str
    kind: str
    layer: str
    fate: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """An open line that is drawn but not cut: a fold line, a roll line, a mark.

    Attributes:
        name: the name that the job file uses: the layer name for folds and rolls.
        points: (n, 2) mm, a polyline (arcs as chords within 0.01 mm).
        handle: DXF handle.
    """

    name: str
    points: FloatArray
    handle: str = ""

    def __post_init__(self) -> None:
        """Keep a read-only copy."""
        object.__setattr__(self, "points", floats(self.points, -1, 2))


@dataclass(frozen=True, slots=True)
class Label:
    """A text of the drawing that was set aside: shown in the list, never cut."""

    text: str
    xy: tuple[float, float]
    height: float
    layer: str
    handle: str = ""


@dataclass(frozen=True, slots=True)
class Intake:
    """What the reader is told beside the file.

    Attributes:
        roles: pairs (layer name, role), each role one of CUT, RIVET, BOLT, MARK, FOLD, ROLL, NOTE, with a row name
            after a space where one belongs ("RIVET left"); stands above the roles that layer names give themselves.
        stated_size: overall size of the blank, mm, larger first or as drawn, or None: a proof of units.
        hole_diameters: diameters of rivet and bolt holes that the job knows, mm: a proof of units, and what tells a
            rivet hole from an opening.
        thickness: plate thickness, mm, or None.
    """

    roles: tuple[tuple[str, str], ...] = ()
    stated_size: tuple[float, float] | None = None
    hole_diameters: tuple[float, ...] = ()
    thickness: float | None = None


@dataclass(frozen=True, slots=True)
class Fit:
    """A circle or arc that is drawn as short straight lines, and how well it fits them.

    Attributes:
        xy: centre, mm.
        diameter: mm, of the circle through the corners.
        corners: how many corners lie on it; 0 for a spline or ellipse that is a circle.
        error: mm, the greatest distance of a corner from it.
        sag: mm, how far the straight lines run inside it.
        round: True for a whole circle, False for an arc.
        handles: DXF handles.
    """

    xy: tuple[float, float]
    diameter: float
    corners: int
    error: float
    sag: float
    round: bool
    handles: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One of several pieces of metal in one drawing.

    Attributes:
        label: what the text inside it, or nearest beside it, says; "" where there is none.
        outline: counter-clockwise.
        cutouts: clockwise.
        holes: of this piece, numbered as in the drawing.
    """

    label: str
    outline: Profile
    cutouts: tuple[Profile, ...] = ()
    holes: Holes = NO_HOLES


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """One drawing, read whole.

    Attributes:
        name: file name without folder.
        units: the unit that was taken, in words ("mm", "inch").
        units_reason: why that unit was taken.
        scale: mm per drawing unit.
        outline: outer profile, counter-clockwise, or None when none closes.
        cutouts: inner profiles other than holes, clockwise.
        holes: rivet and bolt holes, and round openings of purpose "open", numbered.
        folds, rolls, marks: lines that are drawn but not cut, mm.
        open_lines: lines of the cut layers that close no profile, mm, to show on the sheet.
        aside: lines that are not cut, for want of a role or of being seen, or because they cannot be: shown, no more.
        labels: texts, set aside.
        account: one entry for every entity of the model space.
        scanned: number of entities that an independent scan of the DXF tags counts.
        findings: faults of the file itself.
        fingerprint: SHA-256 in hex of all that is drawn, and of the thickness stated (see `drawing.fingerprint`).
        dxf_version: as the file states it ("AC1015"), or "".
        paper: one entry for every entity of the paper space; all are set aside.
        fits: circles and arcs drawn as short straight lines; a circle's true diameter stands in `holes`.
        shapes: the pieces of metal, largest first, where the file holds more than one; else empty. `outline` and
            `cutouts` are those of the first, `holes` are those of all.
        thickness: mm, as the reader was told (`Intake`), or None: part of the fingerprint.
    """

    name: str
    units: str = "mm"
    units_reason: str = ""
    scale: float = 1.0
    outline: Profile | None = None
    cutouts: tuple[Profile, ...] = ()
    holes: Holes = NO_HOLES
    folds: tuple[Line, ...] = ()
    rolls: tuple[Line, ...] = ()
    marks: tuple[Line, ...] = ()
    open_lines: tuple[Line, ...] = ()
    aside: tuple[Line, ...] = ()
    labels: tuple[Label, ...] = ()
    account: tuple[Entry, ...] = ()
    scanned: int = 0
    findings: tuple[Finding, ...] = field(default=())
    fingerprint: str = ""
    dxf_version: str = ""
    paper: tuple[Entry, ...] = ()
    fits: tuple[Fit, ...] = ()
    shapes: tuple[Shape, ...] = ()
    thickness: float | None = None
