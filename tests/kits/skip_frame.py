"""The frame under the skip: angles, gussets, folded saddles under two of its rings and folded trunnion brackets."""

from math import tan

import numpy as np

from tests.kits.bent import Arc, Bar, Formed, Limb, mirrored
from tests.kits.build import Frame, Piece, Plate, Ring, Vector, minus
from tests.kits.skip_form import L100, LONG, SEATED, R, T, X, Y, Z, keys, vector

DECK = -740.0  # z of the upper faces of the frame
TRACK = 400.0  # y of the outer faces of the long angles
HEADSTOCK = 90.0  # from an end to the outer face of its headstock
THICK, BEND = 8.0, 20.0  # saddles and brackets; the inside radius of their folds
SADDLE, SHOULDER = 400.0, 345.0  # half a saddle's width at the foot and at the shell
RELIEF = 12.0  # width of the slots at both ends of a fold
SADDLE_FOOT, WING = 122.0, 44.0  # flats of a saddle's foot and of a bracket's flanges
BRACKET = 110.0  # half the width of a bracket between its folds
BOLSTER = 100.0  # depth of the channel that stiffens a saddle


def frame() -> list[Piece]:
    """All pieces of the frame."""
    return [*_sole(), *_saddles(), *_brackets()]


def _sole() -> list[Piece]:
    """Two long angles between two headstocks, a gusset over each corner."""

    def angle(mark: str, at: Vector, ways: tuple[Vector, Vector], length: float, part: str = "") -> Bar:
        return Bar(mark, Frame(at, *ways), L100, length, part, {"grade": "S275"}, name="L100x100x10")

    inner = HEADSTOCK - 102.0
    long = angle("CR", (-inner, TRACK, DECK), (X, minus(Y)), LONG + 2.0 * inner, "C")
    pieces: list[Piece] = [long, mirrored(long, "CL")]
    pieces.append(angle("K1", (-HEADSTOCK, -TRACK, DECK), (Y, X), 2.0 * TRACK))
    pieces.append(angle("K2", (LONG + HEADSTOCK, TRACK, DECK), (minus(Y), minus(X)), 2.0 * TRACK))
    shape: Ring = [(0.0, 0.0, 0.0), (300.0, 0.0, 0.0), (300.0, 94.0, 0.0), (94.0, 300.0, 0.0), (0.0, 300.0, 0.0)]
    for number, x, way in ((1, -HEADSTOCK + 2.0, 1.0), (2, LONG + HEADSTOCK - 2.0, -1.0)):
        corner = Frame((x, way * (TRACK - 2.0), DECK + THICK), (0.0, -way, 0.0), (way, 0.0, 0.0))
        gusset = Plate(f"DR-{number}", corner, shape, THICK, part="D", keys=keys(), marks=[("DR", (110.0, 110.0))])
        pieces += [gusset, mirrored(gusset, f"DL-{number}")]
    return pieces


def _saddles() -> list[Piece]:
    """Plates that take the outer face of a ring's standing leg, hollowed to the shell, folded at the foot.

    A channel across the back of each stiffens it.
    """
    pieces: list[Piece] = []
    fold = Arc(90.0, BEND, ("FOLD foot",))
    clear = R + T + 3.0
    turn = float(np.arcsin(SHOULDER / clear))
    low = DECK + BEND + THICK
    foot = fold.length(THICK) + SADDLE_FOOT
    top, near = foot - low - float(np.sqrt(clear**2 - SHOULDER**2)), SADDLE - SHOULDER
    for number, x in enumerate(SEATED, 1):
        at = Frame((x + THICK, -SADDLE, low - foot), Y, Z)
        corners: Ring = [(0.0, 0.0, 0.0), (2.0 * SADDLE, 0.0, 0.0), (2.0 * SADDLE, foot + 70.0, 0.0)]
        corners += [(2.0 * SADDLE - near, top, -tan(turn / 2.0)), (near, top, 0.0), (0.0, foot + 70.0, 0.0)]
        plate = Formed(f"Q{number}", at, corners, THICK, keys=keys())
        plate.base = [(x, y + foot, 0.0) for x, y in ((0.0, 0.0), (800.0, 0.0), (800.0, 60.0), (0.0, 60.0))]
        plate.limbs = (Limb((0.0, foot), (0.0, -1.0), 0.0, 2.0 * SADDLE, (fold, SADDLE_FOOT)),)
        plate.marks = [(f"Q{number}", (60.0, foot + 90.0))]
        beam = Frame((x, -380.0, DECK + 12.0), Y, minus(X))
        channel = Bar(f"BO{number}", beam, (55.0, BOLSTER, 7.5), 760.0, keys={"grade": "S275"}, name="UPE100")
        pieces += [plate, channel]
    return pieces


def _brackets() -> list[Piece]:
    """Plates that carry the trunnions, bored 90 mm, both upright edges folded outwards."""
    pieces: list[Piece] = []
    left = Arc(90.0, BEND, ("FOLD left",)).length(THICK) + WING
    right, high = left + 2.0 * BRACKET, -DECK + 94.0
    first, last, top = 120.0, high + 40.0, high + 130.0  # where the folds begin and end, and the upper edge
    edge: Ring = [(right, 0.0, 0.0), (right, first - RELIEF, 0.0), (right - 3.0, first - RELIEF, -1.0)]
    edge += [(right - 3.0, first, 0.0), (right + left, first, 0.0), (right + left, last, 0.0)]
    edge += [(right - 3.0, last, -1.0), (right - 3.0, last + RELIEF, 0.0), (right, last + RELIEF, 0.0)]
    edge += [(right, top - 60.0, 0.0), (right - 60.0, top, 0.0)]
    other = [(left + right - x, y, -1.0 if k in (3, 7) else 0.0) for k, (x, y, _) in enumerate(edge)][::-1]
    for number, x, out in ((1, -HEADSTOCK - THICK, minus(X)), (2, LONG + HEADSTOCK + THICK, X)):
        across = vector(np.cross(Z, out))
        corner = (x, -(left + BRACKET) * across[1], -high)
        plate = Formed(f"P{number}", Frame(corner, across, Z), [*edge, *other], THICK)
        plate.keys = keys(marked="outside", closing=True)
        plate.base = [(left, first, 0.0), (right, first, 0.0), (right, last, 0.0), (left, last, 0.0)]
        plate.limbs = tuple(
            Limb((at, 0.0), (hand, 0.0), *reach, (Arc(90.0, BEND, (name,)), WING))
            for name, at, hand, reach in (
                ("FOLD right", right, 1.0, (first, last)),
                ("FOLD left", left, -1.0, (-last, -first)),
            )
        )
        plate.round_cutouts.append((left + BRACKET, high, 45.0))
        plate.marks = [(f"P{number}", (left + 40.0, 300.0))]
        pieces.append(plate)
    return pieces
