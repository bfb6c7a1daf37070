"""The body put together: where each piece is, and every rivet as one stack of plies."""

from collections import Counter
from dataclasses import dataclass

from fabplan.model.arrays import BoolArray, FloatArray, IntArray, bools, floats, ints
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Placed pieces.

    Attributes:
        parts: the pieces of the kit, one record per mark and hand.
        instances: m pieces of steel.
        poses: m poses, part frame to body frame; None where a piece could not be placed.
        reasons: m short sentences: which seam or statement gave the pose.
        marked: m words, "inside", "outside" or "": where the marked face was found to look.
    """

    parts: tuple[Part, ...]
    instances: tuple[Instance, ...]
    poses: tuple[Pose | None, ...]
    reasons: tuple[str, ...]
    marked: tuple[str, ...]

    def kinds(self) -> tuple[Part, ...]:
        """One part of each mark: pieces that take holes from their mates may have several."""
        first: dict[str, Part] = {}
        for part in self.parts:
            first.setdefault(part.mark, part)
        return tuple(first.values())

    def quantity(self) -> Counter[str]:
        """How many pieces there are of each mark of a part."""
        return Counter(self.parts[instance.part].mark for instance in self.instances)

    def part_of(self, instance: int) -> Part:
        """The part of one instance, by index."""
        return self.parts[self.instances[instance].part]


@dataclass(frozen=True, slots=True, eq=False)
class Stacks:
    """Every rivet (or bolt) of the body as one stack of n plies, n >= 2.

    Attributes:
        number: n rivet numbers as printed: seam mark and place along the seam from its marked end ("A 12").
        seam: (n,) index into the job's seams, -1 where no seam claims the stack.
        rivet: (n,) index into the job's rivets, -1 where unknown.
        point: (n, 3) mm, body frame: where the axis meets the faying face of the first two plies.
        axis: (n, 3) unit vectors, body frame, from the made head to the point.
        grip: (n,) mm.
        head_face: (n, 3) mm, where the axis leaves the first ply on the head side.
        point_face: (n, 3) mm, where the axis leaves the last ply on the point side.
        diameter: (n,) rivet diameter, mm; 0 where unknown.
        hole: (n,) largest hole diameter in the stack, mm; where holes are opened in place, that of the finished hole.
        clear: (n,) smallest hole as cut, mm; 0 where a ply has none yet, as when it is marked only or drilled through.
        misfit: (n,) mm, diameter of the least circle across the axis that holds the centres of all holes of the stack.
        first: (n + 1,) where each stack's plies begin in the ply columns, from the head side.
        ply_instance, ply_panel, ply_hole: (k,) indices: instance, panel within the part, hole within the part.
        ply_thickness: (k,) mm.
        ply_offset: (k, 3) mm, body frame, each hole's centre less the stack's axis: how far it is out.
        ply_listed: (k,) False for a ply that the seam does not list.
        ply_gap: (k,) mm between a ply and the one before it, below 0 where they run into one another; 0 for the first.
    """

    number: tuple[str, ...]
    seam: IntArray
    rivet: IntArray
    point: FloatArray
    axis: FloatArray
    grip: FloatArray
    head_face: FloatArray
    point_face: FloatArray
    diameter: FloatArray
    hole: FloatArray
    clear: FloatArray
    misfit: FloatArray
    first: IntArray
    ply_instance: IntArray
    ply_panel: IntArray
    ply_hole: IntArray
    ply_thickness: FloatArray
    ply_offset: FloatArray
    ply_listed: BoolArray
    ply_gap: FloatArray

    def __post_init__(self) -> None:
        """Keep read-only copies."""
        for name in ("seam", "rivet", "first", "ply_instance", "ply_panel", "ply_hole"):
            object.__setattr__(self, name, ints(getattr(self, name), -1))
        for name in ("grip", "diameter", "hole", "clear", "misfit", "ply_thickness", "ply_gap"):
            object.__setattr__(self, name, floats(getattr(self, name), -1))
        for name in ("point", "axis", "head_face", "point_face", "ply_offset"):
            object.__setattr__(self, name, floats(getattr(self, name), -1, 3))
        object.__setattr__(self, "ply_listed", bools(self.ply_listed, -1))

    def __len__(self) -> int:
        """How many stacks."""
        return len(self.number)
