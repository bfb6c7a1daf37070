"""A side-tipping skip for the (invented) Greystane quarry: 4 m long, 1.5 m wide, on a frame of channels.

Round-bottomed trough of rolled sheets between flat strips, sloped sides lapped outside onto them with a folded rim,
ends with flanged edges, half-round round every edge; rings under the bottom, angles up the sides. Two of the rings
stand on folded saddles of the frame; folded brackets carry the trunnions. Heads inside, points outside. Rows end unlike
at their two ends, so that no piece can be turned end for end. Fitted bolts hold the saddles on the frame, reamed from
11 to 12 mm in place; what they stand on is to be level.
"""

from datetime import date
from itertools import product

import numpy as np

from tests.kits.build import Array, Keys, Kit, Seam, drilled, minus
from tests.kits.skip_form import (
    BACK50,
    BACK60,
    BACK100,
    BOTTOM_JOINT,
    DEGREES,
    HEADS,
    LONG,
    OUT,
    RIM,
    SEATED,
    SIDE_JOINT,
    STIFF,
    R,
    T,
    X,
    Z,
    around,
    both,
    odd,
    round_seam,
    side,
)
from tests.kits.skip_frame import BEND, DECK, HEADSTOCK, THICK, TRACK, frame
from tests.kits.skip_shell import BEAD, BEADED, EDGE, FLANGE_LOW, FLANGE_TOP, TOP, shell, trunnions

LAPS = (44.0, 74.0)  # s of the two rows of the lap
BESIDE = (24.0, 52.0)  # of the rows of a butt strap, from the joint
FITTED: Keys = {"fastener": "F12", "state": "pilot"}
SEAT = """
[[fastener]]
mark = "F12"
kind = "fitted bolt"
diameter = 12
hole = 12
grade = "8.8"
"""
LEVEL = """
[[level]]
mark = "saddles"
rows = ["CR/R1", "CL/R1", "CR/R2", "CL/R2"]
height = -740
within = 1
"""
PAST = 36.0  # from an end to the rows of its flange and of its ring


def skip() -> Kit:
    """The whole skip on its frame."""
    pieces = [*shell(), *trunnions(), *frame()]
    job: Keys = {
        "title": "Side-tipping quarry skip",
        "number": "K3",
        "revision": "A",
        "date": date(2026, 11, 9),
        "rules": "en1993-1-8-2005",
        "datum": "B1",
        "exposed": True,
        "drawings": "../../drawings/skip",
    }
    datum = next(piece for piece in pieces if piece.mark == "B1").frame
    place = "\n".join(f"{key} = {[*map(float, value)]}" for key, value in datum.__dict__.items())
    extra = (
        f'[[place]]\npart = "B1"\n{place}\n\n'
        '[[supplier]]\nname = "cutter"\nlimits_dated = 2026-03-01\nprocess = "laser"\n'
        'smallest_hole = "1.0 t"\nsmallest_web = "1.0 t"\n\n[shop]\nhoist = 500\n' + SEAT + LEVEL.rstrip()
    )
    return drilled(Kit(pieces, [*_laps(), *_joints(), *_ends(), *_rims(), *_stiffeners(), *_seat()], job, extra=extra))


def _laps() -> list[Seam]:
    """Two rows along each lap of side on bottom, in three runs from joint to joint."""
    seams: list[Seam] = []
    first = np.append(-PAST, odd(30.0, BOTTOM_JOINT - 26.0))
    last = np.append(odd(SIDE_JOINT + 26.0, LONG - 30.0), LONG + PAST)
    runs = (
        ("A", "B1", "S1", first),
        ("B", "B2", "S1", odd(BOTTOM_JOINT + 26.0, SIDE_JOINT - 26.0)),
        ("C", "B2", "S2", last),
    )
    for (name, bottom, sheet, x), (row, s) in product(runs, enumerate(LAPS, 1)):
        mark = f"{name}{row}"
        seams += both(f"{mark}{{h}}", (f"{bottom}/{mark}{{h}}", f"{sheet}{{h}}/{mark}"), side(x, s, T), OUT)
    return seams


def _joints() -> list[Seam]:
    """Butt straps under the joints of bottom and sides."""
    seams: list[Seam] = []
    for row, off in enumerate(BESIDE, 1):
        for name, bottom, way in (("D", "B1", -1.0), ("JE", "B2", 1.0)):
            seams.append(round_seam(f"{name}{row}", (bottom, "BS"), BOTTOM_JOINT + way * off, DEGREES, R + T))
        for name, sheet, way in (("F", "S1", -1.0), ("G", "S2", 1.0)):
            mark = f"{name}{row}"
            points = side(SIDE_JOINT + way * off, odd(136.0, 652.0), 2.0 * T)
            seams += both(f"{mark}{{h}}", (f"{sheet}{{h}}/{mark}", f"W{{h}}/{mark}"), points, OUT)
    return seams


def _ends() -> list[Seam]:
    """Ring, flanges, top angle, stiffeners and trunnion plate of each end."""
    seams: list[Seam] = []
    flat = odd(-52.0, 54.6, 4.8, 5.0)
    for number, x, way, bottom, sheet in ((1, 0.0, -1.0, "B1", "S1"), (2, LONG, 1.0, "B2", "S2")):
        out, n = (way, 0.0, 0.0), str(number)
        past, end = x + way * PAST, f"E{number}"
        ring = around(x, flat, R - BACK60)
        seams.append(Seam(f"J{n}", (end, f"RG{n}/end"), ring, out, HEADS))
        seams.append(round_seam(f"JK{n}", (f"RG{n}/shell", bottom, f"BB{n}"), past, DEGREES, R + T))
        points = side(past, odd(FLANGE_LOW + 22.0, FLANGE_TOP - 22.0), T)
        plies = (f"{end}/L{n}{{h}}", f"{sheet}{{h}}/L{n}", f"FB{n}{{h}}/edge")
        seams += both(f"L{n}{{h}}", plies, points, OUT)
        level = odd(-622.5, 634.0)
        top = np.column_stack([np.full(len(level), x), level, np.full(len(level), TOP - BACK50)])
        seams.append(Seam(f"M{n}", (end, f"TA{n}/end"), top, out, HEADS))
        upright = odd(-142.0, TOP - 90.0)
        points = np.column_stack([np.full(len(upright), x), np.full(len(upright), 255.0), upright])
        seams += both(f"JN{n}{{h}}", (f"{end}/N{n}{{h}}", f"N{n}{{h}}/end"), points, out)
        seams.append(Seam(f"JT{n}", (end, f"T{n}"), _trunnion(x), out, HEADS))
    return seams


def _trunnion(x: float) -> Array:
    """Two upright rows and a level one around a trunnion plate."""
    upright, level = odd(-72.0, 116.0), np.array([-88.0, -52.0, -16.0, 24.0, 62.0])
    y = np.concatenate([np.full(len(upright), -126.0), np.full(len(upright), 126.0), level])
    z = np.concatenate([upright, upright, np.full(len(level), -116.0)])
    return np.column_stack([np.full(len(y), x), y, z])


def _rims() -> list[Seam]:
    """Beads along the rim, and the gussets on its corners."""
    seams: list[Seam] = []
    y = float(EDGE[1]) + RIM - 2.0 - BEAD / 2.0
    for number, sheet, start, end in ((1, "S1", BEADED, SIDE_JOINT - 2.0), (2, "S2", SIDE_JOINT + 2.0, LONG - BEADED)):
        points = _level(odd(start + 24.0, end - 24.0), y)
        seams += both(f"JH{number}{{h}}", (f"{sheet}{{h}}/H{number}", f"H{number}{{h}}/rim"), points, Z)
    for n, sheet, x, way in ((1, "S1", 0.0, 1.0), (2, "S2", LONG, -1.0)):
        along = np.array([-32.0, 2.0, 36.0, 76.0, 112.0, 160.0]) * way + x
        seams += both(f"X{n}{{h}}", (f"{sheet}{{h}}/X{n}", f"CG{n}{{h}}/X{n}"), _level(along, y), Z)
        across = np.array([564.0, 596.0, 638.0])
        points = np.column_stack([np.full(3, x - way * BACK50), across, np.full(3, TOP)])
        seams += both(f"Y{n}{{h}}", (f"TA{n}/Y{{h}}", f"CG{n}{{h}}/Y{n}"), points, Z)
    return seams


def _level(x: Array, y: float) -> Array:
    return np.column_stack([x, np.full(len(x), y), np.full(len(x), TOP)])


def _stiffeners() -> list[Seam]:
    """Rings under the bottom and angles up the sides."""
    seams: list[Seam] = []
    counts = {"G": 0, "GS": 0}
    for number, x in enumerate(STIFF, 1):
        part = "GS" if x in SEATED else "G"
        counts[part] += 1
        bottom, sheet = ("B1" if x < BOTTOM_JOINT else "B2"), ("S1" if x < SIDE_JOINT else "S2")
        ring = f"{part}-{counts[part]}/shell"
        seams.append(round_seam(f"U{number}", (bottom, ring), x - BACK50, DEGREES, R + T))
        points = side(x - BACK50, odd(136.0, 652.0), 2.0 * T)
        plies = (f"{sheet}{{h}}/V{number}", f"V{{h}}-{number}/side")
        seams += both(f"V{number}{{h}}", plies, points, OUT)
    return seams


def _seat() -> list[Seam]:
    """Saddles on rings and channels, brackets on headstocks, cleats in the corners of the frame."""
    seams: list[Seam] = []
    angles = odd(-49.6, 49.2, 4.2, 5.0)
    for n, x in enumerate(SEATED, 1):
        seams.append(Seam(f"JQ{n}", (f"GS-{n}/seat", f"Q{n}"), around(x, angles, R + T + BACK50), X))
        along = x + THICK + BEND + np.array([26.0, 58.0, 94.0])
        points = np.column_stack([along, np.full(3, TRACK - BACK100), np.full(3, DECK)])
        seams += both(f"R{n}{{h}}", (f"Q{n}/R{n}{{h}}", f"C{{h}}/R{n}"), points, minus(Z), FITTED)
        y = odd(-352.0, 345.0, 34.0, 38.0)
        beam = np.column_stack([np.full(len(y), x), y, np.full(len(y), DECK + 62.0)])
        seams.append(Seam(f"JS{n}", (f"Q{n}/S{n}", f"BO{n}/S"), beam, minus(X)))
    for n, x, way in ((1, -HEADSTOCK, -1.0), (2, LONG + HEADSTOCK, 1.0)):
        level = np.array([-92.0, -58.0, -24.0, 10.0, 46.0, 88.0])
        for row, down in ((1, 36.0), (2, 70.0)):
            points = np.column_stack([np.full(6, x), level, np.full(6, DECK - down)])
            seams.append(Seam(f"P{n}{row}", (f"K{n}/P{row}", f"P{n}/P{row}"), points, (way, 0.0, 0.0)))
        seams += _corners(n, x, way)
    return seams


def _corners(n: int, x: float, way: float) -> list[Seam]:
    """Both gussets of a headstock."""
    seams: list[Seam] = []
    level, along = np.array([130.0, 162.0, 194.0, 230.0, 278.0, 330.0]), np.array([134.0, 166.0, 198.0, 236.0, 280.0])
    for hand, turn in (("R", 1.0), ("L", -1.0)):
        gusset = f"D{hand if n == 1 else 'LR'[hand == 'L']}-{n}"
        head = np.column_stack([np.full(6, x - way * BACK100), turn * level, np.full(6, DECK)])
        long = np.column_stack([x - way * along, np.full(5, turn * (TRACK - BACK100)), np.full(5, DECK)])
        seams.append(Seam(f"W{n}{hand}", (f"{gusset}/head", f"K{n}/W{hand}"), head, minus(Z)))
        seams.append(Seam(f"Z{n}{hand}", (f"{gusset}/long", f"C{hand}/Z{n}"), long, minus(Z)))
    return seams
