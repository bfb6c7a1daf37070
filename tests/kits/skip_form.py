"""Form of the skip: where its surfaces lie in the body, and the sizes that its pieces share.

The body's x runs along the trough from the outer face of the first end to that of the second, y to the right, z up; the
axis of the rolled bottom is y = z = 0. A side is told by s, up the slope from where the round ends, and by how far it
lies outside the inner face of the bottom.
"""

from math import cos, radians, sin

import numpy as np

from tests.kits.build import Array, Keys, Seam, Value, Vector

X, Y, Z = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
LONG = 4000.0  # over the outer faces of the ends
OVER = 58.0  # by which sheets run out past them
R, T, END = 400.0, 5.0, 6.0  # inside radius of the bottom; plate of sheets and of ends
SLOPE = 60.0  # degrees: sides to the level, and half the round of the bottom
STRIP, LAP = 100.0, 12.0  # the bottom's flat strips; where the sides begin over them
TALL = 700.0  # s where the rim is folded
RIM, RIM_RADIUS = 62.0, 10.0  # width of its flat, inside radius
BOTTOM_JOINT, SIDE_JOINT = 1800.0, 2150.0
L50, BACK50 = (50.0, 50.0, 6.0), 30.0
L60, BACK60 = (60.0, 60.0, 6.0), 35.0
L100, BACK100 = (100.0, 100.0, 10.0), 55.0
ROUND, PITCH, LEAST = 4.5, 30.0, 34.0  # degrees and mm of a space; mm of the odd one at least
STIFF = (300.0, 750.0, 1200.0, 1620.0, 2000.0, 2500.0, 3050.0, 3600.0)  # outer faces of the stiffening rings
SEATED = (750.0, 3050.0)  # those that stand on the frame
UP: Vector = (0.0, cos(radians(SLOPE)), sin(radians(SLOPE)))
OUT: Vector = (0.0, sin(radians(SLOPE)), -cos(radians(SLOPE)))
FOOT = np.array([0.0, R * sin(radians(SLOPE)), -R * cos(radians(SLOPE))])
HEADS: Keys = {"head": "inside"}


def side(x: Array | float, s: Array | float, off: float) -> Array:
    """Places (n, 3) of the right side."""
    one, other = np.broadcast_arrays(np.atleast_1d(x), np.atleast_1d(s))
    places: Array = FOOT + np.outer(one, X) + np.outer(other, UP) + off * np.array(OUT)
    return places


def outward(degrees: Array | float) -> Array:
    """Directions (n, 3) from the axis, by degrees to the right of straight down."""
    turn = np.radians(np.atleast_1d(degrees))
    return np.column_stack([np.zeros(len(turn)), np.sin(turn), -np.cos(turn)])


def around(x: float, degrees: Array | float, radius: float) -> Array:
    """Places (n, 3) round the axis."""
    places: Array = radius * outward(degrees) + [x, 0.0, 0.0]
    return places


def vector(place: Array) -> Vector:
    """The one place of (1, 3) or (3,)."""
    x, y, z = np.asarray(place).reshape(3).tolist()
    return x, y, z


def odd(start: float, end: float, pitch: float = PITCH, least: float = LEAST) -> Array:
    """Equal spaces from the start and one odd space before the end, so that no row fits turned end for end."""
    count = int((end - start - least) // pitch)
    return np.append(start + pitch * np.arange(count + 1), end)


DEGREES = odd(-53.0, 51.6, ROUND, 4.8)
"""Rivets round the bottom."""


def keys(**more: Value) -> Keys:
    """Keys of a plate."""
    return {"grade": "S275", "supplier": "cutter", **more}


def both(mark: str, plies: tuple[str, ...], points: Array, way: Vector | Array, told: Keys = HEADS) -> list[Seam]:
    """A seam of the right side and its mirror image; "{h}" stands for the hand, in marks and plies."""
    flip, ways = np.array([1.0, -1.0, 1.0]), np.atleast_2d(way)
    seams = []
    for hand, turn in (("R", np.ones(3)), ("L", flip)):
        named = tuple(ply.replace("{h}", hand) for ply in plies)
        each = ways * turn
        seams.append(Seam(mark.replace("{h}", hand), named, points * turn, vector(each[0]), told))
    return seams


def round_seam(mark: str, plies: tuple[str, ...], x: float, degrees: Array, radius: float) -> Seam:
    """A seam round the bottom, heads inside."""
    ways = outward(degrees)
    return Seam(mark, plies, around(x, degrees, radius), vector(ways[0]), HEADS, ways)
