"""The tank of a dust-laying bowser for the (invented) Greystane quarry: 2.4 m long, 1.2 m wide, 1.1 m high.

Floor inside the ends and sides, ends between the sides, top over all; angles inside; heads inside, points outside.
Rows end unlike at their two ends, so that no bar can be turned end for end. The posts of the surge plate hang on the
side by one row alone, so that row has one odd space; the surge plate itself is alike whichever way it is turned.
"""

import numpy as np

from tests.kits.build import Angle, Frame, Kit, Plate, Seam, Vector, disc, drilled, line, rectangle, ring

LONG, WIDE, HIGH = 2400.0, 1200.0, 1100.0
T, TOP = 6.0, 5.0  # plate of floor, sides and ends; of top, straps, surge plate
JOINT = 1300.0  # where the sides are in two plates
LEG, BACK = 40.0, 22.0  # legs of the angles and their back mark
GAP = LEG + 2.0  # where a bar stops short of the leg of another
PITCH = 36.0
L40 = (LEG, LEG, 6.0)
X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
HATCH = (1850.0, 600.0)


def minus(v: Vector) -> Vector:
    """The opposite direction."""
    return (-v[0], -v[1], -v[2])


def bowser() -> Kit:
    """The whole tank."""
    pieces = [*_plates(), *_floor_angles(), *_corner_angles(), *_top_angles(), *_surge()]
    job: dict[str, object] = {
        "title": "Quarry bowser tank",
        "number": "B7",
        "revision": "A",
        "date": "raw:2026-11-02",
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


def _keys(marked: str, **more: object) -> dict[str, object]:
    return {"grade": "S275", "supplier": "cutter", "marked": marked, **more}


def _plates() -> list[Plate | Angle]:
    tall = HIGH + T
    outside = _keys("outside")
    left, right = JOINT + T, LONG + T - JOINT
    floor = Plate(
        "F1",
        Frame((0.0, 0.0, 0.0), X, Y),
        rectangle(LONG, WIDE),
        T,
        keys=_keys("inside", size=f"raw:[{LONG:g}, {WIDE:g}]"),
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


def _rounded(width: float, height: float, r: float) -> list[tuple[float, float, float]]:
    """A rectangle with round corners."""
    b = 0.41421356237309503  # tan of an eighth of a turn
    return [
        (r, 0.0, 0.0), (width - r, 0.0, b), (width, r, 0.0), (width, height - r, b),
        (width - r, height, 0.0), (r, height, b), (0.0, height - r, 0.0), (0.0, r, b),
    ]  # fmt: skip


def _bar(mark: str, origin: Vector, x: Vector, y: Vector, length: float, part: str = "") -> Angle:
    return Angle(mark, Frame(origin, x, y), L40, length, part, {"grade": "S275"})


def _floor_angles() -> list[Plate | Angle]:
    return [
        _bar("A1R", (2.0, 0.0, 0.0), X, Y, LONG - 4.0, "A1"),
        _bar("A1L", (LONG - 2.0, WIDE, 0.0), minus(X), minus(Y), LONG - 4.0, "A1"),
        _bar("A2", (0.0, WIDE - GAP, 0.0), minus(Y), X, WIDE - 2.0 * GAP),
        _bar("A3", (LONG, GAP, 0.0), Y, minus(X), WIDE - 2.0 * GAP),
    ]


def _corner_angles() -> list[Plate | Angle]:
    tall = HIGH - 2.0 * GAP
    low, high = GAP, HIGH - GAP
    return [
        _bar("C1", (0.0, 0.0, low), Z, X, tall),
        _bar("C2", (LONG, 0.0, low), Z, Y, tall),
        _bar("C3", (LONG, WIDE, low), Z, minus(X), tall),
        _bar("C4", (0.0, WIDE, high), minus(Z), X, tall),
    ]


def _top_angles() -> list[Plate | Angle]:
    return [
        _bar("D1R", (LONG - 2.0, 0.0, HIGH), minus(X), Y, LONG - 4.0, "D1"),
        _bar("D1L", (2.0, WIDE, HIGH), X, minus(Y), LONG - 4.0, "D1"),
        _bar("D2", (0.0, GAP, HIGH), Y, X, WIDE - 2.0 * GAP),
        _bar("D3", (LONG, WIDE - GAP, HIGH), minus(Y), minus(X), WIDE - 2.0 * GAP),
    ]


def _surge() -> list[Plate | Angle]:
    """The loose surge plate on two upright angles, with an opening that a man can pass."""
    plate = Plate("P1", Frame((1005.0, 2.0, 80.0), Y, Z), rectangle(WIDE - 4.0, 880.0), TOP)
    plate.round_cutouts.append((WIDE / 2.0 - 2.0, 440.0, 310.0))
    plate.keys = {"grade": "S275", "supplier": "cutter", "loose": True}
    pieces: list[Plate | Angle] = [
        plate,
        _bar("G1R", (1000.0, 0.0, 90.0), Z, Y, 860.0, "G1"),
        _bar("G1L", (1000.0, WIDE, 950.0), minus(Z), minus(Y), 860.0, "G1"),
    ]
    for piece in pieces:  # the posts stand over rivets of the floor and the top: all of it comes in after those
        piece.keys["loose"] = True
    return pieces


def _seams() -> list[Seam]:
    tight: dict[str, object] = {"tight": True, "head": "inside"}
    seams: list[Seam] = []

    def seam(mark: str, plies: tuple[str, ...], start: Vector, end: Vector, axis: Vector, **keys: object) -> None:
        seams.append(Seam(mark, plies, line(start, end, PITCH), axis, keys or tight))

    for low, near, bars, plates in (
        (True, 0.0, ("A1R", "D1R"), ("S1", "S2", "B1")),
        (False, WIDE, ("A1L", "D1L"), ("S3", "S4", "B2")),
    ):
        out = minus(Y) if low else Y
        inner = BACK if low else WIDE - BACK
        side = "s" if low else "n"
        seam(f"A{side}", (f"{bars[0]}/floor", "F1"), (48.0, inner, 0.0), (2362.0, inner, 0.0), minus(Z))
        seam(f"B{side}", (f"{bars[0]}/side 1", plates[0]), (38.0, near, BACK), (JOINT - 22.0, near, BACK), out)
        seam(f"C{side}", (f"{bars[0]}/side 2", plates[1]), (JOINT + 22.0, near, BACK), (2348.0, near, BACK), out)
        seam(f"D{side}", (f"{bars[1]}/top", "T1"), (44.0, inner, HIGH), (2358.0, inner, HIGH), Z)
        up = HIGH - BACK
        seam(f"E{side}", (f"{bars[1]}/side 1", plates[0]), (44.0, near, up), (JOINT - 22.0, near, up), out)
        seam(f"F{side}", (f"{bars[1]}/side 2", plates[1]), (JOINT + 22.0, near, up), (2346.0, near, up), out)
        seam(f"G{side}", (plates[0], plates[2]), (JOINT - 22.0, near, 56.0), (JOINT - 22.0, near, 1040.0), out)
        seam(f"H{side}", (plates[1], plates[2]), (JOINT + 22.0, near, 56.0), (JOINT + 22.0, near, 1044.0), out)
        post = "G1R" if low else "G1L"
        at = 1000.0 - BACK
        odd = np.vstack([line((at, near, 120.0), (at, near, 876.0), PITCH), [(at, near, 906.0)]])
        seams.append(Seam(f"P{side}", (f"{post}/side", plates[0]), odd, out, {"head": "inside"}))
        row = line((1000.0, inner, 138.0), (1000.0, inner, 902.0), PITCH)
        seams.append(Seam(f"Q{side}", (f"{post}/plate", "P1"), row, X))
    for left, bars, corners in ((True, ("A2", "D2"), ("C1", "C4")), (False, ("A3", "D3"), ("C2", "C3"))):
        out, at = (minus(X), 0.0) if left else (X, LONG)
        inner, end, name = (BACK, "E1", "w") if left else (LONG - BACK, "E2", "e")
        seam(f"A{name}", (bars[0], "F1"), (inner, 64.0, 0.0), (inner, 1114.0, 0.0), minus(Z))
        seam(f"B{name}", (bars[0], end), (at, 58.0, BACK), (at, 1140.0, BACK), out)
        seam(f"D{name}", (bars[1], "T1"), (inner, 60.0, HIGH), (inner, 1138.0, HIGH), Z)
        seam(f"E{name}", (bars[1], end), (at, 60.0, HIGH - BACK), (at, 1142.0, HIGH - BACK), out)
        for bar, low in zip(corners, (True, False), strict=True):
            near, face = (0.0, minus(Y)) if low else (WIDE, Y)
            plate = {(True, True): "S1", (False, True): "S2", (True, False): "S3", (False, False): "S4"}[left, low]
            tag = name + ("s" if low else "n")
            seam(f"K{tag}", (bar, plate), (inner, near, 64.0), (inner, near, 1030.0), face)
            seam(
                f"L{tag}",
                (bar, end),
                (at, BACK if low else WIDE - BACK, 62.0),
                (at, BACK if low else WIDE - BACK, 1036.0),
                out,
            )
    seams.append(Seam("R", ("T1", "H1"), ring((*HATCH, HIGH), 345.0, 50), Z, tight))
    return seams
