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


@dataclass(frozen=True, slots=True)
class FormingRecord:
    """A formed plate.

    Attributes:
        mark: of the part.
        thickness: of the plate.
        bends: in the order of the job.
        size: over the outside of the formed plate, along x, y and z of its still piece.
    """

    mark: str
    thickness: float
    bends: tuple[BendRecord, ...]
    size: tuple[float, float, float]
