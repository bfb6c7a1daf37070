"""Single mistakes put into a known kit where a seed says, each with the words that should name it.

The kinds are those that a shop meets: a thickness forgotten, a pitch astray, a piece mirrored or measured from its
wrong end, a hole moved or missing, an inch drawing, a plate of another thickness, hands changed, a bend allowance off,
a roll to another radius, a fold the wrong way. A mistake is put where it can be seen: into rows of a loop.
"""

from collections.abc import Callable
from copy import deepcopy
from dataclasses import dataclass, replace
from itertools import pairwise, product

import networkx
import numpy as np

from tests.kits import defects
from tests.kits.bent import Arc, Curved, Formed, Limb
from tests.kits.build import Angle, Array, Kit, Piece, Plate
from tests.kits.trials import Spot, bars, held, pick

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
    spot = pick(draw, [one for one in _lines(kit) if isinstance(one.piece, Plate)])
    assert isinstance(spot.piece, Plate)
    along = _along(kit, spot.piece.mark, spot.row)
    side = np.array([-along[1], along[0]]) * spot.piece.thickness * draw.choice([-1.0, 1.0])
    worse = defects.row_shifted(kit, spot.piece.mark, spot.row, (float(side[0]), float(side[1])))
    return Mistake(worse, ("thickness forgotten",), _name(spot.piece))


def pitch_astray(kit: Kit, draw: Draw) -> Mistake:
    """One space of a row 3 to 6 mm too long: all holes after it are out."""
    spot = pick(draw, [one for one in _lines(kit) if one.count > 6])
    worse = deepcopy(kit)
    holes = defects.places(worse, spot.piece.mark, spot.row).copy()
    after = int(draw.integers(2, spot.count - 2))
    holes[after:] += float(draw.uniform(3.0, 6.0)) * _along(kit, spot.piece.mark, spot.row)
    defects.put(worse, spot.piece.mark, spot.row, holes)
    return Mistake(worse, ("one pitch astray",), _name(spot.piece))


def end_mirrored(kit: Kit, draw: Draw) -> Mistake:
    """A plate drawn as seen from its other face."""
    loops = {one.piece.mark for one in held(kit)}
    plates = [one for one in kit.pieces if isinstance(one, Plate) and one.mark in loops and one.keys.get("marked")]
    plate = pick(draw, [one for one in plates if one.mark != kit.job["datum"] and not one.round_cutouts])
    kinds = ("plate mirrored", "plate-mirrored", "marked-face", "wrong hand")
    return Mistake(defects.plate_mirrored(kit, plate.mark), kinds, _name(plate))


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
    return Mistake(worse, ("one hole astray",), _name(spot.piece))


def hole_missing(kit: Kit, draw: Draw) -> Mistake:
    """A hole left out of one ply."""
    spot = pick(draw, held(kit))
    worse = defects.hole_missing(kit, spot.piece.mark, spot.row, int(draw.integers(1, spot.count - 1)))
    return Mistake(worse, ("hole missing",), _name(spot.piece))


def inch_drawing(kit: Kit, draw: Draw) -> Mistake:
    """A drawing in inches that is read as millimetres."""
    plates = [one for one in kit.pieces if isinstance(one, Plate) and one.mark != kit.job["datum"]]
    loops = {one.piece.mark for one in held(kit)}
    return Mistake(kit, ("wrong unit",), _name(pick(draw, [one for one in plates if one.mark in loops])), 1.0 / 25.4)


def plate_of_other_thickness(kit: Kit, draw: Draw) -> Mistake | None:
    """A plate that lies between others, or is folded or rolled, stated 2 mm thicker than the body is drawn for."""
    seen = {(one.piece.mark, one.row) for one in held(kit)}
    formed = {
        plate.mark
        for plate in _bent(kit)
        for limb in plate.limbs
        if plate.base and any((plate.mark, row) in seen for row in _beyond(plate, limb))
    }
    plates = [one for one in kit.pieces if isinstance(one, Plate) and (one.mark in formed or _between(kit, one))]
    if not plates:
        return None
    plate = pick(draw, [one for one in plates if one.mark in formed] or plates)
    return Mistake(defects.thickness_wrong(kit, plate.mark, plate.thickness + 2.0), ("wrong thickness",), _name(plate))


def hands_changed(kit: Kit, draw: Draw) -> Mistake | None:
    """Right and left of a pair named one for the other; a flat plate, turned over, is its own other hand."""
    loops = {one.piece.mark for one in held(kit)}
    pairs = {one.part: one for one in kit.pieces if one.mark in loops and one.mark == f"{one.part}R"}
    parts = [part for part, one in pairs.items() if isinstance(one, Formed) or _in_both_legs(one)]
    if not parts:
        return None
    part = pick(draw, parts)
    return Mistake(defects.hand_swapped(kit, f"{part}R", f"{part}L"), ("wrong hand", "plate-mirrored"), part)


def _in_both_legs(piece: Piece) -> bool:
    """True for a bar with holes in more than one leg; one with holes in one alone fits turned over."""
    return isinstance(piece, Angle) and len({leg for leg, _ in piece.rows.values()}) > 1


def _fold(kit: Kit, draw: Draw) -> tuple[Formed, Limb] | None:
    """A folded plate and its fold, with a row beyond it that stands in a loop; None where there is none."""
    seen = {(one.piece.mark, one.row) for one in held(kit)}
    folds = [
        (plate, limb)
        for plate in _bent(kit)
        for limb in plate.limbs
        if not _rolled(limb) and any((plate.mark, row) in seen for row in _beyond(plate, limb))
    ]
    return pick(draw, folds) if folds else None


def bend_allowance_off(kit: Kit, draw: Draw) -> Mistake | None:
    """What lies beyond a fold 2 mm too far from it, or too near."""
    fold = _fold(kit, draw)
    if fold is None:
        return None
    plate, limb = fold
    worse, by = deepcopy(kit), 2.0 * float(draw.choice([-1.0, 1.0])) * np.array(limb.across)
    for row in _beyond(plate, limb):
        defects.put(worse, plate.mark, row, plate.rows[row] + by)
    return Mistake(worse, ("bend allowance",), _name(plate))


def roll_radius_wrong(kit: Kit, draw: Draw) -> Mistake | None:
    """A rolled plate or a bent bar stated 3 to 10 % larger or smaller in radius than its holes are drawn for."""
    loops = {one.piece.mark for one in held(kit)}
    rolled = [one for one in _bent(kit) if any(map(_rolled, one.limbs)) and one.mark in loops]
    rings = [one for one in kit.pieces if isinstance(one, Curved) and one.mark in loops and len(one.rows) > 1]
    if not rolled and not rings:
        return None
    every: list[Piece] = [*rolled, *rings]
    piece = pick(draw, every)
    larger = 1.0 + float(draw.choice([-1.0, 1.0]) * draw.uniform(0.03, 0.1))
    worse = deepcopy(kit)
    wrong = worse.piece(piece.mark)
    if isinstance(wrong, Formed):
        wrong.said = _said(wrong, lambda arc: replace(arc, radius=round(arc.radius * larger, 1)))
    elif isinstance(wrong, Curved):
        wrong.inside_radius = round(wrong.inside_radius * larger, 1)
    return Mistake(worse, ("roll radius wrong",), _name(piece))


def fold_the_wrong_way(kit: Kit, draw: Draw) -> Mistake | None:
    """A fold stated towards the other face."""
    fold = _fold(kit, draw)
    if fold is None:
        return None
    plate, limb = fold
    (arc,) = (span for span in limb.spans if isinstance(span, Arc))
    worse = deepcopy(kit)
    wrong = worse.piece(plate.mark)
    assert isinstance(wrong, Formed)
    wrong.said = _said(wrong, lambda one: replace(one, angle=-one.angle) if one.names == arc.names else one)
    return Mistake(worse, ("fold the wrong way",), _name(plate))


def _said(plate: Formed, change: Callable[[Arc], Arc]) -> tuple[str, ...]:
    """What the job would tell of a plate whose arcs are changed."""
    limbs = tuple(
        replace(limb, spans=tuple(change(span) if isinstance(span, Arc) else span for span in limb.spans))
        for limb in plate.limbs
    )
    return replace(plate, limbs=limbs).form


def _bent(kit: Kit) -> list[Formed]:
    """Folded and rolled plates, of several alike the first."""
    first = {piece.part or piece.mark: piece for piece in reversed(kit.pieces)}.values()
    return [piece for piece in kit.pieces if isinstance(piece, Formed) and any(piece is one for one in first)]


def _rolled(limb: Limb) -> bool:
    return any(isinstance(span, Arc) and span.rolled for span in limb.spans)


def _beyond(plate: Formed, limb: Limb) -> list[str]:
    """The rows of a plate that lie on a limb, beyond its line."""
    found = []
    for row, xy in plate.rows.items():
        off = xy - limb.at
        u, w = off @ np.array(limb.across), off @ limb.along
        if np.all((u > 0.0) & (w > limb.low) & (w < limb.high)):
            found.append(row)
    return found


def _name(piece: Piece) -> str:
    return piece.part or piece.mark


def _lines(kit: Kit) -> list[Spot]:
    """Rows of a loop that run in a straight line, or by angle round a bent bar."""
    return [one for one in held(kit) if _straight(defects.places(kit, one.piece.mark, one.row))]


def _straight(holes: Array) -> bool:
    off = holes - holes[0]
    return bool(np.abs(off[:, 0] * off[-1, 1] - off[:, 1] * off[-1, 0]).max() <= 1e-6 * float(off[-1] @ off[-1]))


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


def _along(kit: Kit, mark: str, row: str) -> Array:
    """The way (2,) of 1 mm along a row: in mm, or in degrees round a bent bar."""
    piece, holes = kit.piece(mark), defects.places(kit, mark, row)
    if isinstance(piece, Curved):
        return np.array([float(np.degrees(1.0 / piece.inside_radius)), 0.0])
    way: Array = (holes[-1] - holes[0]) / np.linalg.norm(holes[-1] - holes[0])
    return way


MISTAKES: dict[str, Callable[[Kit, Draw], Mistake | None]] = {
    "thickness forgotten": thickness_forgotten,
    "one pitch astray": pitch_astray,
    "end mirrored": end_mirrored,
    "strip reversed": strip_reversed,
    "bend allowance off": bend_allowance_off,
    "hole moved": hole_moved,
    "hands changed": hands_changed,
    "roll radius wrong": roll_radius_wrong,
    "hole missing": hole_missing,
    "inch drawing": inch_drawing,
    "plate of another thickness": plate_of_other_thickness,
    "fold the wrong way": fold_the_wrong_way,
}
