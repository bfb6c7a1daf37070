"""Small kits with known truth, one for each seed: the same seed gives the same kit.

Sizes come from the seed; every row has one odd space, so that each kit fits together in one way only.
"""

import numpy as np

from tests.kits.build import Angle, Array, Frame, Keys, Kit, Piece, Plate, Seam, Vector, drilled, minus, rectangle

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
LEG, BACK, LEG_THICK = 40.0, 22.0, 5.0
GAP = LEG + 2.0
LEAST = 28.0  # the odd space is at least this
STATED: Keys = {"marked": "outside"}


def odd_line(start: Vector, end: Vector, pitch: float) -> Array:
    """Equal spaces of `pitch` from the start, and one odd space before the end."""
    a, b = np.array(start, dtype=np.float64), np.array(end, dtype=np.float64)
    length = float(np.linalg.norm(b - a))
    even = pitch * np.arange(int((length - LEAST) // pitch) + 1)
    if abs(length - even[-1] - pitch) < 3.0:
        even = even[:-1]
    places: Array = a + (b - a) / length * np.append(even, length)[:, None]
    return places


def _job(title: str, datum: str) -> Keys:
    return {"title": title, "number": "K1", "datum": datum, "exposed": True, "drawings": "."}


def box(seed: int) -> Kit:
    """An open box of 13 pieces: floor, two sides, two ends, floor angles (two of them a pair), corner angles."""
    rng = np.random.default_rng(seed)
    long, wide, high = (float(v) for v in rng.integers((60, 40, 40), (90, 58, 55)) * 10)
    t, pitch = float(rng.choice([5.0, 6.0])), float(rng.choice([36.0, 38.0, 40.0]))
    kit = Kit(_box_plates(long, wide, high, t) + _box_angles(long, wide, high), [], _job("Box", "F1"))
    kit.seams.extend(_box_seams(long, wide, high, pitch))
    return drilled(kit)


def _box_plates(long: float, wide: float, high: float, t: float) -> list[Piece]:
    across = long + 2.0 * t
    return [
        Plate("F1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(long, wide), t, keys={"marked": "inside"}),
        Plate("S1", Frame((-t, -t, -t), X, Z), rectangle(across, high + t), t, keys=STATED),
        Plate("S2", Frame((long + t, wide + t, -t), minus(X), Z), rectangle(across, high + t), t, keys=STATED),
        Plate("E1", Frame((-t, wide, -t), minus(Y), Z), rectangle(wide, high + t), t, keys=STATED),
        Plate("E2", Frame((long + t, 0.0, -t), Y, Z), rectangle(wide, high + t), t, keys=STATED),
    ]


def _bar(mark: str, origin: Vector, x: Vector, y: Vector, length: float, part: str = "") -> Angle:
    return Angle(mark, Frame(origin, x, y), (LEG, LEG, LEG_THICK), length, part)


def _box_angles(long: float, wide: float, high: float) -> list[Piece]:
    tall, short = high - GAP, wide - 2.0 * GAP
    return [
        _bar("A1R", (2.0, 0.0, 0.0), X, Y, long - 4.0, "A1"),
        _bar("A1L", (long - 2.0, wide, 0.0), minus(X), minus(Y), long - 4.0, "A1"),
        _bar("A2", (0.0, wide - GAP, 0.0), minus(Y), X, short),
        _bar("A3", (long, GAP, 0.0), Y, minus(X), short),
        _bar("C1", (0.0, 0.0, GAP), Z, X, tall),
        _bar("C2", (long, 0.0, GAP), Z, Y, tall),
        _bar("C3", (long, wide, GAP), Z, minus(X), tall),
        _bar("C4", (0.0, wide, high), minus(Z), X, tall),
    ]


def _box_seams(long: float, wide: float, high: float, pitch: float) -> list[Seam]:
    seams: list[Seam] = []

    def seam(mark: str, plies: tuple[str, ...], start: Vector, end: Vector, axis: Vector) -> None:
        seams.append(Seam(mark, plies, odd_line(start, end, pitch), axis, {"head": "inside"}))

    for low, bar, side in ((True, "A1R", "S1"), (False, "A1L", "S2")):
        near, inner = (0.0, BACK) if low else (wide, wide - BACK)
        name = "s" if low else "n"
        seam(f"A{name}", (f"{bar}/floor", "F1"), (50.0, inner, 0.0), (long - 44.0, inner, 0.0), minus(Z))
        out = minus(Y) if low else Y
        seam(f"B{name}", (f"{bar}/side", side), (34.0, near, BACK), (long - 38.0, near, BACK), out)
    for left, bar, end, corners in ((True, "A2", "E1", ("C1", "C4")), (False, "A3", "E2", ("C2", "C3"))):
        at, inner, out = (0.0, BACK, minus(X)) if left else (long, long - BACK, X)
        name = "w" if left else "e"
        seam(f"A{name}", (bar, "F1"), (inner, 62.0, 0.0), (inner, wide - 68.0, 0.0), minus(Z))
        seam(f"B{name}", (bar, end), (at, 58.0, BACK), (at, wide - 60.0, BACK), out)
        for corner, low in zip(corners, (True, False), strict=True):
            near, inset = (0.0, BACK) if low else (wide, wide - BACK)
            tag = name + ("s" if low else "n")
            side, face = ("S1", minus(Y)) if low else ("S2", Y)
            seam(f"K{tag}", (corner, side), (inner, near, 64.0), (inner, near, high - 20.0), face)
            seam(f"L{tag}", (corner, end), (at, inset, 62.0), (at, inset, high - 26.0), out)
    return seams


def butt(seed: int) -> Kit:
    """Two plates edge to edge under a strap: three pieces, two seams that share the strap."""
    rng = np.random.default_rng(seed)
    wide, one, two = (float(v) for v in rng.integers((30, 30, 25), (50, 60, 50)) * 10)
    t, strap = float(rng.choice([5.0, 6.0, 8.0])), float(rng.choice([5.0, 6.0]))
    pieces: list[Piece] = [
        Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(one, wide), t, keys={"marked": "inside"}),
        Plate("P2", Frame((one, 0.0, 0.0), X, Y), rectangle(two, wide), t, keys={"marked": "inside"}),
        Plate("B1", Frame((one - 45.0, 0.0, strap), X, Y), rectangle(90.0, wide), strap, keys={"marked": "inside"}),
    ]
    seams = [
        Seam(
            "A",
            ("P1", "B1"),
            odd_line((one - 22.0, 26.0, 0.0), (one - 22.0, wide - 30.0, 0.0), 38.0),
            Z,
            {"head": "outside"},
        ),
        Seam(
            "B",
            ("P2", "B1"),
            odd_line((one + 22.0, 32.0, 0.0), (one + 22.0, wide - 24.0, 0.0), 40.0),
            Z,
            {"head": "outside"},
        ),
    ]
    return drilled(Kit(pieces, seams, _job("Butt joint", "P1")))


def double_butt(seed: int) -> Kit:
    """Two plates edge to edge between two straps: four pieces, three plies at every rivet."""
    rng = np.random.default_rng(seed)
    wide, one, two = (float(v) for v in rng.integers((30, 30, 25), (50, 60, 50)) * 10)
    t, strap = 6.0, float(rng.choice([4.0, 5.0]))
    pieces: list[Piece] = [
        Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(one, wide), t, keys={"marked": "inside"}),
        Plate("P2", Frame((one, 0.0, 0.0), X, Y), rectangle(two, wide), t, keys={"marked": "inside"}),
        Plate("B1", Frame((one - 45.0, 0.0, strap), X, Y), rectangle(90.0, wide), strap, keys={"marked": "inside"}),
        Plate("B2", Frame((one - 45.0, 0.0, -t), X, Y), rectangle(90.0, wide), strap, keys={"marked": "inside"}),
    ]
    left = odd_line((one - 22.0, 26.0, 0.0), (one - 22.0, wide - 30.0, 0.0), 38.0)
    right = odd_line((one + 22.0, 32.0, 0.0), (one + 22.0, wide - 24.0, 0.0), 40.0)
    seams = [
        Seam("A", ("B1", "P1", "B2"), left, minus(Z), {"head": "inside"}),
        Seam("B", ("B1", "P2", "B2"), right, minus(Z), {"head": "inside"}),
    ]
    return drilled(Kit(pieces, seams, _job("Double butt joint", "P1")))


def laps(seed: int) -> Kit:
    """A stair of three to six lapped plates, each on the one before."""
    rng = np.random.default_rng(seed)
    count, wide = int(rng.integers(3, 7)), float(rng.integers(30, 50) * 10)
    pieces: list[Piece] = []
    seams: list[Seam] = []
    at, level = 0.0, 0.0
    for number in range(1, count + 1):
        t, deep = float(rng.choice([5.0, 6.0])), float(rng.integers(20, 40) * 10)
        top = 0.0 if number == 1 else level + t
        frame = Frame((0.0, at, top), X, Y)
        pieces.append(Plate(f"P{number}", frame, rectangle(wide, deep), t, keys={"marked": "inside"}))
        if number > 1:
            row = odd_line((24.0, at + 20.0, level), (wide - 30.0, at + 20.0, level), 40.0)
            seams.append(Seam(f"L{number}", (f"P{number}", f"P{number - 1}"), row, minus(Z), {"head": "inside"}))
        at, level = at + deep - 40.0, top
    return drilled(Kit(pieces, seams, _job("Laps", "P1")))


def panel(seed: int) -> Kit:
    """A plate with two to four angles across it, and a doubling plate between the first two on the other side."""
    rng = np.random.default_rng(seed)
    count, deep = int(rng.integers(2, 5)), float(rng.integers(30, 50) * 10)
    t = float(rng.choice([5.0, 6.0]))
    long = 100.0 + 200.0 * count
    pieces: list[Piece] = [
        Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(long, deep), t, keys={"marked": "inside"})
    ]
    seams: list[Seam] = []
    for number in range(1, count + 1):
        at = 200.0 * number
        pieces.append(_bar(f"G{number}", (at, 10.0, 0.0), Y, minus(X), deep - 20.0))
        row = odd_line((at - BACK, 36.0, 0.0), (at - BACK, deep - 42.0, 0.0), 38.0)
        seams.append(Seam(f"V{number}", (f"G{number}", "P1"), row, minus(Z), {"head": "inside"}))
    patch = Frame((230.0, deep - 30.0, -2.0 * t), X, minus(Y))
    pieces.append(Plate("D1", patch, rectangle(120.0, deep - 60.0), t, keys={"marked": "outside"}))
    for name, x, first in (("Da", 250.0, 50.0), ("Db", 330.0, 56.0)):
        row = odd_line((x, first, 0.0), (x, deep - 52.0, 0.0), 40.0)
        seams.append(Seam(name, ("P1", "D1"), row, minus(Z), {"head": "inside"}))
    return drilled(Kit(pieces, seams, _job("Stiffened panel", "P1")))


MAKERS = {"box": box, "butt": butt, "double butt": double_butt, "laps": laps, "panel": panel}
