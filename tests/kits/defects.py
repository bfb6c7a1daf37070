"""One fault put into a known kit; the kit given stays as it is."""

from copy import deepcopy
from dataclasses import replace

import numpy as np

from tests.kits.bent import Formed, mirrored
from tests.kits.build import Angle, Array, Kit, Plate, Vector


def places(kit: Kit, mark: str, row: str) -> Array:
    """The holes (n, 2) of one row, in the frame of its plate or along and across a bar's leg."""
    piece = kit.piece(mark)
    return piece.rows[row] if isinstance(piece, Plate) else piece.rows[row][1]


def put(kit: Kit, mark: str, row: str, holes: Array) -> None:
    piece = kit.piece(mark)
    if isinstance(piece, Plate):
        piece.rows[row] = holes
    else:
        piece.rows[row] = (piece.rows[row][0], holes)


def hole_moved(kit: Kit, mark: str, row: str, hole: int, by: tuple[float, float]) -> Kit:
    """One hole of a row out of place by (x, y) mm in the frame of its plate, or along and across a bar's leg."""
    worse = deepcopy(kit)
    holes = places(worse, mark, row).copy()
    holes[hole] += by
    put(worse, mark, row, holes)
    return worse


def hole_missing(kit: Kit, mark: str, row: str, hole: int) -> Kit:
    """One hole of a row left out: at the end of the row, the row is short by one."""
    worse = deepcopy(kit)
    put(worse, mark, row, np.delete(places(worse, mark, row), hole, axis=0))
    return worse


def hole_added(kit: Kit, mark: str, row: str, after: int) -> Kit:
    """One hole too many, midway between two of a row."""
    worse = deepcopy(kit)
    holes = places(worse, mark, row)
    put(worse, mark, row, np.insert(holes, after + 1, (holes[after] + holes[after + 1]) / 2.0, axis=0))
    return worse


def row_shifted(kit: Kit, mark: str, row: str, by: tuple[float, float]) -> Kit:
    """A whole row out of place by (x, y) mm in the frame of its plate, or along and across a bar's leg."""
    worse = deepcopy(kit)
    put(worse, mark, row, places(worse, mark, row) + by)
    return worse


def rivet_added(kit: Kit, seam: str, after: int) -> Kit:
    """A fault of the design, alike in every ply: a rivet too many, midway between two."""
    for mark, row in _plies(kit, seam):
        kit = hole_added(kit, mark, row, after)
    return kit


def rivets_left_out(kit: Kit, seam: str, first: int) -> Kit:
    """A fault of the design, alike in every ply: two rivets in line left out."""
    for mark, row in _plies(kit, seam):
        kit = hole_missing(hole_missing(kit, mark, row, first), mark, row, first)
    return kit


def seam_shifted(kit: Kit, seam: str, by: Vector) -> Kit:
    """A fault of the design, alike in every ply: all rivets of a seam shifted by (x, y, z) mm of the body."""
    for mark, row in _plies(kit, seam):
        piece = kit.piece(mark)
        x, y, z = (np.array(by) @ piece.frame.matrix[:3, :3]).tolist()
        upright = isinstance(piece, Angle) and piece.rows[row][0] == "b"
        kit = row_shifted(kit, mark, row, (x, z if upright else y))
    return kit


def _plies(kit: Kit, seam: str) -> list[tuple[str, str]]:
    """Piece and row of each ply; holes run in the order of the seam's rivets in all of them."""
    (plies,) = (one.plies for one in kit.seams if one.mark == seam)
    parts = [ply.partition("/") for ply in plies]
    return [(mark, row or seam) for mark, _, row in parts]


def row_reversed(kit: Kit, mark: str, row: str) -> Kit:
    """The spaces of one row set out from the wrong end: first and last hole stay."""
    worse = deepcopy(kit)
    holes = places(worse, mark, row)
    put(worse, mark, row, (holes[0] + holes[-1] - holes)[::-1])
    return worse


def bar_reversed(kit: Kit, mark: str) -> Kit:
    """All rows of a bar measured from its other end."""
    worse = deepcopy(kit)
    bar = worse.piece(mark)
    assert isinstance(bar, Angle)
    for row, (leg, holes) in bar.rows.items():
        bar.rows[row] = (leg, np.column_stack([bar.span - holes[:, 0], holes[:, 1:]])[::-1])
    return worse


def plate_mirrored(kit: Kit, mark: str) -> Kit:
    """A plate drawn as seen from its other face: x turned about the middle of its width; of a bent one about 0."""
    worse = deepcopy(kit)
    plate = worse.piece(mark)
    assert isinstance(plate, Plate)
    if isinstance(plate, Formed):
        other = mirrored(plate, mark)
        other.frame, other.rows = plate.frame, {row: xy * [-1.0, 1.0] for row, xy in plate.rows.items()}
        worse.pieces[worse.pieces.index(plate)] = other
        return worse
    wide = max(x for x, _, _ in plate.outline)
    plate.outline = [(wide - x, y, 0.0) for x, y, _ in reversed(plate.outline)]
    plate.round_cutouts = [(wide - x, y, radius) for x, y, radius in plate.round_cutouts]
    plate.rows = {row: np.column_stack([wide - xy[:, 0], xy[:, 1]]) for row, xy in plate.rows.items()}
    return worse


def bar_short(kit: Kit, mark: str, by: float) -> Kit:
    """A bar ordered shorter than its rows need, at its far end."""
    worse = deepcopy(kit)
    bar = worse.piece(mark)
    assert isinstance(bar, Angle)
    bar.length -= by
    return worse


def holes_drilled(kit: Kit, mark: str, diameter: float) -> Kit:
    """All holes of one plate of another size."""
    worse = deepcopy(kit)
    plate = worse.piece(mark)
    assert isinstance(plate, Plate)
    plate.hole = diameter
    return worse


def thickness_wrong(kit: Kit, mark: str, thickness: float) -> Kit:
    """Another thickness in the job file."""
    worse = deepcopy(kit)
    plate = worse.piece(mark)
    assert isinstance(plate, Plate)
    plate.keys = {**plate.keys, "thickness": thickness}
    return worse


def plate_grown(kit: Kit, mark: str, by: tuple[float, float, float, float]) -> Kit:
    """The outline of a rectangular plate moved out on its left, lower, right and upper side, mm."""
    worse = deepcopy(kit)
    plate = worse.piece(mark)
    assert isinstance(plate, Plate)
    (x0, y0, _), _, (x1, y1, _), _ = plate.outline
    x0, y0, x1, y1 = x0 - by[0], y0 - by[1], x1 + by[2], y1 + by[3]
    plate.outline = [(x0, y0, 0.0), (x1, y0, 0.0), (x1, y1, 0.0), (x0, y1, 0.0)]
    return worse


def hand_swapped(kit: Kit, one: str, other: str) -> Kit:
    """Two instances of a pair named one for the other in every seam."""
    worse = deepcopy(kit)
    swap = {one: other, other: one}

    def renamed(ply: str) -> str:
        mark, slash, row = ply.partition("/")
        return swap.get(mark, mark) + slash + row

    worse.seams = [replace(seam, plies=tuple(renamed(ply) for ply in seam.plies)) for seam in worse.seams]
    return worse


def heads_stated(kit: Kit, mark: str, side: str) -> Kit:
    """The side of the heads of one seam as the job states it, "inside" or "outside"."""
    worse = deepcopy(kit)
    worse.seams = [replace(seam, keys={**seam.keys, "head": side}) if seam.mark == mark else seam for seam in kit.seams]
    return worse


def seam_forgotten(kit: Kit, mark: str) -> Kit:
    """A seam that the job file does not name."""
    worse = deepcopy(kit)
    worse.seams = [seam for seam in worse.seams if seam.mark != mark]
    return worse


def shaken(kit: Kit, seed: int, by: float) -> Kit:
    """Every hole out of place by up to `by` mm along and across; on a bar along only, its rows keep their back mark."""
    worse, rng = deepcopy(kit), np.random.default_rng(seed)
    for piece in worse.pieces:
        across = by if isinstance(piece, Plate) else 0.0
        for row in piece.rows:
            holes = places(worse, piece.mark, row)
            off = rng.uniform(-1.0, 1.0, holes.shape) * [by, across]
            put(worse, piece.mark, row, np.round(holes + off, 4))
    return worse
