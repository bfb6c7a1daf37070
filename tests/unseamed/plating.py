"""Flat plating: plates edge to edge under butt straps, frames of angle over the joints on the other face."""

import numpy as np

from tests.kits.build import Array, Frame, Kit, Piece, Plate, Seam, Vector, drilled, minus, rectangle
from tests.unseamed.lay import BACKS, L40, Layout, X, Y, Z, angle, checked, job

HALF = 42.0  # half the width of a strap
ROW = 22.0  # from a joint to the row of its strap
STRAP = 5.0


class Plating:
    """One field of plates while it is laid out: x along, y across; straps on the face z = 0, frames on the back."""

    def __init__(self, seed: int, *, uniform: bool) -> None:
        """Choose the sizes."""
        self.lay = Layout.of(seed, uniform=uniform)
        lay = self.lay
        self.columns, self.rows = int(lay.rng.integers(2, 4)), int(lay.rng.integers(1, 3))
        self.x = np.cumsum([0.0, *(lay.length(260, 480) for _ in range(self.columns))])
        self.y = np.cumsum([0.0, *(lay.length(280, 460) for _ in range(self.rows))])
        self.t, self.alike = float(lay.rng.choice([5.0, 6.0])), lay.chance(0.4)
        self.pieces: list[Piece] = []
        self.seams: list[Seam] = []

    def made(self) -> Kit:
        """The whole field."""
        lay = self.lay
        for i in range(self.columns):
            for k in range(self.rows):
                frame = Frame((float(self.x[i]), float(self.y[k]), 0.0), X, Y)
                ring = rectangle(float(np.diff(self.x)[i]), float(np.diff(self.y)[k]))
                self.pieces.append(self.lay.plate(Plate(f"P{i}{k}", frame, ring, self.t)))
        self.frames = [int(lay.rng.integers(1, 3)) if lay.chance(0.8) else 0 for _ in range(self.rows)]
        self._straps()
        self._frames()
        kit = drilled(Kit(checked(self.pieces), self.seams, job("Plating", "P00")))
        if self.lay.chance(0.3):
            plate = kit.piece("P10")
            assert isinstance(plate, Plate)
            side = -1.0 if plate.frame.x[0] < 0.0 else 1.0
            wide, deep = float(np.diff(self.x)[1]), float(np.diff(self.y)[0])
            self.lay.spare(
                plate, [(side * wide * 0.4, deep * 0.75), (side * wide * 0.52, deep * 0.8)]
            )  # over all frames
        return kit

    def seam(self, mark: str, plies: tuple[str, ...], points: Array, axis: Vector) -> None:
        """One seam; rows that bear the seam's name."""
        self.seams.append(Seam(mark, tuple(ply if "/" in ply else f"{ply}/{mark}" for ply in plies), points, axis))

    def _straps(self) -> None:
        """A strap over every joint: upright ones from edge to edge of each plate, level ones between these."""
        for i in range(1, self.columns):
            for k in range(self.rows):
                self._strap((f"U{i}{k}", "U" if self.alike else ""), (f"P{i - 1}{k}", f"P{i}{k}"), i, k)
        for k in range(1, self.rows):
            for i in range(self.columns):
                low = float(self.x[i]) + (HALF + 2.0 if i else 0.0)
                high = float(self.x[i + 1]) - (HALF + 2.0 if i + 1 < self.columns else 0.0)
                at = float(self.y[k])
                strap = Plate(
                    f"L{i}{k}", Frame((low, at - HALF, STRAP), X, Y), rectangle(high - low, 2.0 * HALF), STRAP
                )
                self.pieces.append(self.lay.plate(strap))
                for way, plate in ((-1.0, f"P{i}{k - 1}"), (1.0, f"P{i}{k}")):
                    points = self.lay.line((low, at + way * ROW, 0.0), (high, at + way * ROW, 0.0))
                    self.seam(f"l{i}{k}{'ab'[way > 0.0]}", (plate, f"L{i}{k}"), points, minus(Z))

    def _strap(self, names: tuple[str, str], plates: tuple[str, str], i: int, k: int) -> None:
        mark, at, low, high = names[0], float(self.x[i]), float(self.y[k]), float(self.y[k + 1])
        strap = Plate(mark, Frame((at - HALF, low, STRAP), X, Y), rectangle(2.0 * HALF, high - low), STRAP)
        self.pieces.append(self.lay.plate(strap))
        for way, plate in zip((-1.0, 1.0), plates, strict=True):
            points = self.lay.line((at + way * ROW, low, 0.0), (at + way * ROW, high, 0.0))
            tops = [self._top(k, number) for number in range(1, self.frames[k] + 1)]
            clear = np.ones(len(points), dtype=np.bool_)
            for top in tops:
                clear &= (points[:, 1] > top + 24.0) | (points[:, 1] < top - 64.0)
            self.seam(f"u{i}{k}{'ab'[way > 0.0]}", (plate, mark), points[clear], minus(Z))

    def _top(self, k: int, number: int) -> float:
        """Where the heel of a frame lies across the field."""
        return float(self.y[k]) + number * float(np.diff(self.y)[k]) / (self.frames[k] + 1.0)

    def _frames(self) -> None:
        """Angles along x on the back, over all plates of a row; no rivet where a strap lies under them."""
        back = BACKS[40.0]
        for k in range(self.rows):
            for number in range(1, self.frames[k] + 1):
                mark, at = f"F{k}{number}", self._top(k, number)
                self.pieces.append(angle(mark, Frame((6.0, at, -self.t), X, minus(Y)), L40, float(self.x[-1]) - 12.0))
                self._row(mark, at - back, k)

    def _row(self, mark: str, y: float, k: int) -> None:
        """Rivets of a frame: on each plate a run clear of its straps, and two in three plies at each joint."""
        for i in range(self.columns):
            low = float(self.x[i]) + (HALF if i else 6.0)
            high = float(self.x[i + 1]) - (HALF if i + 1 < self.columns else 6.0)
            self.seam(
                f"{mark}{i}", (f"P{i}{k}", f"{mark}/run{i}"), self.lay.line((low, y, 0.0), (high, y, 0.0)), minus(Z)
            )
        for i in range(1, self.columns):
            for way, plate in ((-1.0, f"P{i - 1}{k}"), (1.0, f"P{i}{k}")):
                name = f"{mark}{i}{'ab'[way > 0.0]}"
                point = np.array([[float(self.x[i]) + way * ROW, y, 0.0]])
                self.seam(name, (f"U{i}{k}", plate, f"{mark}/{name}"), point, minus(Z))


def plating(seed: int, *, uniform: bool) -> Kit:
    """A field of 2 to 6 plates with straps and frames."""
    return Plating(seed, uniform=uniform).made()
