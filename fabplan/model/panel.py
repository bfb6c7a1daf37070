"""A panel: a prism of metal, the only form of a part that contact, clash, reach, mass and pictures read."""

from dataclasses import dataclass, field

from fabplan.model.arrays import IntArray, ints
from fabplan.model.holes import Holes
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile

KINDS = ("flat", "cylindrical", "conical")


@dataclass(frozen=True, slots=True)
class Taper:
    """A side of a plate drawn down to a thin edge, beyond a line in the panel's frame, mm.

    Attributes:
        line: its two ends; the side with less metal is thinned.
        edge: thickness left at the place furthest from the line.
        from_marked: True where the marked face is drawn down, so that the other stays plane.
    """

    line: tuple[tuple[float, float], tuple[float, float]]
    edge: float
    from_marked: bool


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One prism: an outline with holes, of one thickness. Marked face z = 0, metal at z in [-thickness, 0].

    Attributes:
        kind: one of `KINDS`; only flat ones are made so far.
        frame: pose of the panel's own frame in the frame of the part.
        outline: outer profile in the panel's xy, mm.
        cutouts: inner profiles other than the part's holes.
        thickness: mm.
        name: "" for a plate; the leg of a bar: "a", "b" or "w" (see `fabplan.model.legs`).
        tapers: where it is drawn down.
    """

    kind: str
    outline: Profile
    thickness: float
    frame: Pose = field(default_factory=Pose)
    cutouts: tuple[Profile, ...] = ()
    name: str = ""
    tapers: tuple[Taper, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class PartHoles:
    """Holes of a part on its panels: `holes.xy` (n, 2) in the frame of panel `panel` (n,), mm."""

    holes: Holes
    panel: IntArray

    def __post_init__(self) -> None:
        """Keep a read-only copy of matching length."""
        object.__setattr__(self, "panel", ints(self.panel, -1))
        if len(self.panel) != len(self.holes):
            raise ValueError(f"{len(self.panel)} panel indices for {len(self.holes)} holes")
