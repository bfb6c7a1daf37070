"""A body known in space: its pieces, its seams, and the holes that the seams put into the pieces.

Frames follow the conventions of DEVELOPERS.md: a plate's marked face is z = 0 and metal lies at z in [-t, 0]; a bar has
its heel on x, leg a in +y, leg b in +z; the body's frame is that of the datum.
"""

from dataclasses import dataclass, field
from datetime import date

import numpy as np
import numpy.typing as npt

Vector = tuple[float, float, float]
Array = npt.NDArray[np.float64]
Ring = list[tuple[float, float, float]]
"""A closed line as corners (x, y, bulge of the span that leaves the corner)."""
Value = str | float | bool | date | tuple[float, ...]
Keys = dict[str, Value]
"""Keys of one table of the job file."""


@dataclass(frozen=True)
class Frame:
    """Origin and two axes of a piece in the body."""

    origin: Vector
    x: Vector
    y: Vector

    @property
    def matrix(self) -> Array:
        """(4, 4), piece to body."""
        whole = np.eye(4)
        x, y = np.array(self.x, dtype=float), np.array(self.y, dtype=float)
        whole[:3, 0], whole[:3, 1], whole[:3, 2], whole[:3, 3] = x, y, np.cross(x, y), self.origin
        return whole

    def own(self, points: Array) -> Array:
        """Points (n, 3) of the body in the frame of the piece."""
        matrix = self.matrix
        moved: Array = (points - matrix[:3, 3]) @ matrix[:3, :3]
        return moved


@dataclass
class Plate:
    """A plate: outline and cut-outs in its own frame, round cut-outs as (x, y, radius), rows as places (n, 2).

    `hole` is the diameter of its holes where it is not that of the kit; `part` the piece mark where it is one of
    several ("S1" for the instance "S1R"), `marks` texts for the steel and where they stand.
    """

    mark: str
    frame: Frame
    outline: Ring
    thickness: float
    cutouts: list[Ring] = field(default_factory=list)
    round_cutouts: list[tuple[float, float, float]] = field(default_factory=list)
    keys: Keys = field(default_factory=dict)
    rows: dict[str, Array] = field(default_factory=dict)
    hole: float | None = None
    part: str = ""
    marks: list[tuple[str, tuple[float, float]]] = field(default_factory=list)

    @property
    def lines(self) -> dict[str, Array]:
        """Lines of forming by layer, from (2,) to (2,) on the blank; a flat plate has none."""
        return {}

    @property
    def form(self) -> tuple[str, ...]:
        """Lines of the job file that tell how the piece is formed; a flat one needs none."""
        return ()

    def drill(self, row: str, own: Array, ways: Array) -> None:
        """Holes where rivets at (n, 3) along (n, 3), both in the frame of the piece, go through it."""
        assert np.allclose(np.abs(ways[:, 2]), 1.0, rtol=0.0, atol=1e-9), f"row {row} is not square to {self.mark}"
        self.rows[row] = own[:, :2]


@dataclass
class Angle:
    """An angle a x b x t; `part` is the piece mark where it is one of several ("A1" for the instance "A1R").

    Rows are pairs: the leg, "a" or "b", and places (n, 2) along the bar and across the leg.
    """

    mark: str
    frame: Frame
    legs: tuple[float, float, float]
    length: float
    part: str = ""
    keys: Keys = field(default_factory=dict)
    rows: dict[str, tuple[str, Array]] = field(default_factory=dict)

    @property
    def section(self) -> str:
        """The name of the section."""
        return "L{:g}x{:g}x{:g}".format(*self.legs)

    @property
    def form(self) -> tuple[str, ...]:
        """Lines of the job file that tell how the bar is bent; a straight one needs none."""
        return ()

    @property
    def measured(self) -> str:
        """What rows count along the bar, besides its length: "angle" round a bent one, else nothing."""
        return ""

    @property
    def span(self) -> float:
        """Up to what rows count from the marked end: mm, or degrees round a bent bar."""
        return self.length

    def drill(self, row: str, own: Array, ways: Array) -> None:
        """Holes where rivets at (n, 3) along (n, 3), both in the frame of the piece, go through one leg."""
        axis = all_along(ways)
        assert axis in (1, 2), f"row {row} is not square to {self.mark}"
        self.rows[row] = ("a", own[:, :2]) if axis == 2 else ("b", own[:, [0, 2]])


Piece = Plate | Angle


@dataclass(frozen=True)
class Seam:
    """A run of rivets: points (n, 3), direction from made head to point, plies from the head side.

    `ways` are the directions (n, 3) of the single rivets where they differ, as round a bend.
    """

    mark: str
    plies: tuple[str, ...]
    points: Array
    axis: Vector
    keys: Keys = field(default_factory=dict)
    ways: Array | None = None


@dataclass
class Kit:
    """A whole body; `job` holds the keys of [job]."""

    pieces: list[Piece]
    seams: list[Seam]
    job: Keys
    rivet: tuple[float, float] = (10.0, 11.0)
    extra: str = ""

    def piece(self, mark: str) -> Piece:
        """A piece by its instance mark."""
        return next(piece for piece in self.pieces if piece.mark == mark)


def drilled(kit: Kit) -> Kit:
    """Put the holes of all seams into the pieces; a row bears the mark of its seam unless the ply names one."""
    for seam in kit.seams:
        for ply in seam.plies:
            mark, _, row = ply.partition("/")
            _drill(kit.piece(mark), row or seam.mark, seam)
    return kit


def _drill(piece: Piece, row: str, seam: Seam) -> None:
    """One row of holes in one piece."""
    ways = np.tile(seam.axis, (len(seam.points), 1)) if seam.ways is None else seam.ways
    piece.drill(row, piece.frame.own(seam.points), ways @ piece.frame.matrix[:3, :3])


def all_along(ways: Array) -> int:
    """The axis, 0 to 2, along which directions (n, 3) run, all of them, this way or that; -1 where they do not."""
    run: list[bool] = np.all(np.abs(np.abs(ways) - 1.0) <= 1e-9, axis=0).tolist()
    return run.index(True) if True in run else -1


def minus(v: Vector) -> Vector:
    """The opposite direction."""
    return (-v[0], -v[1], -v[2])


def line(start: Vector, end: Vector, pitch: float) -> Array:
    """Equal spaces from start to end, none wider than `pitch`."""
    a, b = np.array(start, dtype=np.float64), np.array(end, dtype=np.float64)
    spaces = max(1, int(np.ceil(np.linalg.norm(b - a) / pitch - 1e-9)))
    places: Array = a + (b - a) * np.linspace(0.0, 1.0, spaces + 1)[:, None]
    return places


def ring(centre: Vector, radius: float, count: int) -> Array:
    """Points on a level circle."""
    turn = 2.0 * np.pi * np.arange(count) / count
    return np.array(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn), np.zeros(count)])


def rectangle(width: float, height: float) -> Ring:
    """A plain rectangle from the origin."""
    return [(0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)]


def disc(radius: float) -> Ring:
    """A circle about the origin as two half arcs."""
    return [(radius, 0.0, 1.0), (-radius, 0.0, 1.0)]
