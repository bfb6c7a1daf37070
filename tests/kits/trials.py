"""Trials: a known kit with one fault, and what fabplan should say of it.

A trial names the checks of which one must speak, and the marks of pieces or seams of which one must stand in its
place. A trial without checks is sound: nothing may be said that was not said of the kit before.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

import networkx
import numpy as np

from tests.kits import defects
from tests.kits.build import Angle, Kit, Piece, Plate, Vector

Of = TypeVar("Of")
Draw = np.random.Generator
REFUSED = "job file refused"
"""Stands among the checks where the job file itself may be refused for the fault."""


@dataclass(frozen=True)
class Trial:
    """A faulty kit, the checks that may name the fault, and the marks that it may be named by."""

    kit: Kit
    checks: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()


Maker = Callable[[Kit, Draw], Trial | None]
"""Puts a fault into a kit, or None where the kit has no place for it."""


@dataclass(frozen=True)
class Spot:
    """A row of a piece: its count of holes and the seam that claims it."""

    piece: Piece
    row: str
    count: int
    seam: str

    @property
    def marks(self) -> tuple[str, ...]:
        """What the place may be named by."""
        return self.piece.mark, self.seam


def spots(kit: Kit) -> list[Spot]:
    """All rows of all pieces, those of a second hand left out: the job states only the first."""
    first = {piece.part or piece.mark: piece.mark for piece in reversed(kit.pieces)}.values()
    return [spot for spot in _rows(kit) if spot.piece.mark in first]


def _rows(kit: Kit) -> list[Spot]:
    found = []
    for seam in kit.seams:
        for ply in seam.plies:
            mark, _, row = ply.partition("/")
            found.append(Spot(kit.piece(mark), row or seam.mark, len(seam.points), seam.mark))
    return found


def held(kit: Kit) -> list[Spot]:
    """Rows in a loop: without their seam their piece still hangs together with another of its plies.

    Of several pieces alike, without the seams of that row of all of them. Any other row, alone in its place, only puts
    its piece elsewhere, and no drawing tells that it is wrong.
    """
    every = _rows(kit)
    graph = networkx.Graph((f"seam {spot.seam}", spot.piece.mark) for spot in every)
    seams: dict[tuple[str, str], set[str]] = {}
    for one in every:
        seams.setdefault((one.piece.part or one.piece.mark, one.row), set()).add(f"seam {one.seam}")

    def loop(spot: Spot) -> bool:
        rest = graph.subgraph(set(graph) - seams[spot.piece.part or spot.piece.mark, spot.row])
        joined = networkx.node_connected_component(rest, spot.piece.mark)
        return any(one.seam == spot.seam and one.piece.mark in joined - {spot.piece.mark} for one in every)

    return [spot for spot in spots(kit) if loop(spot)]


def pick(draw: Draw, of: Iterable[Of]) -> Of:
    """One of some, each as likely."""
    every = list(of)
    return every[int(draw.integers(len(every)))]


def plates(kit: Kit) -> list[Plate]:
    """The plates but the datum."""
    return [piece for piece in kit.pieces if isinstance(piece, Plate) and piece.mark != kit.job["datum"]]


def bars(kit: Kit) -> list[Angle]:
    """The bars that stand for themselves, not for the other hand of one before."""
    seen = {piece.part: piece for piece in reversed(kit.pieces) if isinstance(piece, Angle) and piece.part}
    return [piece for piece in kit.pieces if isinstance(piece, Angle) and seen.get(piece.part, piece) is piece]


def sound(kit: Kit, draw: Draw) -> Trial:
    """As it was made."""
    return Trial(kit)


def rounded(kit: Kit, draw: Draw) -> Trial:
    """Holes up to 0.02 mm out, as a drawing rounds them."""
    return Trial(defects.shaken(kit, int(draw.integers(1000)), 0.02))


def shaken(kit: Kit, draw: Draw) -> Trial:
    """Holes up to 0.1 mm out."""
    return Trial(defects.shaken(kit, int(draw.integers(1000)), 0.1))


def hole_a_little_out(kit: Kit, draw: Draw) -> Trial:
    """One hole 0.4 mm out, within the usable clearance of 0.63 mm."""
    spot = pick(draw, spots(kit))
    return Trial(defects.hole_moved(kit, spot.piece.mark, spot.row, int(draw.integers(spot.count)), (0.4, 0.0)))


def hole_out(kit: Kit, draw: Draw) -> Trial:
    """One hole 2 mm out along its row; of a plate in any direction."""
    return _strayed(kit, draw, 2.0, ("misfit",))


def hole_far_out(kit: Kit, draw: Draw) -> Trial:
    """One hole 9 mm out, which meets no mate."""
    return _strayed(kit, draw, 9.0, ("no-mate",))


def _strayed(kit: Kit, draw: Draw, by: float, checks: tuple[str, ...]) -> Trial:
    spot = pick(draw, spots(kit))
    turn = float(draw.uniform(0.0, 2.0 * np.pi)) if isinstance(spot.piece, Plate) else 0.0
    off = (by * float(np.cos(turn)), by * float(np.sin(turn)))
    hole = int(draw.integers(spot.count))
    return Trial(defects.hole_moved(kit, spot.piece.mark, spot.row, hole, off), checks, spot.marks)


def hole_missing(kit: Kit, draw: Draw) -> Trial:
    """One hole left out of one ply."""
    spot = pick(draw, spots(kit))
    worse = defects.hole_missing(kit, spot.piece.mark, spot.row, int(draw.integers(spot.count)))
    return Trial(worse, ("count-differs", "no-mate"), spot.marks)


def hole_added(kit: Kit, draw: Draw) -> Trial:
    """One hole too many in one ply."""
    spot = pick(draw, spots(kit))
    worse = defects.hole_added(kit, spot.piece.mark, spot.row, int(draw.integers(spot.count - 1)))
    return Trial(worse, ("count-differs", "no-mate"), spot.marks)


def row_reversed(kit: Kit, draw: Draw) -> Trial | None:
    """One row of a loop set out from its wrong end."""
    loops = held(kit)
    if not loops:
        return None
    spot = pick(draw, loops)
    return Trial(defects.row_reversed(kit, spot.piece.mark, spot.row), ("strip-reversed",), spot.marks)


def row_along(kit: Kit, draw: Draw) -> Trial | None:
    """One row of a loop 3 mm along."""
    loops = held(kit)
    if not loops:
        return None
    spot = pick(draw, loops)
    along = defects.places(kit, spot.piece.mark, spot.row)
    step = 3.0 * (along[-1] - along[0]) / np.linalg.norm(along[-1] - along[0])
    worse = defects.row_shifted(kit, spot.piece.mark, spot.row, (float(step[0]), float(step[1])))
    return Trial(worse, ("misfit", "no-mate"), _around(kit, spot))


def back_mark_out(kit: Kit, draw: Draw) -> Trial | None:
    """The back mark of one row of a bar in a loop 3 mm out: it closes on one face and not on the other."""
    loops = [spot for spot in held(kit) if isinstance(spot.piece, Angle)]
    if not loops:
        return None
    spot = pick(draw, loops)
    worse = defects.row_shifted(kit, spot.piece.mark, spot.row, (0.0, 3.0))
    return Trial(worse, ("misfit", "plies-apart", "plates-clash"), _around(kit, spot))


def _around(kit: Kit, spot: Spot) -> tuple[str, ...]:
    """Marks of the seam, its pieces, and all seams and pieces that these meet: a loop may open anywhere in it."""
    every = spots(kit)
    pieces = {one.piece.mark for one in every if one.seam == spot.seam}
    seams = {one.seam for one in every if one.piece.mark in pieces}
    return (*sorted(seams), *sorted({one.piece.mark for one in every if one.seam in seams}))


def bar_reversed(kit: Kit, draw: Draw) -> Trial | None:
    """All rows of a bar of two rows measured from its other end, which is its opposite hand."""
    two = [bar for bar in bars(kit) if len(bar.rows) > 1]
    if not two:
        return None
    bar = pick(draw, two)
    return Trial(defects.bar_reversed(kit, bar.mark), ("strip-reversed", "plate-mirrored"), _hands(bar))


def bar_short(kit: Kit, draw: Draw) -> Trial | None:
    """A bar ordered 30 mm too short for its rows."""
    if not bars(kit):
        return None
    bar = pick(draw, bars(kit))
    return Trial(defects.bar_short(kit, bar.mark, 30.0), ("least-end-distance", REFUSED), _hands(bar))


def _hands(bar: Angle) -> tuple[str, ...]:
    return (bar.mark, bar.part, f"{bar.part}R", f"{bar.part}L") if bar.part else (bar.mark,)


def plate_mirrored(kit: Kit, draw: Draw) -> Trial | None:
    """A plate of a loop drawn as seen from its other face."""
    return _mirrored(kit, draw, looped=True)


def end_mirrored(kit: Kit, draw: Draw) -> Trial | None:
    """The same of a plate that hangs on a chain: its stated face alone can tell."""
    return _mirrored(kit, draw, looped=False)


def _mirrored(kit: Kit, draw: Draw, looped: bool) -> Trial | None:
    loops = {spot.piece.mark for spot in held(kit)}
    some = [plate for plate in plates(kit) if (plate.mark in loops) == looped and plate.keys.get("marked")]
    if not some:
        return None
    plate = pick(draw, some)
    return Trial(defects.plate_mirrored(kit, plate.mark), ("plate-mirrored", "marked-face"), (plate.mark,))


def hands_swapped(kit: Kit, draw: Draw) -> Trial | None:
    """Right and left hand of a pair named one for the other."""
    pair = [piece.mark for piece in kit.pieces if isinstance(piece, Angle) and piece.part]
    if not pair:
        return None
    return Trial(defects.hand_swapped(kit, *pair), ("plate-mirrored",), tuple(pair))


def plate_thick(kit: Kit, draw: Draw) -> Trial | None:
    """One of two plates between straps 2 mm thicker than stated."""
    if not any(len(seam.plies) > 2 for seam in kit.seams):
        return None
    mark = pick(draw, ("P1", "P2"))
    thickness = {plate.mark: plate.thickness for plate in kit.pieces if isinstance(plate, Plate)}[mark]
    return Trial(defects.thickness_wrong(kit, mark, thickness + 2.0), ("plies-apart",), ("A", "B"))


def plate_large(kit: Kit, draw: Draw) -> Trial | None:
    """A plate cut so large that it runs into its neighbour."""
    grown = {"Box": ("E1", (30.0, 0.0, 0.0, 0.0)), "Butt joint": ("P2", (20.0, 0.0, 0.0, 0.0))}
    grown["Double butt joint"] = grown["Butt joint"]
    found = grown.get(str(kit.job["title"]))
    return Trial(defects.plate_grown(kit, *found), ("plates-clash",), (found[0],)) if found else None


def plate_over_row(kit: Kit, draw: Draw) -> Trial | None:
    """A doubling plate that reaches under a row of another seam and has no holes there."""
    if kit.job["title"] != "Stiffened panel":
        return None
    return Trial(defects.plate_grown(kit, "D1", (60.0, 0.0, 0.0, 0.0)), ("no-hole",), ("D1",))


def seam_forgotten(kit: Kit, draw: Draw) -> Trial:
    """A seam that the job does not name."""
    seam = pick(draw, kit.seams)
    marks = tuple(ply.partition("/")[0] for ply in seam.plies)
    return Trial(defects.seam_forgotten(kit, seam.mark), ("unclaimed-stack", "not-placed"), marks)


def heads_elsewhere(kit: Kit, draw: Draw) -> Trial | None:
    """The heads of a seam in a loop stated on the other side than its plies are listed from."""
    loops = held(kit)
    if not loops:
        return None
    spot = pick(draw, loops)
    (side,) = (seam.keys["head"] for seam in kit.seams if seam.mark == spot.seam)
    worse = defects.heads_stated(kit, spot.seam, "outside" if side == "inside" else "inside")
    return Trial(worse, ("head-side", "marked-face", "plate-mirrored"), (*_around(kit, spot), spot.seam))


def holes_large(kit: Kit, draw: Draw) -> Trial:
    """All holes of a plate cut 13 for 11."""
    plate = pick(draw, plates(kit))
    seams = tuple(spot.seam for spot in spots(kit) if spot.piece is plate)
    return Trial(
        defects.holes_drilled(kit, plate.mark, 13.0), ("hole-sizes-differ", "hole-for-rivet"), (plate.mark, *seams)
    )


def rivet_too_many(kit: Kit, draw: Draw) -> Trial:
    """A rivet midway between two, in every ply."""
    spot = pick(draw, spots(kit))
    worse = defects.rivet_added(kit, spot.seam, int(draw.integers(spot.count - 3)))
    return Trial(worse, ("least-pitch",), _pieces(kit, spot.seam))


def rivets_left_out(kit: Kit, draw: Draw) -> Trial:
    """Two rivets in line left out of every ply, not at the ends."""
    spot = pick(draw, spots(kit))
    worse = defects.rivets_left_out(kit, spot.seam, int(draw.integers(1, spot.count - 4)))
    return Trial(worse, ("greatest-pitch",), _pieces(kit, spot.seam))


def row_at_edge(kit: Kit, draw: Draw) -> Trial:
    """A whole seam too near the edge of a ply, alike in every ply."""
    near: dict[str, tuple[str, Vector, str]] = {
        "Box": ("As", (0.0, 6.0, 0.0), "A1"),
        "Butt joint": ("A", (9.0, 0.0, 0.0), "P1"),
        "Double butt joint": ("A", (9.0, 0.0, 0.0), "P1"),
        "Laps": ("L2", (0.0, -8.0, 0.0), "P2"),
        "Stiffened panel": ("V1", (-6.0, 0.0, 0.0), "G1"),
    }
    seam, by, mark = near[str(kit.job["title"])]
    return Trial(defects.seam_shifted(kit, seam, by), ("least-edge-distance",), (mark, f"{mark}R", f"{mark}L"))


def _pieces(kit: Kit, seam: str) -> tuple[str, ...]:
    """Marks that a finding on a ply of a seam may bear: instance, piece of a pair, seam."""
    pieces = [spot.piece for spot in spots(kit) if spot.seam == seam]
    parts = [piece.part for piece in pieces if isinstance(piece, Angle) and piece.part]
    return (*(piece.mark for piece in pieces), *parts, seam)


TRIALS: dict[str, Maker] = {
    "sound": sound,
    "sound, holes up to 0.02 mm out": rounded,
    "sound, holes up to 0.1 mm out": shaken,
    "sound, one hole 0.4 mm out": hole_a_little_out,
    "one hole 2 mm out": hole_out,
    "one hole 9 mm out": hole_far_out,
    "a hole missing": hole_missing,
    "a hole too many": hole_added,
    "a row from its wrong end": row_reversed,
    "a row 3 mm along": row_along,
    "a back mark 3 mm out": back_mark_out,
    "a bar from its wrong end": bar_reversed,
    "a bar 30 mm short": bar_short,
    "a plate mirrored": plate_mirrored,
    "a plate of a chain mirrored": end_mirrored,
    "right for left hand": hands_swapped,
    "a plate 2 mm thicker": plate_thick,
    "a plate into its neighbour": plate_large,
    "a plate over a row": plate_over_row,
    "a seam forgotten": seam_forgotten,
    "heads stated on the wrong side": heads_elsewhere,
    "holes 13 for 11": holes_large,
    "a rivet too many": rivet_too_many,
    "two rivets left out": rivets_left_out,
    "a row too near the edge": row_at_edge,
}
