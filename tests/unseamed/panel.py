"""Stiffened panels: a plate with angles across it, edge angles, cleats from one to the other, doublings on its back."""

import numpy as np

from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, Vector, drilled, minus, rectangle
from tests.unseamed.lay import Layout, X, Y, Z, angle, checked, job

L80, L100 = (80.0, 80.0, 8.0), (100.0, 100.0, 10.0)
TALL = 80.0
BACK = 45.0


class Panel:
    """One panel while it is laid out: x along, y across, stiffeners along y on the face z = 0."""

    def __init__(self, seed: int, *, uniform: bool) -> None:
        """Choose the sizes."""
        self.lay = Layout.of(seed, uniform=uniform)
        lay = self.lay
        self.count, self.deep = int(lay.rng.integers(2, 6)), lay.length(420, 640)
        self.t = float(lay.rng.choice([5.0, 6.0]))
        self.between = lay.length(220, 280)
        self.long = self.between * (self.count + 1)
        self.alike, self.cleated, self.doubled = lay.chance(0.6), lay.chance(0.75), lay.chance(0.7)
        self.pieces: list[Piece] = []
        self.seams: list[Seam] = []

    def made(self) -> Kit:
        """The whole panel."""
        plate = Plate("P1", Frame((0.0, 0.0, 0.0), X, Y), rectangle(self.long, self.deep), self.t)
        self.pieces.append(self.lay.plate(plate))
        self._edges()
        self._stiffeners()
        if self.cleated:
            self._cleats()
        if self.doubled:
            self._doublings()
        kit = drilled(Kit(checked(self.pieces), self.seams, job("Stiffened panel", "P1")))
        if self.lay.chance(0.3):
            drawn = kit.piece("P1")
            assert isinstance(drawn, Plate)
            side = -1.0 if drawn.frame.x[0] < 0.0 else 1.0
            x = side * (self.between * 0.45)  # in the bay that has no doubling
            self.lay.spare(drawn, [(x, self.deep * 0.4), (x + 12.0, self.deep * 0.55), (x, self.deep * 0.62)])
        return kit

    def _edges(self) -> None:
        """Angles along both long edges, heels outwards, standing legs on the edge."""
        deep, long, back = self.deep, self.long, BACK
        for mark, y, along, inwards, start in (("R1", 0.0, X, Y, 0.0), ("R2", deep, minus(X), minus(Y), long)):
            self.pieces.append(angle(mark, Frame((start, y, 0.0), along, inwards), L80, long))
            row = y + back * inwards[1]
            points = self.lay.line((0.0, row, 0.0), (long, row, 0.0))
            self.seams.append(Seam(f"{mark}p", (f"{mark}/plate", "P1"), points, minus(Z)))

    def _stiffeners(self) -> None:
        """Angles between the edges; the back of the standing leg at whole spaces."""
        run, back, low = self.deep - 164.0, BACK, 82.0
        rise = self.lay.along(run)
        for number in range(1, self.count + 1):
            at = self.between * number
            mark, part = (f"G-{number}", "G") if self.alike and self.count > 1 else (f"G{number}", "")
            self.pieces.append(angle(mark, Frame((at, low, 0.0), Y, minus(X)), L80, run, part))
            rise = rise if self.alike else self.lay.along(run)
            points = np.array([at - back, low, 0.0]) + np.outer(rise, Y)
            self.seams.append(Seam(f"G{number}p", (f"{mark}/plate", f"P1/G{number}"), points, minus(Z)))

    def _cleats(self) -> None:
        """Short angles in the corners of stiffeners and edges, three rivets to each; those at one edge are alike."""
        low = TALL - 72.0
        rise = np.array([18.0, 38.0, 60.0]) if self.lay.one is None else np.array([18.0, 38.0, 58.0])
        for number in range(1, self.count + 1):
            at = self.between * number
            stiff = f"G-{number}" if self.alike and self.count > 1 else f"G{number}"
            for part, edge, y, sign in (("V", "R1", 8.0, 1.0), ("W", "R2", self.deep - 8.0, -1.0)):
                mark = f"{part}-{number}" if self.count > 1 else part
                frame = Frame((at, y, low), Z, X) if sign > 0.0 else Frame((at, y, low + 68.0), minus(Z), X)
                self.pieces.append(angle(mark, frame, L100, 68.0, part))
                rivets = low + rise if sign > 0.0 else low + 68.0 - rise
                onto = np.column_stack([np.full(3, at + 55.0), np.full(3, y), rivets])
                along = np.column_stack([np.full(3, at), np.full(3, y + sign * 88.0), rivets])
                self._tie(f"{part}{number}a", (f"{mark}/a", f"{edge}/{part}{number}"), onto, (0.0, -sign, 0.0))
                self._tie(f"{part}{number}b", (f"{mark}/b", f"{stiff}/{part}"), along, minus(X))

    def _tie(self, mark: str, plies: tuple[str, ...], points: Array, axis: Vector) -> None:
        self.seams.append(Seam(mark, plies, points, axis))

    def _doublings(self) -> None:
        """Plates on the back of the panel, in the bays between stiffeners, clear of their rows."""
        for number in range(1, int(self.lay.rng.integers(1, 3)) + 1):
            x0, wide, tall = self.between * number + 12.0, self.between - 86.0, self.deep * 0.6
            frame = Frame((x0, self.deep * 0.2, -self.t), X, Y)
            self.pieces.append(self.lay.plate(Plate(f"D{number}", frame, rectangle(wide, tall), 5.0)))
            for side, x in (("l", x0 + 24.0), ("r", x0 + wide - 24.0)):
                points = self.lay.line((x, self.deep * 0.2, 0.0), (x, self.deep * 0.8, 0.0))
                name = f"D{number}{side}"
                self.seams.append(Seam(name, (f"P1/{name}", f"D{number}/{name}"), points, minus(Z)))


def panel(seed: int, *, uniform: bool) -> Kit:
    """A stiffened panel of 5 to 20 pieces."""
    return Panel(seed, uniform=uniform).made()
