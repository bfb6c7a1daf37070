"""From a body known in space to drawings, a job file and the truth: where each piece is and which holes are mates.

Frames follow the conventions of DEVELOPERS.md: a plate's marked face is z = 0 and metal lies at z in [-t, 0]; a bar has
its heel on x, leg a in +y, leg b in +z; the body's frame is that of the datum.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

Vector = tuple[float, float, float]
Array = npt.NDArray[np.float64]


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
    """A plate: outline and cut-outs as lists of (x, y, bulge) in its own frame, or a circle as (x, y, radius)."""

    mark: str
    frame: Frame
    outline: list[tuple[float, float, float]]
    thickness: float
    cutouts: list[list[tuple[float, float, float]]] = field(default_factory=list)
    round_cutouts: list[tuple[float, float, float]] = field(default_factory=list)
    keys: dict[str, object] = field(default_factory=dict)
    rows: dict[str, Array] = field(default_factory=dict)


@dataclass
class Angle:
    """An angle a x b x t; `part` is the piece mark where it is one of a pair ("A1" for the instance "A1R")."""

    mark: str
    frame: Frame
    legs: tuple[float, float, float]
    length: float
    part: str = ""
    keys: dict[str, object] = field(default_factory=dict)
    rows: dict[str, tuple[str, Array]] = field(default_factory=dict)

    @property
    def section(self) -> str:
        """The name of the section."""
        return "L{:g}x{:g}x{:g}".format(*self.legs)


@dataclass(frozen=True)
class Seam:
    """A run of rivets: points (n, 3), direction from made head to point, plies from the head side."""

    mark: str
    plies: tuple[str, ...]
    points: Array
    axis: Vector
    keys: dict[str, object] = field(default_factory=dict)


@dataclass
class Kit:
    """A whole body; `job` holds the keys of [job]."""

    pieces: list[Plate | Angle]
    seams: list[Seam]
    job: dict[str, object]
    rivet: tuple[float, float] = (10.0, 11.0)
    extra: str = ""

    def piece(self, mark: str) -> Plate | Angle:
        """A piece by its instance mark."""
        return next(piece for piece in self.pieces if piece.mark == mark)


def drilled(kit: Kit) -> Kit:
    """Put the holes of all seams into the pieces; a row bears the mark of its seam unless the ply names one."""
    for seam in kit.seams:
        for ply in seam.plies:
            mark, _, row = ply.partition("/")
            row = row or seam.mark
            piece = kit.piece(mark)
            own = piece.frame.own(seam.points)
            axis = piece.frame.own(np.array([seam.axis]) + np.array(piece.frame.origin))[0]
            if isinstance(piece, Plate):
                assert abs(abs(axis[2]) - 1.0) < 1e-9, f"seam {seam.mark} is not square to {mark}"
                piece.rows[row] = own[:, :2]
            elif abs(abs(axis[2]) - 1.0) < 1e-9:
                piece.rows[row] = ("a", own[:, :2])
            else:
                assert abs(abs(axis[1]) - 1.0) < 1e-9, f"seam {seam.mark} is not square to {mark}"
                piece.rows[row] = ("b", own[:, [0, 2]])
    return kit


def line(start: Vector, end: Vector, pitch: float) -> Array:
    """Equal spaces from start to end, none wider than `pitch`."""
    a, b = np.array(start, dtype=float), np.array(end, dtype=float)
    spaces = max(1, int(np.ceil(np.linalg.norm(b - a) / pitch - 1e-9)))
    return a + (b - a) * np.linspace(0.0, 1.0, spaces + 1)[:, None]


def ring(centre: Vector, radius: float, count: int) -> Array:
    """Points on a level circle."""
    turn = 2.0 * np.pi * np.arange(count) / count
    return np.array(centre) + radius * np.column_stack([np.cos(turn), np.sin(turn), np.zeros(count)])


def rectangle(width: float, height: float) -> list[tuple[float, float, float]]:
    """A plain rectangle from the origin."""
    return [(0.0, 0.0, 0.0), (width, 0.0, 0.0), (width, height, 0.0), (0.0, height, 0.0)]


def disc(radius: float) -> list[tuple[float, float, float]]:
    """A circle about the origin as two half arcs."""
    return [(radius, 0.0, 1.0), (-radius, 0.0, 1.0)]


def job_text(kit: Kit) -> str:
    """The job file."""
    lines = ["[job]", *_keys(kit.job), "", "[[rivet]]", 'mark = "R10"', f"diameter = {kit.rivet[0]:g}"]
    lines += [f"hole = {kit.rivet[1]:g}", 'head = "round"', 'point = "round"', 'closing = "hot"', ""]
    if kit.extra:
        lines += [kit.extra, ""]
    written: set[str] = set()
    for piece in kit.pieces:
        name = piece.part if isinstance(piece, Angle) and piece.part else piece.mark
        if name in written:
            continue
        written.add(name)
        lines += ["[[part]]", f'mark = "{name}"']
        if isinstance(piece, Plate):
            lines += [f'drawing = "{piece.mark}.dxf"', f"thickness = {piece.thickness:g}"]
        else:
            lines += [f'section = "{piece.section}"', f"length = {piece.length:g}"]
            lines += ['hand = "pair"'] if piece.part else []
        lines += _keys(piece.keys)
        if isinstance(piece, Angle):
            lines += ["rows = [", *(_row(kit, row, leg, places) for row, (leg, places) in piece.rows.items()), "]"]
        lines.append("")
    for seam in kit.seams:
        plies = ", ".join(f'"{mark}"' for mark in seam.plies)
        lines += ["[[seam]]", f'mark = "{seam.mark}"', f"parts = [{plies}]", 'rivet = "R10"', *_keys(seam.keys), ""]
    return "\n".join(lines)


def _keys(keys: dict[str, object]) -> list[str]:
    def word(value: object) -> str:
        if isinstance(value, bool):
            return str(value).lower()
        return (
            f'"{value}"' if isinstance(value, str) and not value.startswith("raw:") else str(value).removeprefix("raw:")
        )

    return [f"{key} = {word(value)}" for key, value in keys.items()]


def _row(kit: Kit, row: str, leg: str, places: Array) -> str:
    along, mark = np.round(places[:, 0], 4), float(np.round(places[0, 1], 4))
    along = along if along[0] <= along[-1] else along[::-1]
    head = f'  {{ row = "{row}", leg = "{leg}", back_mark = {mark:g}, '
    step = np.diff(along)
    if len(along) > 1 and np.ptp(step) < 1e-3:
        return (
            head
            + f"first = {along[0]:.10g}, last = {along[-1]:.10g}, count = {len(along)}, diameter = {kit.rivet[1]:g} }},"
        )
    listed = ", ".join(f"{place:.10g}" for place in along)
    return head + f"at = [{listed}], diameter = {kit.rivet[1]:g} }},"
