"""The tank of a dust-laying bowser for the (invented) Greystane quarry: 2.4 m long, 1.2 m wide, 1.1 m high.

Floor inside the ends and sides, ends between the sides, top over all; angles inside; heads inside, points outside.
Rows end unlike at their two ends, so that no bar can be turned end for end. The posts of the surge plate hang on the
side by one row alone, so that row has one odd space; the surge plate itself is alike whichever way it is turned.
"""

from datetime import date

import numpy as np

from tests.kits.build import (
    Angle,
    Frame,
    Keys,
    Kit,
    Piece,
    Plate,
    Ring,
    Seam,
    Value,
    Vector,
    disc,
    drilled,
    line,
    minus,
    rectangle,
    ring,
)

LONG, WIDE, HIGH = 2400.0, 1200.0, 1100.0
T, TOP = 6.0, 5.0  # plate of floor, sides and ends; of top, straps, surge plate
JOINT = 1300.0  # where the sides are in two plates
LEG, BACK = 40.0, 22.0  # legs of the angles and their back mark
GAP = LEG + 2.0  # where a bar stops short of the leg of another
PITCH = 36.0
L40 = (LEG, LEG, 6.0)
X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
HATCH = (1850.0, 600.0)


def bowser() -> Kit:
    """The whole tank."""
    pieces = [*_plates(), *_floor_angles(), *_corner_angles(), *_top_angles(), *_surge()]
    job: Keys = {
        "title": "Quarry bowser tank",
        "number": "B7",
        "revision": "A",
        "date": date(2026, 11, 2),
        "rules": "en1993-1-8-2005",
        "datum": "F1",
        "exposed": True,
        "drawings": "../../drawings/bowser",
    }
    extra = (
        '[[supplier]]\nname = "cutter"\nlimits_dated = 2026-03-01\nprocess = "laser"\n'
        'smallest_hole = "1.0 t"\nsmallest_web = "1.0 t"\n\n[shop]\nhoist = 250'
    )
    kit = drilled(Kit(pieces, _seams(), job, extra=extra))
    for strap, near in (("B1", 0.0), ("B2", WIDE)):
        _corner_holes(kit, strap, near)
    return kit


def _corner_holes(kit: Kit, strap: str, near: float) -> None:
    """Holes of a strap where the rows of the angles run through it: three plies, listed by the angles' own seams."""
    piece = kit.piece(strap)
    assert isinstance(piece, Plate)
    places = [(JOINT + side, near, z) for z in (BACK, HIGH - BACK) for side in (-22.0, 22.0)]
    piece.rows["corner"] = piece.frame.own(np.array(places))[:, :2]


def _keys(marked: str, **more: Value) -> Keys:
    return {"grade": "S275", "supplier": "cutter", "marked": marked, **more}


def _plates() -> list[Piece]:
    tall = HIGH + T
    outside = _keys("outside")
    left, right = JOINT + T, LONG + T - JOINT
    floor = Plate(
        "F1",
        Frame((0.0, 0.0, 0.0), X, Y),
        rectangle(LONG, WIDE),
        T,
        keys=_keys("inside", size=(LONG, WIDE)),
    )
    sides = [
        Plate("S1", Frame((-T, -T, -T), X, Z), rectangle(left, tall), T, keys=outside),
        Plate("S2", Frame((JOINT, -T, -T), X, Z), rectangle(right, tall), T, keys=outside),
        Plate("S3", Frame((JOINT, WIDE + T, -T), minus(X), Z), rectangle(left, tall), T, keys=outside),
        Plate("S4", Frame((LONG + T, WIDE + T, -T), minus(X), Z), rectangle(right, tall), T, keys=outside),
    ]
    ends = [
        Plate("E1", Frame((-T, WIDE, -T), minus(Y), Z), rectangle(WIDE, tall), T, keys=outside),
        Plate("E2", Frame((LONG + T, 0.0, -T), Y, Z), rectangle(WIDE, tall), T, keys=outside),
    ]
    wide, deep = LONG + 2.0 * T, WIDE + 2.0 * T
    top = Plate("T1", Frame((-T, -T, HIGH + TOP), X, Y), _rounded(wide, deep, 20.0), TOP, keys=outside)
    top.round_cutouts.append((HATCH[0] + T, HATCH[1] + T, 310.0))
    collar = Plate("H1", Frame((*HATCH, HIGH + TOP + T), X, Y), disc(380.0), T, keys=outside)
    collar.round_cutouts.append((0.0, 0.0, 310.0))
    strap = rectangle(80.0, tall)
    straps = [
        Plate("B1", Frame((JOINT - 40.0, -T - TOP, -T), X, Z), strap, TOP, keys=outside),
        Plate("B2", Frame((JOINT + 40.0, WIDE + T + TOP, -T), minus(X), Z), strap, TOP, keys=outside),
    ]
    return [floor, *sides, *ends, top, collar, *straps]


def _rounded(width: float, height: float, r: float) -> Ring:
    """A rectangle with round corners."""
    b = 0.41421356237309503  # tan of an eighth of a turn
    return [
        (r, 0.0, 0.0), (width - r, 0.0, b), (width, r, 0.0), (width, height - r, b),
        (width - r, height, 0.0), (r, height, b), (0.0, height - r, 0.0), (0.0, r, b),
    ]  # fmt: skip


def _bar(mark: str, origin: Vector, x: Vector, y: Vector, length: float, part: str = "") -> Angle:
    return Angle(mark, Frame(origin, x, y), L40, length, part, {"grade": "S275"})


def _floor_angles() -> list[Piece]:
    return [
        _bar("A1R", (2.0, 0.0, 0.0), X, Y, LONG - 4.0, "A1"),
        _bar("A1L", (LONG - 2.0, WIDE, 0.0), minus(X), minus(Y), LONG - 4.0, "A1"),
        _bar("A2", (0.0, WIDE - GAP, 0.0), minus(Y), X, WIDE - 2.0 * GAP),
        _bar("A3", (LONG, GAP, 0.0), Y, minus(X), WIDE - 2.0 * GAP),
    ]


def _corner_angles() -> list[Piece]:
    tall = HIGH - 2.0 * GAP
    low, high = GAP, HIGH - GAP
    return [
        _bar("C1", (0.0, 0.0, low), Z, X, tall),
        _bar("C2", (LONG, 0.0, low), Z, Y, tall),
        _bar("C3", (LONG, WIDE, low), Z, minus(X), tall),
        _bar("C4", (0.0, WIDE, high), minus(Z), X, tall),
    ]


def _top_angles() -> list[Piece]:
    return [
        _bar("D1R", (LONG - 2.0, 0.0, HIGH), minus(X), Y, LONG - 4.0, "D1"),
        _bar("D1L", (2.0, WIDE, HIGH), X, minus(Y), LONG - 4.0, "D1"),
        _bar("D2", (0.0, GAP, HIGH), Y, X, WIDE - 2.0 * GAP),
        _bar("D3", (LONG, WIDE - GAP, HIGH), minus(Y), minus(X), WIDE - 2.0 * GAP),
    ]


def _surge() -> list[Piece]:
    """The loose surge plate on two upright angles, with an opening that a man can pass."""
    plate = Plate("P1", Frame((1005.0, 2.0, 80.0), Y, Z), rectangle(WIDE - 4.0, 880.0), TOP)
    plate.round_cutouts.append((WIDE / 2.0 - 2.0, 440.0, 310.0))
    plate.keys = {"grade": "S275", "supplier": "cutter", "loose": True}
    pieces: list[Piece] = [
        plate,
        _bar("G1R", (1000.0, 0.0, 90.0), Z, Y, 860.0, "G1"),
        _bar("G1L", (1000.0, WIDE, 950.0), minus(Z), minus(Y), 860.0, "G1"),
    ]
    for piece in pieces:  # the posts stand over rivets of the floor and the top: all of it comes in after those
        piece.keys["loose"] = True
    return pieces


TIGHT: Keys = {"tight": True, "head": "inside"}


def _seam(mark: str, plies: tuple[str, ...], start: Vector, end: Vector, axis: Vector) -> Seam:
    return Seam(mark, plies, line(start, end, PITCH), axis, TIGHT)


def _seams() -> list[Seam]:
    hatch = Seam("R", ("T1", "H1"), ring((*HATCH, HIGH), 345.0, 50), Z, TIGHT)
    west, east = (
        [*_end_seams(left), *_corner_seams(left, True), *_corner_seams(left, False)] for left in (True, False)
    )
    return [*_side_seams(True), *_side_seams(False), *west, *east, hatch]


def _side_seams(low: bool) -> list[Seam]:
    """Seams of one long side: to floor and top, the butt strap, the post of the surge plate."""
    bar, rail, first, second, strap, post = (
        ("A1R", "D1R", "S1", "S2", "B1", "G1R") if low else ("A1L", "D1L", "S3", "S4", "B2", "G1L")
    )
    y, inner, out = (0.0, BACK, minus(Y)) if low else (WIDE, WIDE - BACK, Y)
    side, up, left, right = "s" if low else "n", HIGH - BACK, JOINT - 22.0, JOINT + 22.0
    odd = np.vstack([line((1000.0 - BACK, y, 120.0), (1000.0 - BACK, y, 876.0), PITCH), [(1000.0 - BACK, y, 906.0)]])
    return [
        _seam(f"A{side}", (f"{bar}/floor", "F1"), (48.0, inner, 0.0), (2362.0, inner, 0.0), minus(Z)),
        _seam(f"B{side}", (f"{bar}/side 1", first), (38.0, y, BACK), (left, y, BACK), out),
        _seam(f"C{side}", (f"{bar}/side 2", second), (right, y, BACK), (2348.0, y, BACK), out),
        _seam(f"D{side}", (f"{rail}/top", "T1"), (44.0, inner, HIGH), (2358.0, inner, HIGH), Z),
        _seam(f"E{side}", (f"{rail}/side 1", first), (44.0, y, up), (left, y, up), out),
        _seam(f"F{side}", (f"{rail}/side 2", second), (right, y, up), (2346.0, y, up), out),
        _seam(f"G{side}", (first, strap), (left, y, 56.0), (left, y, 1040.0), out),
        _seam(f"H{side}", (second, strap), (right, y, 56.0), (right, y, 1044.0), out),
        Seam(f"P{side}", (f"{post}/side", first), odd, out, {"head": "inside"}),
        Seam(f"Q{side}", (f"{post}/plate", "P1"), line((1000.0, inner, 138.0), (1000.0, inner, 902.0), PITCH), X),
    ]


def _end_seams(left: bool) -> list[Seam]:
    """Seams of one end to floor and top."""
    bar, rail, end = ("A2", "D2", "E1") if left else ("A3", "D3", "E2")
    x, inner, out = (0.0, BACK, minus(X)) if left else (LONG, LONG - BACK, X)
    name, up = "w" if left else "e", HIGH - BACK
    return [
        _seam(f"A{name}", (bar, "F1"), (inner, 64.0, 0.0), (inner, 1114.0, 0.0), minus(Z)),
        _seam(f"B{name}", (bar, end), (x, 58.0, BACK), (x, 1140.0, BACK), out),
        _seam(f"D{name}", (rail, "T1"), (inner, 60.0, HIGH), (inner, 1138.0, HIGH), Z),
        _seam(f"E{name}", (rail, end), (x, 60.0, up), (x, 1142.0, up), out),
    ]


def _corner_seams(left: bool, low: bool) -> list[Seam]:
    """Seams of one upright corner angle, to its side and to its end."""
    corner = {(True, True): "C1", (False, True): "C2", (False, False): "C3", (True, False): "C4"}[left, low]
    plate = {(True, True): "S1", (False, True): "S2", (True, False): "S3", (False, False): "S4"}[left, low]
    x, inner, end, out = (0.0, BACK, "E1", minus(X)) if left else (LONG, LONG - BACK, "E2", X)
    y, inset, face = (0.0, BACK, minus(Y)) if low else (WIDE, WIDE - BACK, Y)
    name = ("w" if left else "e") + ("s" if low else "n")
    return [
        _seam(f"K{name}", (corner, plate), (inner, y, 64.0), (inner, y, 1030.0), face),
        _seam(f"L{name}", (corner, end), (x, inset, 62.0), (x, inset, 1036.0), out),
    ]
