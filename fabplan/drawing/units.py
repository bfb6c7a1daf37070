"""The unit of a drawing: what its header says, held against what can be proved."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.drawing.circles import piece_circle
from fabplan.drawing.pieces import Piece
from fabplan.drawing.source import UNIT_NAMES
from fabplan.geom.boxes import side_boxes
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Intake
from fabplan.model.profile import Profile

FACTORS = (1.0, 25.4, 10.0, 1000.0, 304.8)  # mm, inch, cm, m, foot: mistakes of unit seen in the trade
SIZE_SHARE, SIZE_LEAST = 0.002, 1.0  # a stated size is met within 0.2 %, at least 1 mm (common practice)
PLATES, HOLES = (20.0, 15_000.0), 2.0  # mm: no piece is shorter or longer, no rivet's hole smaller (common practice)
SMALL, LARGEST, ODD = 250.0, 60.0, 2  # as if mm: a piece, a rivet's hole; odd sixteenths that are no chance
UNPROVED = "no stated size or known hole proves the unit"
HOLE_SLACK = 0.06  # mm, rounding of a hole's diameter


@dataclass(frozen=True, slots=True)
class Unit:
    """The unit taken: mm per drawing unit, why, and the doubt in words ("" for none)."""

    scale: float
    reason: str
    doubt: str = ""


def settle_unit(header: float | None, cut: Sequence[Piece], intake: Intake, other: str = "") -> Unit:
    """The unit of a drawing, from its header and two proofs: the stated size and the commonest hole.

    Args:
        header: mm per unit by the header, None where it is silent.
        cut: pieces that are cut or drilled.
        intake: stated size and known hole diameters.
        other: the code of a unit that the header states and that is not read, or "".
    """
    points = [_on_curve(piece) for piece in cut if len(piece.points)] if intake.stated_size else []
    boxes = side_boxes(np.vstack(points)) if points else np.zeros((1, 2))
    by_size, by_hole = _by_size(boxes, intake), _by_hole(cut, intake)
    proofs = [(factor, words) for factor, words in (by_size, by_hole) if factor is not None]
    wanted = {factor for factor, _ in proofs}
    said = _said(header, other)
    if len(wanted) == 1:
        scale = wanted.pop()
        reason = ", ".join([said, *(words for _, words in proofs)])
        doubt = "" if header in (None, scale) else f"{said}, but {proofs[0][1]}"
    elif len(wanted) > 1:
        scale, reason = header or proofs[0][0], said
        doubt = f"the proofs disagree: {proofs[0][1]}; {proofs[1][1]}"
    else:
        scale, reason = header or 1.0, said if header else f"mm assumed: {said} and nothing proves it"
        doubt = "" if header else f"{said}, and {UNPROVED}"
    if header and not proofs:
        doubt = _unlikely(cut, scale, said) or ("" if header == 1.0 else f"{said}, and {UNPROVED}")
    return Unit(scale, reason, doubt)


def _said(header: float | None, other: str) -> str:
    if header is not None:
        return f"the header says {UNIT_NAMES[header]}"
    known = ", ".join(UNIT_NAMES.values())
    return f"the header states unit {other} of the DXF reference, none of {known}" if other else "the header is silent"


def _unlikely(cut: Sequence[Piece], scale: float, said: str) -> str:
    """Sizes that no plate or hole of this trade has, in words; "" for none."""
    points = np.vstack([np.zeros((0, 2)), *(piece.points for piece in cut)])
    points = points[np.isfinite(points).all(axis=1)]
    if not len(points):
        return ""
    size = float(np.hypot(*side_boxes(points).T).max()) * scale
    if not PLATES[0] - FIGURE <= size <= PLATES[1] + FIGURE:
        return f"{said}, and the drawing would be {size:.4g} mm across: pieces are {PLATES[0]:g} mm to 15 m"
    holes = Counter(round(one.diameter * scale, 6) for piece in cut if (one := piece_circle(piece)) is not None)
    common = min(holes, key=lambda hole: (-holes[hole], hole), default=np.inf)
    if common < HOLES:
        return f"{said}, and its commonest hole would be {common:.4g} mm: no rivet passes"
    if scale == 1.0 and size <= SMALL and not any(hole <= LARGEST for hole in holes) and _in_fractions(cut):
        return f"{said}, and its sizes are whole, halves and sixteenths, as in inch drawings"
    return ""


def _in_fractions(cut: Sequence[Piece]) -> bool:
    """True where all corners lie a multiple of 1/64 from the first, and some of them one that metric work never has."""
    straight = [piece.points for piece in cut if len(piece.points) and not piece.bulges.any()]
    if not straight:
        return False
    points = np.vstack(straight)
    parts = np.abs(points - points[0]).ravel() * 64.0
    whole = bool(np.all(np.abs(parts - np.round(parts)) <= 64.0 * FIGURE))
    odd = np.unique(np.round(parts[np.mod(np.round(parts), 8.0) != 0.0]))
    return whole and len(odd) >= ODD


def _on_curve(piece: Piece) -> FloatArray:
    """Points of a piece that bound it, those of its arcs within a ten-thousandth of its size."""
    size = float(np.ptp(piece.points, axis=0).max())
    return flattened(Profile(piece.points, piece.bulges), max(size, 1e-9) * 1e-4)


def _by_size(boxes: FloatArray, intake: Intake) -> tuple[float | None, str]:
    """The factor by which the drawing has the stated size, square to one of its sides."""
    if intake.stated_size is None:
        return None, ""
    long, short = max(intake.stated_size), min(intake.stated_size)
    for factor in FACTORS:
        if of_size(boxes * factor, intake.stated_size):
            return factor, f"the stated size {long:g} x {short:g} is met in {UNIT_NAMES[factor]}"
    return None, ""


def of_size(boxes: FloatArray, stated: tuple[float, float]) -> bool:
    """True where one of the boxes (k, 2), mm, has the stated size."""
    long, short = max(stated), min(stated)
    slack = max(SIZE_SHARE * long, SIZE_LEAST)
    return bool(np.any(np.all(np.abs(boxes - [long, short]) <= slack, axis=1)))


def _by_hole(cut: Sequence[Piece], intake: Intake) -> tuple[float | None, str]:
    sizes = Counter(round(circle.diameter, 6) for piece in cut if (circle := piece_circle(piece)) is not None)
    if not sizes or not intake.hole_diameters:
        return None, ""
    common = min(sizes, key=lambda size: (-sizes[size], size))
    for factor in FACTORS:
        if any(abs(common * factor - known) <= HOLE_SLACK for known in intake.hole_diameters):
            words = f"the commonest hole, {common:g}, is {common * factor:.4g} mm if drawn in {UNIT_NAMES[factor]}"
            return factor, words
    return None, ""
