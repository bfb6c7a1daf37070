"""Circles of a drawing as its table of holes: their purposes, rows and numbers."""

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from fabplan.drawing.alike import firsts
from fabplan.drawing.chains import chain
from fabplan.drawing.circles import EVEN, Circle, piece_circle, profile_circle
from fabplan.drawing.over import NEAR
from fabplan.drawing.pieces import Piece
from fabplan.drawing.sorting import Sorting
from fabplan.geom.rings import areas, joined
from fabplan.geom.rows import numbered, rows_shown
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.drawing import Intake
from fabplan.model.holes import Holes
from fabplan.model.profile import Profile

RIVET_SIZES = (5.0, 40.0)  # mm: hole diameters that may take a rivet where none is known (common practice)
SAME_SIZE = 0.06  # mm: a drawn hole is of a known size
TWIN = 0.05  # mm: two circles of one size nearer than this are one hole drawn twice
MOST = 3000  # holes among which rows are sought, or one row is followed: a sieve has none


@dataclass(frozen=True, slots=True)
class Hole:
    """One circle, mm, with what it is for."""

    circle: Circle
    row: str
    purpose: str
    handle: str


@dataclass(slots=True)
class Sifted:
    """Closed lines sifted: holes, profiles that are none, handles of holes drawn twice, lines of no hole."""

    holes: list[Hole] = field(default_factory=list)
    profiles: list[Profile] = field(default_factory=list)
    twins: list[tuple[Hole, Hole]] = field(default_factory=list)
    unround: list[Piece] = field(default_factory=list)


def sift(loops: Sequence[Profile], sorting: Sorting, scale: float, intake: Intake) -> Sifted:
    """Tell holes from profiles. A circle of the cut layers is an opening, unless it is the outer profile."""
    sifted = Sifted()
    for piece, role in sorting.round:
        circle = piece_circle(piece, EVEN)
        if circle is not None:
            sifted.holes.append(
                _hole(circle, scale, role.row, "rivet" if role.name == "RIVET" else "bolt", piece.handle)
            )
    _chained(sorting, scale, sifted)
    rounds = [profile_circle(loop) for loop in loops]
    sizes = np.abs(areas(joined(loops))).tolist()
    largest = max(sizes, default=0.0)
    rivet_sizes = _rivet_sizes(rounds, intake) if sorting.bare else ()
    for loop, circle, size in zip(loops, rounds, sizes, strict=True):
        if circle is None or size >= largest:
            sifted.profiles.append(loop)
            continue
        rivet = any(abs(circle.diameter - known) <= SAME_SIZE for known in rivet_sizes)
        sifted.holes.append(_hole(circle, 1.0, "", "rivet" if rivet else "open", "".join(loop.handles[:1])))
    sifted.holes, sifted.twins = _without_twins(sifted.holes)
    _over_holes(sifted, scale)
    sifted.holes = _in_found_rows(sifted.holes)
    return sifted


def _hole(circle: Circle, scale: float, row: str, purpose: str, handle: str) -> Hole:
    if scale == 1.0:
        return Hole(circle, row, purpose, handle)
    mm = Circle(
        circle.x * scale,
        circle.y * scale,
        circle.diameter * scale,
        circle.corners,
        circle.error * scale,
        circle.sag * scale,
    )
    return Hole(mm, row, purpose, handle)


def _chained(sorting: Sorting, scale: float, sifted: Sifted) -> None:
    """Arcs of the hole layers that chain to circles; what does not is no hole."""
    for role, pieces in sorting.loose.items():
        used: set[str] = set()
        for loop in chain(pieces, scale).loops:
            circle = profile_circle(loop, EVEN)
            if circle is not None:
                used |= set(loop.handles)
                purpose = "rivet" if role.name == "RIVET" else "bolt"
                sifted.holes.append(_hole(circle, 1.0, role.row, purpose, loop.handles[0]))
        sifted.unround += [piece for piece in pieces if piece.handle not in used]


def _over_holes(sifted: Sifted, scale: float) -> None:
    """Lines of no hole that lie on one all along, as part of a circle drawn twice, are told as its twins."""
    xy = np.array([(hole.circle.x, hole.circle.y) for hole in sifted.holes]).reshape(-1, 2)
    radius = np.array([hole.circle.diameter / 2.0 for hole in sifted.holes])
    left = []
    for piece in sifted.unround:
        under: list[int] = []
        if len(piece.points) > 1 and len(sifted.unround) <= MOST:
            away = np.linalg.norm(_along(piece)[:, None] * scale - xy[None], axis=2)
            under = np.nonzero((np.abs(away - radius) <= NEAR).all(axis=0))[0].tolist()
        if under:
            hole = sifted.holes[under[0]]
            sifted.twins.append((hole, replace(hole, handle=piece.handle)))
        else:
            left.append(piece)
    sifted.unround = left


def _along(piece: Piece) -> FloatArray:
    """Corners of a line and the middles of its spans, (n, 2) in drawing units."""
    start, end, bulge = piece.points[:-1], piece.points[1:], piece.bulges[: len(piece.points) - 1, None]
    across = np.column_stack([end[:, 1] - start[:, 1], start[:, 0] - end[:, 0]])
    return np.vstack([piece.points, (start + end + bulge * across) / 2.0])


def _rivet_sizes(circles: Sequence[Circle | None], intake: Intake) -> tuple[float, ...]:
    """Diameters of rivet holes where no layer has a role: the known ones, else the commonest of a likely size."""
    if intake.hole_diameters:
        return intake.hole_diameters
    low, high = RIVET_SIZES
    sizes = Counter(round(one.diameter, 2) for one in circles if one is not None and low <= one.diameter <= high)
    return (min(sizes, key=lambda size: (-sizes[size], size)),) if sizes else ()


def _without_twins(holes: list[Hole]) -> tuple[list[Hole], list[tuple[Hole, Hole]]]:
    """Each hole once; of two that are one, the one on a hole layer and in a row stays."""
    ranked = sorted(holes, key=lambda hole: (hole.purpose == "open", hole.row == ""))
    size = np.array([(hole.circle.x, hole.circle.y, hole.circle.diameter, 0.0) for hole in ranked]).reshape(-1, 4)
    rows = size.tolist()

    def alike(i: int, j: int) -> bool:
        return math.dist(rows[i][:2], rows[j][:2]) <= TWIN and abs(rows[i][2] - rows[j][2]) <= TWIN

    first = firsts(size, TWIN, alike)
    twins = [(ranked[k], hole) for k, hole in zip(first, ranked, strict=True) if ranked[k] is not hole]
    dropped = {id(hole) for _, hole in twins}
    return [hole for hole in holes if id(hole) not in dropped], twins


def _in_found_rows(holes: list[Hole]) -> list[Hole]:
    """Rivet holes without a row get those that their lines and circles show, numbered by y, then x, of the middle."""
    index = [k for k, hole in enumerate(holes) if hole.purpose == "rivet" and not hole.row]
    if not index or len(index) > MOST:
        return holes
    taken = {hole.row for hole in holes}
    names = (name for number in range(1, len(holes) + len(taken) + 1) if (name := f"r{number}") not in taken)
    xy = np.array([(holes[k].circle.x, holes[k].circle.y) for k in index])
    named = list(holes)
    rows = sorted(rows_shown(xy), key=lambda row: tuple(np.round(xy[row].mean(axis=0)[::-1], 3).tolist()))
    for row, name in zip(rows, names, strict=False):
        for k in row.tolist():
            named[index[k]] = replace(holes[index[k]], row=name)
    return named


def hole_table(holes: Sequence[Hole]) -> Holes:
    """The table of holes, row by row in the order of their numbers."""
    xy = np.array([(hole.circle.x, hole.circle.y) for hole in holes]).reshape(-1, 2)
    order, numbers = _numbered(xy, [hole.row for hole in holes])
    ranked = [holes[k] for k in order.tolist()]
    return Holes(
        xy[order],
        np.array([hole.circle.diameter for hole in ranked], dtype=np.float64),
        tuple(hole.row for hole in ranked),
        numbers,
        tuple(hole.purpose for hole in ranked),
        tuple(hole.handle for hole in ranked),
    )


def _numbered(xy: FloatArray, rows: Sequence[str]) -> tuple[IntArray, tuple[str, ...]]:
    """An order (n,) of all holes and the number of each in it; a row too long to be a seam is numbered by y, then x."""
    long = {row for row, count in Counter(rows).items() if row and count > MOST}
    index = np.array([k for k, row in enumerate(rows) if row not in long], dtype=np.int64)
    own, numbers = numbered(xy[index], [rows[k] for k in index.tolist()])
    order, names = [index[own]], list(numbers)
    for row in sorted(long):
        index = np.array([k for k, name in enumerate(rows) if name == row], dtype=np.int64)
        order.append(index[np.lexsort(np.round(xy[index], 3).T)])
        names += [f"{row} {number}" for number in range(1, len(index) + 1)]
    return np.concatenate(order), tuple(names)


def of_known_size(holes: Holes, known: Sequence[float]) -> list[int]:
    """Numbers of openings that have the size of a known rivet hole."""
    return [
        k
        for k, (size, purpose) in enumerate(zip(holes.diameter.tolist(), holes.purpose, strict=True))
        if purpose == "open" and any(abs(size - one) <= SAME_SIZE for one in known)
    ]
