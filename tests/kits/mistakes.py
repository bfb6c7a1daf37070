"""Single mistakes put into a known kit where a seed says, each with the words that should name it.

The kinds are those that a shop meets: a thickness forgotten, a pitch astray, a piece mirrored or measured from its
wrong end, a hole moved or missing, an inch drawing, a plate of another thickness, hands changed.
"""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass
from itertools import pairwise, product

import networkx
import numpy as np

from tests.kits import defects
from tests.kits.build import Angle, Kit, Plate
from tests.kits.trials import bars, held, pick

Draw = np.random.Generator


@dataclass(frozen=True)
class Mistake:
    """A faulty kit, the kind that names the mistake (or a check that does), the mark, and a drawing read at a scale."""

    kit: Kit
    kinds: tuple[str, ...]
    mark: str
    scale: float = 1.0


def thickness_forgotten(kit: Kit, draw: Draw) -> Mistake:
    """A row of a plate set out from a face instead of the other: one thickness across the row."""
    spot = pick(draw, [one for one in held(kit) if isinstance(one.piece, Plate)])
    assert isinstance(spot.piece, Plate)
    along = _along(kit, spot.piece.mark, spot.row)
    side = np.array([-along[1], along[0]]) * spot.piece.thickness * draw.choice([-1.0, 1.0])
    worse = defects.row_shifted(kit, spot.piece.mark, spot.row, (float(side[0]), float(side[1])))
    return Mistake(worse, ("thickness forgotten",), spot.piece.mark)


def pitch_astray(kit: Kit, draw: Draw) -> Mistake:
    """One space of a row 3 to 6 mm too long: all holes after it are out."""
    spot = pick(draw, [one for one in held(kit) if one.count > 6])
    worse = deepcopy(kit)
    holes = defects.places(worse, spot.piece.mark, spot.row).copy()
    after = int(draw.integers(2, spot.count - 2))
    holes[after:] += float(draw.uniform(3.0, 6.0)) * _along(kit, spot.piece.mark, spot.row)
    defects.put(worse, spot.piece.mark, spot.row, holes)
    return Mistake(worse, ("one pitch astray",), spot.piece.mark)


def end_mirrored(kit: Kit, draw: Draw) -> Mistake:
    """A plate drawn as seen from its other face."""
    loops = {one.piece.mark for one in held(kit)}
    plates = [one for one in kit.pieces if isinstance(one, Plate) and one.mark in loops and one.keys.get("marked")]
    plate = pick(draw, [one for one in plates if one.mark != kit.job["datum"] and not one.round_cutouts])
    return Mistake(
        defects.plate_mirrored(kit, plate.mark), ("plate mirrored", "plate-mirrored", "marked-face"), plate.mark
    )


def strip_reversed(kit: Kit, draw: Draw) -> Mistake:
    """All rows of a bar measured from its other end."""
    loops = {one.piece.mark for one in held(kit)}
    bar = pick(draw, [one for one in bars(kit) if one.mark in loops and len(one.rows) > 1 and not one.part])
    return Mistake(defects.bar_reversed(kit, bar.mark), ("strip reversed", "strip-reversed"), bar.mark)


def hole_moved(kit: Kit, draw: Draw) -> Mistake:
    """One hole 3 mm along its row."""
    spot = pick(draw, held(kit))
    by = 3.0 * _along(kit, spot.piece.mark, spot.row)
    hole = int(draw.integers(spot.count))
    worse = defects.hole_moved(kit, spot.piece.mark, spot.row, hole, (float(by[0]), float(by[1])))
    return Mistake(worse, ("one hole astray",), spot.piece.mark)


def hole_missing(kit: Kit, draw: Draw) -> Mistake:
    """A hole left out of one ply."""
    spot = pick(draw, held(kit))
    worse = defects.hole_missing(kit, spot.piece.mark, spot.row, int(draw.integers(1, spot.count - 1)))
    return Mistake(worse, ("hole missing",), spot.piece.mark)


def inch_drawing(kit: Kit, draw: Draw) -> Mistake:
    """A drawing in inches that is read as millimetres."""
    plates = [one for one in kit.pieces if isinstance(one, Plate) and one.mark != kit.job["datum"]]
    loops = {one.piece.mark for one in held(kit)}
    return Mistake(kit, ("wrong unit",), pick(draw, [one for one in plates if one.mark in loops]).mark, 1.0 / 25.4)


def plate_of_other_thickness(kit: Kit, draw: Draw) -> Mistake | None:
    """A plate that lies between others stated 2 mm thicker than the body is drawn for."""
    plates = [one for one in kit.pieces if isinstance(one, Plate) and _between(kit, one)]
    if not plates:
        return None
    plate = pick(draw, plates)
    return Mistake(defects.thickness_wrong(kit, plate.mark, plate.thickness + 2.0), ("wrong thickness",), plate.mark)


def hands_changed(kit: Kit, draw: Draw) -> Mistake | None:
    """Right and left of a pair named one for the other."""
    pairs = [one.mark for one in kit.pieces if isinstance(one, Angle) and one.part]
    if not pairs:
        return None
    at = 2 * int(draw.integers(len(pairs) // 2))
    part = next(one.part for one in kit.pieces if isinstance(one, Angle) and one.mark == pairs[at])
    return Mistake(defects.hand_swapped(kit, pairs[at], pairs[at + 1]), ("wrong hand",), part)


def _between(kit: Kit, plate: Plate) -> bool:
    """True for a plate with pieces on both its faces that hang together without it."""
    faces: dict[bool, set[str]] = {False: set(), True: set()}
    graph: networkx.Graph[str] = networkx.Graph()
    for seam in kit.seams:
        marks = [ply.partition("/")[0] for ply in seam.plies]
        graph.add_edges_from(pair for pair in pairwise(marks) if plate.mark not in pair)
        if plate.mark in marks:
            at = marks.index(plate.mark)
            up = float(np.array(seam.axis) @ plate.frame.matrix[:3, 2]) > 0.0
            faces[not up] |= set(marks[:at])
            faces[up] |= set(marks[at + 1 :])
    both = product(faces[False] & set(graph), faces[True] & set(graph))
    return any(networkx.has_path(graph, *pair) for pair in both)


def _along(kit: Kit, mark: str, row: str) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    holes = defects.places(kit, mark, row)
    way: np.ndarray[tuple[int], np.dtype[np.float64]] = (holes[-1] - holes[0]) / np.linalg.norm(holes[-1] - holes[0])
    return way


MISTAKES: dict[str, Callable[[Kit, Draw], Mistake | None]] = {
    "thickness forgotten": thickness_forgotten,
    "one pitch astray": pitch_astray,
    "end mirrored": end_mirrored,
    "strip reversed": strip_reversed,
    "hole moved": hole_moved,
    "hole missing": hole_missing,
    "inch drawing": inch_drawing,
    "plate of another thickness": plate_of_other_thickness,
    "hands changed": hands_changed,
}
