"""One fault put into a known kit; the kit given stays as it is."""

from copy import deepcopy
from dataclasses import replace

import numpy as np

from tests.kits.build import Angle, Array, Kit, Plate


def _places(kit: Kit, mark: str, row: str) -> Array:
    piece = kit.piece(mark)
    return piece.rows[row] if isinstance(piece, Plate) else piece.rows[row][1]


def _put(kit: Kit, mark: str, row: str, places: Array) -> None:
    piece = kit.piece(mark)
    if isinstance(piece, Plate):
        piece.rows[row] = places
    else:
        piece.rows[row] = (piece.rows[row][0], places)


def hole_moved(kit: Kit, mark: str, row: str, hole: int, by: tuple[float, float]) -> Kit:
    """One hole of a row out of place by (x, y) mm in the frame of its plate, or along and across a bar's leg."""
    worse = deepcopy(kit)
    places = _places(worse, mark, row).copy()
    places[hole] += by
    _put(worse, mark, row, places)
    return worse


def hole_missing(kit: Kit, mark: str, row: str, hole: int) -> Kit:
    """One hole of a row left out: at the end of the row, the row is short by one."""
    worse = deepcopy(kit)
    _put(worse, mark, row, np.delete(_places(worse, mark, row), hole, axis=0))
    return worse


def row_reversed(kit: Kit, mark: str, row: str) -> Kit:
    """The spaces of one row set out from the wrong end: first and last hole stay."""
    worse = deepcopy(kit)
    places = _places(worse, mark, row)
    _put(worse, mark, row, (places[0] + places[-1] - places)[::-1])
    return worse


def bar_reversed(kit: Kit, mark: str) -> Kit:
    """All rows of a bar measured from its other end."""
    worse = deepcopy(kit)
    bar = worse.piece(mark)
    assert isinstance(bar, Angle)
    for row, (leg, places) in bar.rows.items():
        bar.rows[row] = (leg, np.column_stack([bar.length - places[:, 0], places[:, 1:]])[::-1])
    return worse


def plate_mirrored(kit: Kit, mark: str) -> Kit:
    """A plate drawn as seen from its other face: x turned about the middle of its width."""
    worse = deepcopy(kit)
    plate = worse.piece(mark)
    assert isinstance(plate, Plate)
    wide = max(x for x, _, _ in plate.outline)
    plate.outline = [(wide - x, y, 0.0) for x, y, _ in reversed(plate.outline)]
    plate.round_cutouts = [(wide - x, y, radius) for x, y, radius in plate.round_cutouts]
    plate.rows = {row: np.column_stack([wide - xy[:, 0], xy[:, 1]]) for row, xy in plate.rows.items()}
    return worse


def thickness_wrong(kit: Kit, mark: str, thickness: float) -> Kit:
    """Another thickness in the job file."""
    worse = deepcopy(kit)
    plate = worse.piece(mark)
    assert isinstance(plate, Plate)
    plate.thickness = thickness
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
            places = _places(worse, piece.mark, row)
            off = rng.uniform(-1.0, 1.0, places.shape) * [by, across]
            _put(worse, piece.mark, row, np.round(places + off, 4))
    return worse
