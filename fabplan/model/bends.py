"""How plates and bars are bent, and how ends of bars are cut, as the job file states it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RingSpec:
    """A bar bent to a ring or an arc.

    Attributes:
        inside_radius: least radius of its metal, mm.
        centre: where the axis of the ring lies, seen in the frame of the straight bar: "+y", "-y", "+z" or "-z". A flat
            bar is bent on edge by y and on its flat by z; the leg of an angle along that direction is bent on edge.
        angle: degrees of the arc, 360 for a closed ring; None where the length of the bar settles it.
    """

    inside_radius: float
    centre: str
    angle: float | None = None


@dataclass(frozen=True, slots=True)
class FoldSpec:
    """A fold of a plate.

    Attributes:
        line: the layer that draws it.
        angle: degrees by which the plate turns, positive towards the marked face.
        inside_radius: mm.
        k: factor of the neutral line, which lies k t / 2 from the inside; None takes that of DIN 6935.
        by: whose figure `k` is, where it is not the job's own.
    """

    line: str
    angle: float
    inside_radius: float
    k: float | None = None
    by: str = ""


@dataclass(frozen=True, slots=True)
class TaperSpec:
    """A corner or an edge of a flat plate, drawn down so that a third ply passes.

    Attributes:
        line: two points of the drawing, mm; what lies beyond their line, on the side with less metal, is thinned.
        edge: thickness left at the place furthest from the line, mm.
        face: "marked" or "other": the face that is drawn down.
    """

    line: tuple[tuple[float, float], tuple[float, float]]
    edge: float
    face: str = "marked"


@dataclass(frozen=True, slots=True)
class ConeSpec:
    """A plate rolled to a right cone or frustum from a flat sector.

    Attributes:
        mean_radii: of both ends on the middle of the plate, mm, in any order; 0 for a point.
        height: between these along the axis, mm.
        inside: "marked" where the marked face lies inside, else "other".
        angle: degrees round the axis, 360 for a whole one.
    """

    mean_radii: tuple[float, float]
    height: float
    inside: str = "marked"
    angle: float = 360.0


@dataclass(frozen=True, slots=True)
class JoggleSpec:
    """A joggle of a plate: what lies beyond its line is set by two opposite bends.

    Attributes:
        line: the layer that draws the middle of the joggle, a fold line.
        depth: by which that side is set, mm, positive towards the marked face.
        run: from where the first bend begins to where the second ends, along the formed plate, mm.
        inside_radius: of both bends, mm.
        k: factor of the neutral line, as of a fold.
    """

    line: str
    depth: float
    run: float
    inside_radius: float
    k: float | None = None


@dataclass(frozen=True, slots=True)
class RollSpec:
    """A rolled zone of a plate: the layers of its two limits, the inside radius in mm (0 < radius closes inwards).

    Attributes:
        start, end: layers of the lines between which the plate is rolled; both "" where the whole plate is.
        inside_radius: mm; positive closes towards the marked face.
        axis: "x" or "y", the direction of the rolls, where the whole plate is rolled; "" else.
    """

    start: str
    end: str
    inside_radius: float
    axis: str = ""


@dataclass(frozen=True, slots=True)
class BendRow:
    """A row of a bender's own table. Lengths mm.

    Attributes:
        thickness: of the plate.
        inside_radius: of the bend.
        angle: degrees by which the plate turns.
        zone: length of the bent zone on the blank, from where the bend begins to where it ends.
    """

    thickness: float
    inside_radius: float
    angle: float
    zone: float


@dataclass(frozen=True, slots=True)
class BarEnd:
    """How an end of a bar is cut otherwise than square: mitred through, or one leg coped.

    Attributes:
        end: "first" for the marked end, "last" for the far one.
        leg: on which a mitre is seen, or which is coped.
        mitre: degrees off the square, positive where the heel (of a flat the edge y = 0) is longest; None for a cope.
        cope: length along the bar for which the leg is cut back, mm; None for a mitre.
        depth: of a cope from the toe, mm; None takes the whole leg up to the one that it stands on.
    """

    end: str
    leg: str
    mitre: float | None = None
    cope: float | None = None
    depth: float | None = None
