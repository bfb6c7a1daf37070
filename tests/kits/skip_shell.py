"""The trough of the skip: rolled bottom, sloped sides with a folded rim, flanged ends, and what stiffens it."""

from math import cos, radians, sin

import numpy as np

from tests.kits.bent import Arc, Bar, Curved, Formed, Limb, mirrored
from tests.kits.build import Frame, Piece, Plate, Ring, Vector, minus, rectangle
from tests.kits.skip_form import (
    BOTTOM_JOINT,
    END,
    FOOT,
    L50,
    L60,
    LAP,
    LONG,
    OUT,
    OVER,
    RIM,
    RIM_RADIUS,
    SEATED,
    SIDE_JOINT,
    SLOPE,
    STIFF,
    STRIP,
    TALL,
    UP,
    R,
    T,
    X,
    Y,
    Z,
    around,
    keys,
    outward,
    side,
    vector,
)

FLANGE_RADIUS = 12.0
FLANGE_LOW, FLANGE_TOP = 118.0, 610.0  # s over which the ends are flanged
RELIEF = 12.0  # width of the slots at both ends of a flange
EDGE = side(0.0, TALL, T)[0] + (RIM_RADIUS + T) * (np.array(OUT) + np.array(Z))  # where the flat of the rim begins
TOP = float(EDGE[2])  # z of the rim's upper face
BEAD, BEAD_THICK = 40.0, 10.0
BEADED = 200.0  # mm from the ends where the beads of the rim begin; before them lie the gussets
GIRTH = 76.0  # half the width of a butt strap
ARC = 57.5  # degrees to either side that rings and beads reach


def shell() -> list[Piece]:
    """All pieces of the trough."""
    return [*_bottom(), *_sides(), *_ends(), *_stiffeners(), *_beads(), *_gussets()]


def _bottom() -> list[Piece]:
    """Two sheets with a rolled zone between flat strips, and the rolled strap under their joint."""
    down = minus(UP)
    left: Vector = (0.0, -down[1], down[2])  # down the left slope
    turn = (Arc(2.0 * SLOPE, R, ("ROLL left", "ROLL right")), STRIP)
    pieces: list[Piece] = []
    for mark, start, end in (("B1", -OVER, BOTTOM_JOINT - 1.0), ("B2", BOTTOM_JOINT + 1.0, LONG + OVER)):
        limb = Limb((0.0, STRIP), (0.0, 1.0), start - end, 0.0, turn)
        corner = side(start, STRIP, 0.0)[0] * [1.0, -1.0, 1.0]
        wide = end - start
        plate = Formed(mark, Frame(vector(corner), X, left), rectangle(wide, STRIP + limb.length(T)), T)
        plate.base, plate.limbs = rectangle(wide, STRIP), (limb,)
        plate.keys = keys(marked="inside")
        plate.marks = [(mark, (120.0, 20.0))]
        pieces.append(plate)
    return [*pieces, _rolled_strap()]


def _rolled_strap() -> Formed:
    reach = 58.5
    start = -reach
    along: Vector = (0.0, cos(radians(start)), sin(radians(start)))
    limb = Limb((0.0, 0.0), (0.0, 1.0), -2.0 * GIRTH, 0.0, (Arc(2.0 * reach, R + T, ()),))
    corner = around(BOTTOM_JOINT - GIRTH, start, R + T)
    strap = Formed("BS", Frame(vector(corner), X, along), rectangle(2.0 * GIRTH, limb.length(T)), T)
    strap.limbs, strap.keys = (limb,), keys(marked="inside")
    return strap


def _sides() -> list[Piece]:
    """Sides lapped outside onto the bottom, rim folded outwards, in two lengths; a strap over each joint."""
    pieces: list[Piece] = []
    for mark, start, end in (("S1", -OVER, SIDE_JOINT - 1.0), ("S2", SIDE_JOINT + 1.0, LONG + OVER)):
        high, wide = TALL - LAP, end - start
        limb = Limb((0.0, high), (0.0, 1.0), -wide, 0.0, (Arc(-SLOPE, RIM_RADIUS, ("FOLD rim",)), RIM))
        frame = Frame(vector(side(start, LAP, T)), X, UP)
        plate = Formed(f"{mark}R", frame, rectangle(wide, high + limb.length(T)), T, part=mark)
        plate.base, plate.limbs = rectangle(wide, high), (limb,)
        plate.keys = keys(marked="inside")
        plate.marks = [(f"{mark}R", (60.0 if mark == "S1" else wide - 140.0, 300.0))]
        pieces += [plate, mirrored(plate, f"{mark}L")]
    low, top = 112.0, 676.0
    frame = Frame(vector(side(SIDE_JOINT + GIRTH, low, 3.0 * T)), minus(X), UP)
    strap = Plate("WR", frame, rectangle(2.0 * GIRTH, top - low), T, part="W", keys=keys())
    strap.marks = [("WR", (GIRTH - 12.0, 60.0))]
    return [*pieces, strap, mirrored(strap, "WL")]


def _ends() -> list[Piece]:
    """Ends with both sloped edges flanged outwards, a ring of angle in the round and an angle along the top."""
    pieces: list[Piece] = []
    for number, x, out in ((1, 0.0, minus(X)), (2, LONG, X)):
        across = vector(np.cross(Z, out))
        corner = (x - 700.0 * across[0], -700.0 * across[1], -420.0)
        plate = _end(f"E{number}", Frame(corner, across, Z))
        pieces.append(plate)
        start = ARC if out[0] < 0.0 else -ARC
        along = vector(np.cross(outward(start)[0], out) * -1.0)
        heel = Frame(vector(around(x, start, R)), along, vector(-outward(start)))
        ring = Curved(f"RG{number}", heel, L60, 0.0, name="L60x60x6", centre="+y", inside_radius=R - 60.0)
        ring.angle = 2.0 * ARC
        top = Frame((x, -660.0 * across[1], TOP), across, out)
        pieces += [ring, Bar(f"TA{number}", top, L50, 1320.0, name="L50x50x6")]
        pieces += _end_stiffeners(number, x, out)
    for piece in pieces:
        if isinstance(piece, Bar):
            piece.keys = {"grade": "S275"}
    return pieces


def _end(mark: str, frame: Frame) -> Formed:
    """One end on its blank, whose corner lies 700 mm left of the middle and 420 mm under the axis."""
    fold = Arc(90.0, FLANGE_RADIUS, ("FOLD right",))
    begin = T - FLANGE_RADIUS - END
    reach = begin + fold.length(END) + OVER - FLANGE_RADIUS
    right = _slope(begin - 3.0, reach)
    round_it = float(np.tan(radians(2.0 * SLOPE) / 4.0))
    left = [(-x, y, 0.0) for x, y, _ in right[::-1]]
    for k in (2, 6):  # slots keep their round, met the other way round
        left[k] = (*left[k][:2], -1.0)
    foot = FOOT[1:] - 3.0 * np.array(OUT[1:])
    outline: Ring = [(-foot[0], foot[1], round_it), (foot[0], foot[1], 0.0), *right, *left]
    plate = Formed(mark, frame, _moved(outline), END, keys=keys(marked="outside"))
    tabs = {1.0: "FOLD right", -1.0: "FOLD left"}
    base = [
        (-foot[0], foot[1], 0.0),
        (foot[0], foot[1], 0.0),
        (right[-1][0], right[-1][1], 0.0),
        (left[0][0], left[0][1], 0.0),
    ]
    plate.base = _moved(base)
    plate.limbs = tuple(_flange(hand, name, begin) for hand, name in tabs.items())
    plate.marks = [(mark, (660.0, 760.0))]
    return plate


def _flange(hand: float, name: str, begin: float) -> Limb:
    line = FOOT[1:] + begin * np.array(OUT[1:])
    at, across = _moved([(hand * line[0], line[1], 0.0)])[0], (hand * OUT[1], OUT[2])
    low, high = (FLANGE_LOW, FLANGE_TOP) if hand > 0.0 else (-FLANGE_TOP, -FLANGE_LOW)
    return Limb(at[:2], across, low, high, (Arc(90.0, FLANGE_RADIUS, (name,)), OVER - FLANGE_RADIUS))


def _slope(slot: float, reach: float) -> Ring:
    """The right edge of an end upwards: under its flange, the slot, the flange, the slot, and on to the top."""

    def at(s: float, off: float, bulge: float = 0.0) -> tuple[float, float, float]:
        y, z = FOOT[1:] + s * np.array(UP[1:]) + off * np.array(OUT[1:])
        return float(y), float(z), bulge

    over, high = T - 3.0, TOP - 2.0
    s_top = (high - FOOT[2] - over * OUT[2]) / UP[2]
    return [
        at(FLANGE_LOW - RELIEF, -3.0),
        at(FLANGE_LOW - RELIEF, slot, -1.0),
        at(FLANGE_LOW, slot),
        at(FLANGE_LOW, reach),
        at(FLANGE_TOP, reach),
        at(FLANGE_TOP, slot, -1.0),
        at(FLANGE_TOP + RELIEF, slot),
        at(FLANGE_TOP + RELIEF, over),
        at(s_top, over),
    ]


def _moved(ring: Ring) -> Ring:
    """From the middle of an end to the corner of its blank."""
    return [(x + 700.0, y + 420.0, bulge) for x, y, bulge in ring]


def _end_stiffeners(number: int, x: float, out: Vector) -> list[Piece]:
    """Two upright angles outside an end, a pair."""
    foot = Frame((x, 285.0, -180.0), Z, out)
    if out[0] > 0.0:  # leg b towards the middle on either end
        foot = Frame((x, 285.0, TOP - 64.0), minus(Z), out)
    tall = TOP - 64.0 + 180.0
    bar = Bar(f"N{number}R", foot, L50, tall, f"N{number}", name="L50x50x6")
    return [bar, mirrored(bar, f"N{number}L")]


def _stiffeners() -> list[Piece]:
    """Rings of angle under the bottom and angles up the sides, outer faces in one plane."""
    pieces: list[Piece] = []
    counts = {"G": 0, "GS": 0}
    along, out = (0.0, cos(radians(-ARC)), sin(radians(-ARC))), vector(outward(-ARC))
    for x in STIFF:
        part = "GS" if x in SEATED else "G"
        counts[part] += 1
        heel = Frame(vector(around(x, -ARC, R + T)), along, out)
        ring = Curved(f"{part}-{counts[part]}", heel, L50, 0.0, part, name="L50x50x6", centre="-y", inside_radius=R + T)
        ring.angle, ring.keys = 2.0 * ARC, {"grade": "S275"}
        pieces.append(ring)
    for number, x in enumerate(STIFF, 1):
        frame = Frame(vector(side(x, 112.0, 2.0 * T)), UP, OUT)
        bar = Bar(f"VR-{number}", frame, L50, 564.0, "V", {"grade": "S275"}, name="L50x50x6")
        pieces += [bar, mirrored(bar, f"VL-{number}")]
    return pieces


def _bead(mark: str, frame: Frame, length: float, part: str = "") -> Bar:
    return Bar(mark, frame, (BEAD, 0.0, BEAD_THICK), length, part, {"grade": "S275"}, name="HR40x10")


def _beads() -> list[Piece]:
    """Half-round round all outer edges: under the bottom, up the sides, and along the rim."""
    pieces: list[Piece] = []
    along = vector(np.cross(X, outward(-ARC)[0]))
    for number, edge in ((1, -56.0), (2, LONG + 56.0)):
        y_way = minus(X)  # a bead that starts on the left has its edge y = 0 towards the second end
        edge = edge + BEAD if number == 1 else edge
        frame = Frame(vector(around(edge, -ARC, R + T)), along, y_way)
        legs = (BEAD, 0.0, BEAD_THICK)
        rolled = Curved(f"BB{number}", frame, legs, 0.0, name="HR40x10", centre="+z", inside_radius=R + T)
        rolled.angle, rolled.keys = 2.0 * ARC, {"grade": "S275"}
        pieces.append(rolled)
    for number, edge in ((1, -56.0), (2, LONG + 16.0)):
        upright = Frame(vector(side(edge, 112.0, 2.0 * T)), UP, vector(np.cross(minus(OUT), UP)))
        if upright.y[0] < 0.0:
            upright = Frame(vector(side(edge + BEAD, 112.0, 2.0 * T)), UP, upright.y)
        bead = _bead(f"FB{number}R", upright, 500.0, f"FB{number}")
        pieces += [bead, mirrored(bead, f"FB{number}L")]
    for number, start, end in ((1, BEADED, SIDE_JOINT - 2.0), (2, SIDE_JOINT + 2.0, LONG - BEADED)):
        frame = Frame((start, float(EDGE[1]) + RIM - 2.0, TOP), X, minus(Y))
        bead = _bead(f"H{number}R", frame, end - start, f"H{number}")
        pieces += [bead, mirrored(bead, f"H{number}L")]
    return pieces


def _gussets() -> list[Piece]:
    """A plate on each upper corner, over the top angle and the rim."""
    outer, inner = float(EDGE[1]) + RIM - 2.0, float(EDGE[1])
    pieces: list[Piece] = []
    shape: Ring = [(0.0, 0.0, 0.0), (52.0, 0.0, 0.0), (246.0, inner - 540.0, 0.0), (246.0, outer - 540.0, 0.0)]
    shape.append((0.0, outer - 540.0, 0.0))
    for number, x, along in ((1, -52.0, X), (2, LONG + 52.0, minus(X))):
        first = along[0] > 0.0
        frame = Frame((x, 540.0, TOP + END), X, Y)
        ring = shape if first else [(-a, b, 0.0) for a, b, _ in shape[::-1]]
        plate = Plate(f"CG{number}R", frame, ring, END, part=f"CG{number}", keys=keys())
        plate.marks = [(f"CG{number}R", (60.0 if first else -150.0, outer - 600.0))]
        pieces += [plate, mirrored(plate, f"CG{number}L")]
    return pieces


def trunnions() -> list[Piece]:
    """Plates outside the ends that take the trunnions, bored 90 mm on the axis."""
    pieces: list[Piece] = []
    for number, x, out in ((1, -8.0, minus(X)), (2, LONG + 8.0, X)):
        across = vector(np.cross(Z, out))
        frame = Frame((x, -150.0 * across[1], -140.0), across, Z)
        shape: Ring = [(40.0, 0.0, 0.0), (260.0, 0.0, 0.0), (300.0, 40.0, 0.0), (300.0, 280.0, 0.0), (0.0, 280.0, 0.0)]
        shape.append((0.0, 40.0, 0.0))
        plate = Plate(f"T{number}", frame, shape, 8.0, keys=keys(marked="outside"))
        plate.round_cutouts.append((150.0, 140.0, 45.0))
        pieces.append(plate)
    return pieces
