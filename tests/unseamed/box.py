"""Open boxes: floor, sides, ends, angles along all inner edges; some with a jointed side, a partition, or a rim."""

import numpy as np

from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, Vector, drilled, minus, rectangle
from tests.unseamed.lay import BACKS, L40, L50, Layout, X, Y, Z, angle, checked, job


class Box:
    """One box while it is laid out; x along, y across, z up, the floor's upper face at z = 0."""

    def __init__(self, seed: int, *, uniform: bool) -> None:
        """Choose the sizes."""
        self.lay = Layout.of(seed, uniform=uniform)
        lay = self.lay
        self.long, self.wide, self.high = lay.length(600, 1000), lay.length(380, 560), lay.length(340, 480)
        self.t = float(lay.rng.choice([5.0, 6.0]))
        self.legs = L50 if lay.chance(0.5) else L40
        self.back, self.gap = BACKS[self.legs[0]], self.legs[0] + 2.0
        self.alike, self.pair = lay.chance(0.5), lay.chance(0.5)
        self.jointed, self.parted = lay.chance(0.4), lay.chance(0.4)
        self.pieces: list[Piece] = []
        self.seams: list[Seam] = []

    def made(self) -> Kit:
        """The whole box."""
        self._plates()
        self._floor_bars()
        self._corners()
        if self.parted:
            self._partition()
        kit = drilled(Kit(checked(self.pieces), self.seams, job("Box", "F1")))
        if self.lay.chance(0.3):
            floor = kit.piece("F1")
            assert isinstance(floor, Plate)
            side = -1.0 if floor.frame.x[0] < 0.0 else 1.0
            places = [(side * self.long * 0.61, self.wide * 0.42), (side * self.long * 0.67, self.wide * 0.55)]
            self.lay.spare(floor, places)
        return kit

    def seam(self, mark: str, plies: tuple[str, ...], points: Array, axis: Vector) -> None:
        """One seam, heads inside."""
        self.seams.append(Seam(mark, plies, points, axis))

    def _plates(self) -> None:
        long, wide, high, t = self.long, self.wide, self.high, self.t
        across, tall = long + 2.0 * t, high + t
        self.joint = round(long * 0.5 / 10.0) * 10.0 + 40.0
        floor = Plate("F1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(long, wide), t)
        plates = [floor]
        if self.jointed:
            first, rest = self.joint + t, across - self.joint - t
            plates += [
                Plate("S1", Frame((-t, -t, -t), X, Z), rectangle(first, tall), t),
                Plate("S3", Frame((self.joint, -t, -t), X, Z), rectangle(rest, tall), t),
                Plate("B1", Frame((self.joint - 40.0, -t - 5.0, -t), X, Z), rectangle(80.0, tall), 5.0),
            ]
        else:
            plates.append(Plate("S1", Frame((-t, -t, -t), X, Z), rectangle(across, tall), t))
        plates += [
            Plate("S2", Frame((long + t, wide + t, -t), minus(X), Z), rectangle(across, tall), t),
            Plate("E1", Frame((-t, wide, -t), minus(Y), Z), rectangle(wide, tall), t),
            Plate("E2", Frame((long + t, 0.0, -t), Y, Z), rectangle(wide, tall), t),
        ]
        self.pieces += [self.lay.plate(plate) for plate in plates]

    def _floor_bars(self) -> None:
        long, wide, back, gap = self.long, self.wide, self.back, self.gap
        pair = self.pair and not self.jointed
        bars = ("A1R", "A1L", "A1") if pair else ("A1", "A4", "")
        self.pieces += [
            angle(bars[0], Frame((2.0, 0.0, 0.0), X, Y), self.legs, long - 4.0, bars[2]),
            angle(bars[1], Frame((long - 2.0, wide, 0.0), minus(X), minus(Y)), self.legs, long - 4.0, bars[2]),
            angle("A2", Frame((0.0, wide - gap, 0.0), minus(Y), X), self.legs, wide - 2.0 * gap),
            angle("A3", Frame((long, gap, 0.0), Y, minus(X)), self.legs, wide - 2.0 * gap),
        ]
        flat = self.lay.line((gap, back, 0.0), (long - gap, back, 0.0))
        side = self.lay.line((2.0, 0.0, back), (long - 2.0, 0.0, back))
        mirror = np.array([1.0, -1.0, 1.0])
        other = self.lay.line((gap, wide - back, 0.0), (long - gap, wide - back, 0.0))
        far = self.lay.line((2.0, wide, back), (long - 2.0, wide, back))
        if pair:
            other, far = (points * mirror + [0.0, wide, 0.0] for points in (flat, side))
        self.seam("As", (f"{bars[0]}/floor", "F1"), flat, minus(Z))
        self.seam("An", (f"{bars[1]}/floor", "F1"), other, minus(Z))
        self._side_run(bars[0], side)
        self.seam("Bn", (f"{bars[1]}/side", "S2"), far, Y)
        for bar, end, x, inner, out in (("A2", "E1", 0.0, back, minus(X)), ("A3", "E2", long, long - back, X)):
            points = self.lay.line((inner, gap, 0.0), (inner, wide - gap, 0.0))
            self.seam(f"{bar}f", (f"{bar}/floor", "F1"), points, minus(Z))
            self.seam(f"{bar}e", (f"{bar}/end", end), self.lay.line((x, gap, back), (x, wide - gap, back)), out)

    def _side_run(self, bar: str, points: Array) -> None:
        """The long angle to its side, which may be in two plates under a strap: three plies at the joint."""
        if not self.jointed:
            self.seam("Bs", (f"{bar}/side", "S1"), points, minus(Y))
            return
        joint, x = self.joint, points[:, 0]
        points = points[np.abs(x - joint) > 62.0]
        x = points[:, 0]
        near = np.array([[joint - 22.0, 0.0, self.back], [joint + 22.0, 0.0, self.back]])
        out = minus(Y)
        self.seam("Bs1", (f"{bar}/s1", "S1/Bs1"), points[x < joint], out)
        self.seam("Bs2", (f"{bar}/s2", "S3/Bs2"), points[x > joint], out)
        self.seam("Bs3", (f"{bar}/s3", "S1/Bs3", "B1/Bs3"), near[:1], out)
        self.seam("Bs4", (f"{bar}/s4", "S3/Bs4", "B1/Bs4"), near[1:], out)
        for mark, side, at in (("G", "S1", joint - 22.0), ("H", "S3", joint + 22.0)):
            rise = self.lay.line((at, 0.0, self.back + 24.0), (at, 0.0, self.high))
            self.seam(mark, (side, "B1"), rise, out)

    def _corners(self) -> None:
        long, wide, high, back, gap = self.long, self.wide, self.high, self.back, self.gap
        tall = high - gap
        frames = [
            Frame((0.0, 0.0, gap), Z, X),
            Frame((long, 0.0, gap), Z, Y),
            Frame((long, wide, gap), Z, minus(X)),
            Frame((0.0, wide, gap), Z, minus(Y)),
        ]
        marks = [f"C-{n}" if self.alike else f"C{n}" for n in (1, 2, 3, 4)]
        self.pieces += [
            angle(mark, frame, self.legs, tall, "C" if self.alike else "")
            for mark, frame in zip(marks, frames, strict=True)
        ]
        rises = [(self.lay.along(tall), self.lay.along(tall))]
        rises += [rises[0] if self.alike else (self.lay.along(tall), self.lay.along(tall)) for _ in range(3)]
        ends = ("E1", "E2", "E2", "E1")
        sides = ("S1", "S3" if self.jointed else "S1", "S2", "S2")
        for n, (mark, frame) in enumerate(zip(marks, frames, strict=True)):
            a, b = np.array(frame.y), np.cross(Z, frame.y)
            for leg, way, rise in (("a", a, rises[n][0]), ("b", b, rises[n][1])):
                foot = np.array(frame.origin) + back * way
                onto, out = (sides[n], Y) if abs(way[0]) > 0.5 else (ends[n], X)
                sign = -1.0 if float(np.array(frame.origin) @ out) < 1.0 else 1.0
                points = foot + np.outer(rise, Z)
                axis = (out[0] * sign, out[1] * sign, 0.0)
                self.seam(f"K{n}{leg}", (f"{mark}/{leg}", f"{onto}/K{n}{leg}"), points, axis)

    def _partition(self) -> None:
        """A plate across the box on an angle on the floor, another on the far side wall."""
        at = round(self.long * 0.3 / 10.0) * 10.0
        t, wide, high, back, gap = 5.0, self.wide, self.high - 60.0, self.back, self.gap
        plate = Plate("P1", Frame((at + t, 2.0, 0.0), Y, Z), rectangle(wide - 4.0, high), t)
        # leg b of the foot against the partition, leg a on the floor, clear of the long angles
        foot = angle("G1", Frame((at, gap, 0.0), Y, minus(X)), self.legs, wide - 2.0 * gap)
        post = angle("G2", Frame((at, wide, gap), Z, minus(X)), self.legs, high - gap)
        self._notched(plate)
        self.pieces += [self.lay.plate(plate), foot, post]
        self.seam(
            "Pf", ("G1/floor", "F1"), self.lay.line((at - back, gap, 0.0), (at - back, wide - gap, 0.0)), minus(Z)
        )
        self.seam("Pg", ("G1/plate", "P1"), self.lay.line((at, gap, back), (at, wide - gap, back)), X)
        rise = self.lay.along(high - gap)
        self.seam("Ph", ("G2/side", "S2"), np.array([at - back, wide, gap]) + np.outer(rise, Z), Y)
        rise = self.lay.along(high - gap - 4.0)
        self.seam("Pk", ("G2/plate", "P1"), np.array([at, wide - back, gap]) + np.outer(rise, Z), X)

    def _notched(self, plate: Plate) -> None:
        """Both lower corners cut away over the long angles."""
        wide, high, cut = self.wide - 4.0, self.high - 60.0, self.gap
        plate.outline = [
            (cut, 0.0, 0.0), (wide - cut, 0.0, 0.0), (wide - cut, cut, 0.0), (wide, cut, 0.0),
            (wide, high, 0.0), (0.0, high, 0.0), (0.0, cut, 0.0), (cut, cut, 0.0),
        ]  # fmt: skip


def box(seed: int, *, uniform: bool) -> Kit:
    """An open box of 13 to 19 pieces."""
    return Box(seed, uniform=uniform).made()
