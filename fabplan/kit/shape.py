"""A piece as the search reads it: metal, holes on both faces, and runs of holes."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.blocks import Blocks, blocks
from fabplan.geom.near import heaps
from fabplan.geom.pose import to_outer, turned
from fabplan.geom.prism import Solid, thick
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.holes import Holes
from fabplan.model.part import Part

STRAIGHT = 0.3
"""Holes nearer than that to a line, mm, lie on it: drawn sizes are rounded to 0.1 mm, in inches to less."""

PITCH = 75.0
"""Holes further apart than this, mm, are not neighbours in a row of rivets: 14 times a thickness of 5 mm and more."""

WIDE = 1.15
"""Spaces of a row over this many times its pitch, as its median, part it: so it clears a joint of what it holds."""

ROUND = 6
"""Holes that make a circle: fewer lie on one by chance."""

SAME_WAY = 1.0 - 1e-4
"""Cosine of 0.8 degrees: holes that look further apart lie round a bend."""


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Holes that go together: a row of the drawing or of a bar, or two holes that stand by themselves.

    Attributes:
        row: its name, "" for holes without a row.
        holes: (n,) indices into the shape's holes, in order along a line or a round.
        along: (n,) mm from the first hole along a line; degrees are never used. Empty for a run that is no line.
        round: True where its holes look different ways.
        radius: mm, of a run that lies on a circle of one face; 0 for any other.
    """

    row: str
    holes: IntArray
    along: FloatArray
    round: bool
    radius: float = 0.0

    @property
    def line(self) -> bool:
        """True for holes on one line of one face."""
        return len(self.along) > 0

    def parts(self) -> list["Run"]:
        """A line as wider spaces part it; any other run as it is."""
        if not self.line:
            return [self]
        gaps = np.diff(self.along)
        wide = np.nonzero(gaps > min(PITCH, WIDE * float(np.median(gaps))))[0] + 1
        parts = zip(np.split(self.holes, wide), np.split(self.along, wide), strict=True)
        return [Run(self.row, holes, along - along[0], round=False) for holes, along in parts]


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One piece in its own frame, lengths mm.

    Attributes:
        part: it.
        solids: its panels as solids.
        boxes: (k, 8, 3) corners of the boxes around them.
        blocks: the least blocks round them.
        faces: (n, 2, 3) centres of its holes on the marked and on the back face.
        out: (n, 3) outward from the marked face.
        size: (n,) diameters.
        runs: of its holes.
        plain: (n, 2) False for a face that can lie on nothing: the round back of a half-round.
    """

    part: Part
    solids: tuple[Solid, ...]
    boxes: FloatArray
    blocks: Blocks
    faces: FloatArray
    out: FloatArray
    size: FloatArray
    runs: tuple[Run, ...]
    plain: BoolArray

    def __len__(self) -> int:
        """How many holes it has that want a mate."""
        return len(self.size)


def shape_of(part: Part) -> Shape:
    """The shape of a part; holes of an open purpose are left out."""
    solids = tuple(thick(panel) for panel in part.panels)
    boxes = np.array([to_outer(one.frame, one.box) for one in solids]).reshape(-1, 8, 3)
    holes, home = part.holes.holes, part.holes.panel
    own = np.array([k for k, purpose in enumerate(holes.purpose) if purpose != "open" and part.panels], dtype=np.int64)
    faces, out = np.zeros((len(own), 2, 3)), np.zeros((len(own), 3))
    for k, hole in enumerate(own.tolist()):
        panel = part.panels[home[hole]]
        depths = np.array([[*holes.xy[hole], 0.0], [*holes.xy[hole], -panel.thickness]])
        faces[k], out[k] = to_outer(panel.frame, depths), turned(panel.frame, np.array([0.0, 0.0, 1.0]))
    plain = np.ones((len(own), 2), dtype=np.bool_)
    plain[:, 1] = part.section is None or part.section.kind != "half-round"
    runs = _runs(holes, own, faces[:, 0], out)
    return Shape(part, solids, boxes, blocks(solids), faces, out, holes.diameter[own], runs, plain)


def _runs(holes: Holes, own: IntArray, at: FloatArray, out: FloatArray) -> tuple[Run, ...]:
    rows: dict[str, list[int]] = {}
    for k, hole in enumerate(own.tolist()):
        rows.setdefault(holes.row[hole], []).append(k)
    runs = [_run(row, np.array(members), at, out) for row, members in rows.items() if row and len(members) > 1]
    known = {tuple(sorted(run.holes.tolist())) for run in runs}
    near = [_run("", members, at, out) for members in _heaps(at, out) if tuple(members.tolist()) not in known]
    near = [*(run for run in near if run.line), *_circles(at, out, [run for run in runs if run.round or run.radius])]
    known_holes = {hole for run in (*runs, *near) for hole in run.holes.tolist()}
    left = [k for k in range(len(own)) if k not in known_holes]
    return (*runs, *near, *_pairs(np.array(left, dtype=np.int64), at, out))


def _circles(at: FloatArray, out: FloatArray, known: list[Run]) -> list[Run]:
    """Rows in a circle on one face, of `ROUND` holes or more; but for those that are known."""
    found: list[Run] = []
    taken = {hole for run in known for hole in run.holes.tolist()}
    for heap in _heaps(at, out):
        left = np.array([k for k in heap.tolist() if k not in taken], dtype=np.int64)
        for k in left.tolist():
            own = left[[one not in taken for one in left.tolist()]]
            if k in taken or len(own) < ROUND:
                continue
            near = own[np.argsort(np.linalg.norm(at[own] - at[k], axis=1), kind="stable")][:3]
            on, radius = _on_circle(at[own], at[near])
            if int(on.sum()) >= ROUND:
                taken |= set(own[on].tolist())
                found.append(Run("", own[on], np.zeros(0), round=False, radius=radius))
    return found


def _on_circle(points: FloatArray, three: FloatArray) -> tuple[BoolArray, float]:
    """(n,) True for points on the circle through three of them, and its radius; none where these lie on a line."""
    a, b = three[1] - three[0], three[2] - three[0]
    cross = np.cross(a, b)
    size = float(cross @ cross)
    if not size > (STRAIGHT * np.linalg.norm(a) * np.linalg.norm(b) / 100.0) ** 2:
        return np.zeros(len(points), dtype=np.bool_), 0.0
    centre = three[0] + np.cross((a @ a) * b - (b @ b) * a, cross) / (2.0 * size)
    radius = float(np.linalg.norm(three[0] - centre))
    away = np.linalg.norm(points - centre, axis=1)
    return np.asarray(np.abs(away - radius) <= STRAIGHT), radius


def _heaps(at: FloatArray, out: FloatArray) -> list[IntArray]:
    """Holes of one face that hang together by spaces of a pitch, two or more."""
    if not len(at):
        return []
    apart = np.linalg.norm(at[:, None] - at[None], axis=2)
    level = (out @ out.T > SAME_WAY) & (np.abs(np.einsum("nmi,ni->nm", at[None] - at[:, None], out)) < STRAIGHT)
    pairs = np.argwhere(level & (apart <= PITCH) & (apart > 0.0))
    heap = heaps(pairs, len(at))
    return [own for k in np.unique(heap) if len(own := np.nonzero(heap == k)[0]) > 1]


def _pairs(left: IntArray, at: FloatArray, out: FloatArray) -> list[Run]:
    """Each hole without a row with the nearest other one on its face."""
    found: dict[tuple[int, int], Run] = {}
    for k in left.tolist():
        level = (out[left] @ out[k] > SAME_WAY) & (np.abs((at[left] - at[k]) @ out[k]) < STRAIGHT) & (left != k)
        if level.any():
            others = left[level]
            near = int(others[np.linalg.norm(at[others] - at[k], axis=1).argmin()])
            pair = min(k, near), max(k, near)
            found.setdefault(pair, _run("", np.array(pair), at, out))
    return list(found.values())


def _run(row: str, members: IntArray, at: FloatArray, out: FloatArray) -> Run:
    points, nothing = at[members], np.zeros(0)
    if (out[members] @ out[members[0]]).min() < SAME_WAY:
        return Run(row, _in_turn(members, points, out), nothing, round=True)
    far = points[np.linalg.norm(points - points[0], axis=1).argmax()]
    first = points[np.linalg.norm(points - far, axis=1).argmax()]
    way = far - first
    length = float(np.linalg.norm(way))
    if not length > STRAIGHT:
        return Run(row, members, nothing, round=False)
    along = (points - first) @ way / length
    if np.linalg.norm(points - first - np.outer(along, way / length), axis=1).max() > STRAIGHT:
        on, radius = _on_circle(points, points[[0, len(points) // 2, -1]]) if len(points) >= ROUND else (nothing, 0.0)
        return Run(row, members, nothing, round=False, radius=radius if len(on) and on.all() else 0.0)
    order = np.argsort(along, kind="stable")
    return Run(row, members[order], along[order], round=False)


def _in_turn(members: IntArray, points: FloatArray, out: FloatArray) -> IntArray:
    """Holes round a bend in the order in which they look, from the widest gap on."""
    ways = out[members]
    axis = np.linalg.svd(ways - ways.mean(axis=0))[2][2]
    first = ways[0] - (ways[0] @ axis) * axis
    second = np.cross(axis, first)
    turn = np.arctan2(ways @ second, ways @ first)
    order = np.argsort(turn, kind="stable")
    gaps = np.diff(np.append(turn[order], turn[order][0] + 2.0 * np.pi))
    start = (int(gaps.argmax()) + 1) % len(order)
    return members[np.roll(order, -start)]
