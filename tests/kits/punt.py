"""A long flat-bottomed punt of many like pieces: bottom and sides in bays, butt straps, chine angles; known truth.

Each row ends in one odd space, so that no piece can be turned end for end. `bays` of 40 give 317 pieces.
"""

from tests.kits.build import Angle, Frame, Keys, Kit, Piece, Plate, Seam, Vector, drilled, minus, rectangle
from tests.kits.random_kits import odd_line

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
BAY, WIDE, HIGH, T = 1000.0, 1500.0, 400.0, 5.0
LEG, BACK, STRAP = 40.0, 22.0, 80.0
INSIDE: Keys = {"marked": "inside"}
OUTSIDE: Keys = {"marked": "outside"}


def punt(bays: int, pitch: float = 36.0) -> Kit:
    """The punt, `bays` plates long, rows at `pitch` mm."""
    pieces: list[Piece] = []
    seams: list[Seam] = []
    for bay in range(bays):
        at = bay * BAY
        pieces.append(Plate(f"P{bay}", Frame((at, 0.0, 0.0), X, Y), rectangle(BAY, WIDE), T, keys=INSIDE))
        for side in "RL":
            _side(pieces, seams, (bay, side), pitch)
        if bay:
            _strap(pieces, seams, bay, pitch)
    job: Keys = {"title": "Punt", "number": "P1", "datum": "P0", "exposed": True, "drawings": "."}
    return drilled(Kit(pieces, seams, job))


def _side(pieces: list[Piece], seams: list[Seam], which: tuple[int, str], pitch: float) -> None:
    """One side plate of a bay, its chine angle, and its strap to the plate before."""
    bay, side = which
    at, right = bay * BAY, side == "R"
    y, inner, out = (0.0, BACK, minus(Y)) if right else (WIDE, WIDE - BACK, Y)
    name = f"{bay}{side}"
    frame = Frame((at, -T, -T), X, Z) if right else Frame((at + BAY, WIDE + T, -T), minus(X), Z)
    pieces.append(Plate(f"S{name}", frame, rectangle(BAY, HIGH), T, keys=OUTSIDE))
    heel = Frame((at + 2.0, 0.0, 0.0), X, Y) if right else Frame((at + BAY - 2.0, WIDE, 0.0), minus(X), minus(Y))
    pieces.append(Angle(f"A{name}", heel, (LEG, LEG, 5.0), BAY - 4.0))
    first, last = at + 60.0, at + BAY - 66.0
    run: list[tuple[str, tuple[str, ...], Vector, Vector, Vector]] = [
        (f"F{name}", (f"A{name}/floor", f"P{bay}"), (first, inner, 0.0), (last, inner, 0.0), minus(Z)),
        (f"G{name}", (f"A{name}/side", f"S{name}"), (first + 6.0, y, BACK), (last, y, BACK), out),
    ]
    if bay:
        outer = (at - STRAP / 2.0, -2.0 * T, -T) if right else (at + STRAP / 2.0, WIDE + 2.0 * T, -T)
        place = Frame(outer, X, Z) if right else Frame(outer, minus(X), Z)
        pieces.append(Plate(f"T{name}", place, rectangle(STRAP, HIGH), T, keys=OUTSIDE))
        for ply, off in ((f"S{bay - 1}{side}", -20.0), (f"S{name}", 20.0)):
            low, top = (at + off, y, 76.0 + off), (at + off, y, HIGH - 40.0)
            run.append((f"T{ply}-{name}", (ply, f"T{name}"), low, top, out))
    seams += [Seam(mark, plies, odd_line(a, b, pitch), axis, {"head": "inside"}) for mark, plies, a, b, axis in run]


def _strap(pieces: list[Piece], seams: list[Seam], bay: int, pitch: float) -> None:
    """The strap under the joint of two bottom plates."""
    at = bay * BAY
    pieces.append(Plate(f"B{bay}", Frame((at - STRAP / 2.0, 0.0, -T), X, Y), rectangle(STRAP, WIDE), T, keys=INSIDE))
    for ply, off in ((f"P{bay - 1}", -20.0), (f"P{bay}", 20.0)):
        row = odd_line((at + off, 80.0 + off, -T), (at + off, WIDE - 60.0, -T), pitch)
        seams.append(Seam(f"B{ply}-{bay}", (ply, f"B{bay}"), row, minus(Z), {"head": "inside"}))
