"""Rolled shells lying along x: two half plates under straps, half rings of angle inside, flat ends on outer ones."""

import numpy as np
import numpy.typing as npt

from tests.kits.bent import Arc, Curved, Formed, Limb
from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, disc, drilled, minus, rectangle
from tests.unseamed.lay import BACKS, L40, L50, Layout, X, Z, angle, checked, job, vector

LEG, BACK = L50, BACKS[50.0]
INSET = 24.0  # from the edge of the shell to the outer face of its end
GIRTH = 44.0  # half the width of a strap, along its inner face
ROW = 22.0
STRAP = 5.0


Mask = npt.NDArray[np.bool_]


def outward(degrees: Array | float) -> Array:
    """Directions (n, 3) from the axis, by degrees to the left of straight down, seen along x."""
    turn = np.radians(np.atleast_1d(degrees))
    return np.column_stack([np.zeros(len(turn)), np.sin(turn), -np.cos(turn)])


def around(x: float, degrees: Array | float, radius: float) -> Array:
    """Places (n, 3) round the axis."""
    places: Array = radius * outward(degrees) + [x, 0.0, 0.0]
    return places


class Shell:
    """One shell while it is laid out; joints of the plates at the foot and the top, of the rings at the sides."""

    def __init__(self, seed: int, *, uniform: bool) -> None:
        """Choose the sizes."""
        self.lay = Layout.of(seed, uniform=uniform)
        lay = self.lay
        self.long, self.radius = lay.length(500, 1000), lay.length(250, 400)
        self.t = float(lay.rng.choice([5.0, 6.0]))
        self.middle, self.collar, self.posts = lay.chance(0.5), lay.chance(0.5), lay.chance(0.6)
        self.pieces: list[Piece] = []
        self.seams: list[Seam] = []

    def made(self) -> Kit:
        """The whole shell."""
        self._plates()
        places = [INSET, self.long - INSET] + ([round(self.long * 0.45)] if self.middle else [])
        for number, x in enumerate(places, 1):
            self._ring(number, float(x), -1.0 if number == 1 else 1.0)
        self._ends()
        return drilled(Kit(checked(self.pieces), self.seams, job("Shell", "S1")))

    def seam(self, mark: str, plies: tuple[str, ...], points: Array, ways: Array) -> None:
        """One seam, each rivet with its own direction."""
        named = tuple(ply if "/" in ply else f"{ply}/{mark}" for ply in plies)
        self.seams.append(Seam(mark, named, points, vector(ways[0]), {}, ways))

    def _rolled(self, mark: str, x: float, wide: float, start: float, arc: float, inside: float) -> Formed:
        """A plate rolled as a whole, from an angle on, its marked face inside."""
        along = vector(np.cross(X, -outward(start)[0]) * -1.0)
        limb = Limb((0.0, 0.0), (0.0, 1.0), -wide, 0.0, (Arc(arc, inside, ()),))
        thick = STRAP if mark.startswith("B") else self.t
        plate = Formed(
            mark, Frame(vector(around(x, start, inside)), X, along), rectangle(wide, limb.length(thick)), thick
        )
        plate.limbs = (limb,)
        return plate

    def _plates(self) -> None:
        for mark, start in (("S1", 0.0), ("S2", 180.0)):
            self.pieces.append(self._rolled(mark, 0.0, self.long, start, 180.0, self.radius))
        out = self.radius + self.t
        half = float(np.degrees(GIRTH / out))
        rows = [self.lay.along(self.long - 2.0 * (INSET + 70.0)) for _ in range(2)]
        row = float(np.degrees(ROW / out))
        for mark, at, (low, high) in (("B1", 0.0, ("S2", "S1")), ("B2", 180.0, ("S1", "S2"))):
            self.pieces.append(self._rolled(mark, 0.0, self.long, at - half, 2.0 * half, out))
            for k, (plate, way) in enumerate(((low, -1.0), (high, 1.0))):
                x = INSET + 70.0 + rows[k]
                if self.middle:
                    x = x[np.abs(x - round(self.long * 0.45) + 25.0) > 42.0]
                points = np.vstack([around(float(one), at + way * row, out) for one in x])
                ways = np.tile(outward(at + way * row), (len(x), 1))
                self.seam(f"{mark}{'ab'[k]}", (plate, mark), points, ways)

    def _ring(self, number: int, x: float, out: float) -> None:
        """Two half rings of angle against the shell; the flat leg looks along `out`."""
        inwards = (-out, 0.0, 0.0)
        row = x - out * BACK
        pitch = self.lay.one or float(self.lay.rng.choice([35.0, 37.0, 39.0]))
        spaces = 2 * int(np.pi * self.radius / pitch / 2.0)
        step = 180.0 / spaces
        for n, low in enumerate((-90.0, 90.0), 1):
            mark = f"R{number}{n}"
            start = low + 180.0 if out > 0.0 else low
            along = vector(np.cross(outward(start)[0], inwards) * -1.0)
            heel = Frame(vector(around(x, start, self.radius)), along, vector(-outward(start)))
            bar = Curved(mark, heel, LEG, 0.0, name="L50x50x6", centre="+y", inside_radius=self.radius - LEG[0])
            bar.angle = 180.0 - 0.4
            self.pieces.append(bar)
            degrees: Array = np.asarray(low + step * (np.arange(spaces) + 0.5), np.float64)
            if self.lay.one is None:
                degrees = np.append(degrees[:-2], degrees[-2] + step * 0.9)
            self._round(number, mark, row, degrees)

    def _round(self, number: int, mark: str, row: float, degrees: Array) -> None:
        """A half ring to the shell; under a strap the rivets hold three plies."""
        half = float(np.degrees(GIRTH / (self.radius + self.t)))
        for shell, low in (("S1", 0.0), ("S2", 180.0)):
            turn = np.mod(degrees - low, 360.0)
            own = turn < 180.0
            for plies, some in self._under(shell, turn, half, own):
                if some.any():
                    points, ways = around(row, degrees[some], self.radius), outward(degrees[some])
                    name = f"{mark}{shell}{''.join(plies[2:])}"
                    self.seam(name, (f"{mark}/{name}", *(f"{ply}/{name}" for ply in plies[1:])), points, ways)

    def _under(self, shell: str, turn: Array, half: float, own: Mask) -> list[tuple[tuple[str, ...], Mask]]:
        first, last = ("B1", "B2") if shell == "S1" else ("B2", "B1")
        start, end = own & (turn < half), own & (turn > 180.0 - half)
        return [(("", shell), own & ~start & ~end), (("", shell, first), start), (("", shell, last), end)]

    def _ends(self) -> None:
        """Flat ends on the outer faces of the two outer rings, one with a hole and its collar, angles up the other."""
        radius = self.radius - BACK
        for number, x, out in ((1, INSET, -1.0), (2, self.long - INSET, 1.0)):
            across = vector(np.cross(Z, (out, 0.0, 0.0)))
            end = Plate(f"E{number}", Frame((x + out * self.t, 0.0, 0.0), across, Z), disc(self.radius - 2.0), self.t)
            if number == 2 and self.collar:
                end.round_cutouts.append((0.0, 60.0, 70.0))
            self.pieces.append(self.lay.plate(end))
            pitch = self.lay.one or 38.0
            spaces = 2 * int(np.pi * radius / pitch / 2.0)
            for n, low in enumerate((-90.0, 90.0), 1):
                degrees: Array = np.asarray(low + 180.0 / spaces * (np.arange(spaces) + 0.5), np.float64)
                if self.lay.one is None and n == 1:
                    degrees = np.append(degrees[:-2], degrees[-2] + 180.0 / spaces * 0.9)
                points, ways = around(x, degrees, radius), np.tile((out, 0.0, 0.0), (len(degrees), 1))
                self.seam(f"R{number}{n}e", (f"R{number}{n}/end", f"E{number}/R{number}{n}e"), points, ways)
        if self.collar:
            self._collar()
        if self.posts:
            self._posts()

    def _collar(self) -> None:
        x, out = self.long - INSET, (1.0, 0.0, 0.0)
        collar = Plate("H1", Frame((x + 2.0 * self.t, 0.0, 60.0), vector(np.cross(Z, out)), Z), disc(116.0), self.t)
        collar.round_cutouts.append((0.0, 0.0, 70.0))
        self.pieces.append(self.lay.plate(collar))
        turn = 2.0 * np.pi * np.arange(16) / 16
        points = np.column_stack([np.full(16, x), 93.0 * np.cos(turn), 60.0 + 93.0 * np.sin(turn)])
        self.seam("H1e", ("E2/H1e", "H1"), points, np.tile(out, (16, 1)))

    def _posts(self) -> None:
        """Two upright angles outside the first end."""
        x, tall = INSET - self.t, self.radius * 1.2
        for number, y in ((1, 90.0), (2, -90.0)):
            frame = Frame((x, y, -tall / 2.0), Z, (0.0, -1.0 if y > 0.0 else 1.0, 0.0))
            if float(np.cross(frame.x, frame.y)[0]) > 0.0:
                frame = Frame((x, y, tall / 2.0), minus(Z), frame.y)
            self.pieces.append(angle(f"N{number}", frame, L40, tall))
            at = self.lay.along(tall)
            points = np.column_stack([np.full(len(at), x), np.full(len(at), y + 22.0 * frame.y[1]), at - tall / 2.0])
            self.seam(f"N{number}e", (f"E1/N{number}e", f"N{number}"), points, np.tile((-1.0, 0.0, 0.0), (len(at), 1)))


def shell(seed: int, *, uniform: bool) -> Kit:
    """A shell with ends, 10 to 15 pieces."""
    return Shell(seed, uniform=uniform).made()
