"""What the spacing checks read: one flat face with its holes, and what is known about each hole."""

from dataclasses import dataclass, field

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, bools, floats
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile


@dataclass(frozen=True, slots=True, eq=False)
class HoleLayout:
    """One plate, or one leg of a bar, for the spacing checks. Unknown numbers are NaN.

    Attributes:
        drawing: file name, for messages ("" for a bar).
        part: piece mark, or "".
        material: "steel", "light alloy", ...
        outline, cutouts: the edges, mm.
        holes: the holes, same frame.
        thickness: of this ply, mm, or NaN.
        edge: "sheared", "machine", "rolled" or "" when not known.
        exposed: True, False, or None when not known.
        rivet_diameter: (n,) nominal d, mm.
        thinner_outer: (n,) t, thickness of the thinner outer ply of the stack, mm; the own ply's where no
            stack is known.
        thickest: (n,) thickest ply of the stack, mm.
        grip: (n,) mm.
        tight: (n,) True where the seam must hold water.
        tension, compression: (n,) the load that the seam is stated to carry; both True where none is stated.
        countersunk: (n,) True where a head is sunk in this ply.
        sink_depth: (n,) depth of the countersink in this ply, mm, NaN where none.
        hand_driven: (n,) True where driven with a hammer, hand or pneumatic.
        seamed: (n,) False for holes of a row that no seam lists, such as corner holes joined by position; where no
            seams are known every row counts as a seam's.
        stated_hole: (n,) hole that the job states for the rivet, mm, NaN where none.
        opened_later: (n,) True where the hole is cut small and opened to that size when the body stands.
        measured: (n,) True where the diameter is that of the steel as it was measured, not the one drawn.
        riveted: (n,) False for holes of bolts and other fasteners that are not closed.
    """

    drawing: str
    part: str
    material: str
    outline: Profile
    cutouts: tuple[Profile, ...]
    holes: Holes
    thickness: float
    edge: str
    exposed: bool | None
    rivet_diameter: FloatArray
    thinner_outer: FloatArray
    thickest: FloatArray
    grip: FloatArray
    tight: BoolArray
    tension: BoolArray
    compression: BoolArray
    countersunk: BoolArray
    sink_depth: FloatArray
    hand_driven: BoolArray
    seamed: BoolArray = field(default_factory=lambda: bools(()))
    stated_hole: FloatArray = field(default_factory=lambda: floats(()))
    opened_later: BoolArray = field(default_factory=lambda: bools(()))
    riveted: BoolArray = field(default_factory=lambda: bools(()))
    measured: BoolArray = field(default_factory=lambda: bools(()))

    def __post_init__(self) -> None:
        """Keep read-only copies; columns left out: a seam's row, no stated hole, cut to size, riveted, as drawn."""
        plain = {"seamed": True, "stated_hole": np.nan, "opened_later": False, "riveted": True, "measured": False}
        for name, value in plain.items():
            if len(getattr(self, name)) == 0:
                object.__setattr__(self, name, np.full(len(self.holes), value))
        for name in ("rivet_diameter", "thinner_outer", "thickest", "grip", "sink_depth", "stated_hole"):
            object.__setattr__(self, name, floats(getattr(self, name), -1))
        for name in (
            "tight",
            "tension",
            "compression",
            "countersunk",
            "hand_driven",
            "seamed",
            "opened_later",
            "riveted",
            "measured",
        ):
            object.__setattr__(self, name, bools(getattr(self, name), -1))


@dataclass(frozen=True, slots=True)
class SpacingFigure:
    """One line of the table of spacings on the check sheet, mm; NaN where there is nothing to show.

    Attributes:
        what: "pitch", "end distance", ...
        least, greatest: smallest and largest value found on the plate.
        code_least, code_greatest: the bare limits of the rule set, at the holes where they bind.
        practice: what a gang can drive with ordinary tools (3 d for pitch), beside the bare code minimum.
        source: of the code limits.
        why: why a value over the greatest is no fault, "" where none is over it.
    """

    what: str
    least: float
    greatest: float
    code_least: float
    code_greatest: float
    practice: float
    source: str
    why: str = ""
