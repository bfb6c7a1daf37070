"""A body as a line picture seen from over a corner of its box: hidden lines removed, or dashed where they matter."""

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.hidden import Covers, Runs, covers, hidden_points, hidden_runs
from fabplan.geom.pose import compose, to_outer, turned
from fabplan.geom.profile import area, flattened, reversed_profile
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body
from fabplan.model.page import Stroke
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile
from fabplan.sheets.pen import Box

Corner = tuple[float, float, float]
USUAL: Corner = (1.0, -1.0, 1.0)  # where the eye stands: right of the body, before it and above
CORNERS: tuple[Corner, ...] = (
    USUAL,
    *((x, y, 1.0) for x, y in ((-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0))),
    *((x, y, -1.0) for x, y in ((1.0, -1.0), (-1.0, -1.0), (-1.0, 1.0), (1.0, 1.0))),
)
JOINED = 1.0  # mm between middles of edges that are one edge of two facets
SHARP = 0.3  # radians: a corner that turns less is part of a round edge and gets no line
FINE = 5e-4  # chords of arcs, as a share of the panel's size
HEAVY, THIN, PALE = 0.5, 0.13, 0.55
DASHED, DASH = 0.18, (1.2, 0.8)  # pen and dashes of what is hidden of a heavy piece, mm
LEAST_THICKNESS = 0.6  # mm on paper; a thinner panel is drawn as a sheet
JOIN, RECENT = 0.1, 4  # mm on paper between ends that meet; runs looked back upon for one
LEAST_RUN = 0.2  # mm on paper: shorter stretches are chinks between facets


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A line of a piece, (n, 3) on the picture and in depth, mm, not yet to scale.

    Attributes:
        owner: index of the instance.
        points: its corners; a closed line repeats its first.
        along: (n,) how far along it on the picture each corner lies, mm.
        edge: True for an edge of the seen face, False for one that only shows the thickness.
        first: number of its first segment among all of the scene.
    """

    owner: int
    points: FloatArray
    along: FloatArray
    edge: bool
    first: int


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All lines of a body, what hides them, and the extent (low, high), (2,) each, of the picture.

    `axes` (3, 3) are right, up and from the body to the eye, at equal angles to all three axes of the body.
    """

    lines: tuple[Line, ...]
    faces: Covers
    runs: Runs
    low: FloatArray
    high: FloatArray
    axes: FloatArray


def axes_of(corner: Corner) -> FloatArray:
    """Right, up and towards the eye (3, 3) for an eye over a corner of the body's box."""
    towards = np.array(corner) / np.sqrt(3.0)
    right = np.array([-corner[1], corner[0], 0.0]) / np.sqrt(2.0)
    axes: FloatArray = np.array([right, np.cross(towards, right), towards])
    return axes


def scene(body: Body, corner: Corner = USUAL) -> Scene:
    """The placed pieces of a body seen from a corner of its box, made ready for any number of pictures."""
    axes = axes_of(corner)
    placed = [
        (i, panel, compose(pose, panel.frame))
        for i, pose in enumerate(body.poses)
        if pose is not None
        for panel in body.part_of(i).panels
    ]
    smooth = _smooth(placed, axes[2])
    prisms = [_prism(*one, axes, smooth.get(k)) for k, one in enumerate(placed)]
    if not prisms:
        nothing = np.zeros((0, 3))
        return Scene((), covers((), ()), hidden_runs(nothing, nothing, covers((), ())), np.zeros(2), np.ones(2), axes)
    faces = covers([(prism.face, prism.cutouts) for prism in prisms], [prism.owner for prism in prisms])
    lines = _numbered([line for prism in prisms for line in _lines(prism)])
    start, end = (np.concatenate([line.points[own] for line in lines]) for own in (slice(None, -1), slice(1, None)))
    points = np.concatenate([start, end])[:, :2]
    return Scene(lines, faces, hidden_runs(start, end, faces), points.min(axis=0), points.max(axis=0), axes)


def _numbered(drafts: Sequence[tuple[int, FloatArray, bool]]) -> tuple[Line, ...]:
    counts = np.array([len(points) - 1 for _, points, _ in drafts])
    first = np.cumsum(counts) - counts
    return tuple(
        Line(owner, points, _along(points[:, :2]), edge, int(number))
        for (owner, points, edge), number in zip(drafts, first, strict=True)
    )


def _along(points: FloatArray) -> FloatArray:
    """(n,) how far along a line (n, 2) each of its corners lies."""
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


@dataclass(frozen=True, slots=True, eq=False)
class Prism:
    """One panel as the eye sees it, mm on the picture and in depth, not yet to scale.

    Attributes:
        owner: index of the instance.
        face: (n, 3) outline of the flat face that is seen.
        back: (n, 3) the same outline on the other face.
        cutouts: outlines of the openings in the face that is seen.
        seen: (n,) True where the edge strip from corner i to corner i + 1 is seen.
        sharp: (n,) True where a corner gets a line.
        smooth: (n,) True where the edge from corner i to i + 1 goes on into a neighbour of one round: it gets none.
    """

    owner: int
    face: FloatArray
    back: FloatArray
    cutouts: tuple[FloatArray, ...]
    seen: BoolArray
    sharp: BoolArray
    smooth: BoolArray


def _lines(prism: Prism) -> Iterator[tuple[int, FloatArray, bool]]:
    """Owner and corners of the lines of one panel, and whether each is an edge of the seen face."""
    for line in _edges(prism.face, prism.smooth):
        yield prism.owner, line, True
    for opening in prism.cutouts:
        yield prism.owner, np.vstack([opening, opening[:1]]), True
    seen = prism.seen & ~prism.smooth
    for line in _edges(prism.back, ~seen) if seen.any() else ():
        yield prism.owner, line, False
    for i in np.nonzero(prism.sharp & (seen | np.roll(seen, 1)))[0].tolist():
        yield prism.owner, np.array([prism.face[i], prism.back[i]]), False


def isometric(view: Scene, room: Box, chosen: Collection[int], present: Collection[int]) -> list[Stroke]:
    """The picture in an area of the paper.

    Args:
        view: the whole body, which always gives the scale and the place.
        room: area of the paper, mm.
        chosen: instances drawn heavy; where others hide them, dashed.
        present: instances drawn at all.
    """
    scale, shift = _placing(view, room)
    heavy, there = frozenset(chosen), frozenset(present) | frozenset(chosen)
    own = np.isin(view.runs.owner, sorted(there))
    segment, share = view.runs.segment[own], view.runs.share[own]
    order = np.lexsort((share[:, 0], segment))
    segment, share = segment[order], share[order]
    found: dict[tuple[bool, int, bool], list[FloatArray]] = {}
    lines = [line for line in view.lines if line.owner in there and (line.edge or _thick(line, scale))]
    bounds = np.searchsorted(segment, [(line.first, line.first + len(line.points) - 1) for line in lines])
    for line, (low, high) in zip(lines, bounds.reshape(-1, 2).tolist(), strict=True):
        seen, hidden = _parted(line, segment[low:high] - line.first, share[low:high], LEAST_RUN / scale)
        dark = line.owner in heavy
        found.setdefault((dark, line.owner, True), []).extend(seen)
        if dark and line.edge:
            found.setdefault((dark, line.owner, False), []).extend(hidden)
    return [
        _stroke(run * scale + shift, dark, seen)
        for (dark, _, seen), runs in sorted(found.items(), key=lambda pair: pair[0][0])
        for run in _chained(runs, JOIN / scale)
    ]


def _stroke(run: FloatArray, dark: bool, seen: bool) -> Stroke:
    points = tuple((float(x), float(y)) for x, y in run)
    if not dark:
        return Stroke(points, THIN, grey=PALE)
    return Stroke(points, HEAVY) if seen else Stroke(points, DASHED, DASH)


def _chained(runs: Sequence[FloatArray], near: float) -> list[FloatArray]:
    """Runs (n, 2) that meet end to end as one, so that dashes go on over the facets of a round."""
    chains: list[FloatArray] = []
    for run in runs:
        for back in range(1, min(RECENT, len(chains)) + 1):
            joined = _joined(chains[-back], run, near)
            if joined is not None:
                chains[-back] = joined
                break
        else:
            chains.append(run)
    return chains


def _joined(one: FloatArray, other: FloatArray, near: float) -> FloatArray | None:
    """Two runs that meet at an end as one; None where they do not."""
    for first in (one, one[::-1]):
        for last in (other, other[::-1]):
            if math.dist(first[-1], last[0]) <= near:
                return np.concatenate([first, last[1:]])
    return None


def places(view: Scene, room: Box, points: FloatArray) -> tuple[FloatArray, BoolArray]:
    """Where points (n, 3) of the body lie on the paper (n, 2), mm, and which (n,) are seen with all pieces there."""
    scale, shift = _placing(view, room)
    seen = points @ view.axes.T
    return seen[:, :2] * scale + shift, ~hidden_points(seen, view.faces)


def _placing(view: Scene, room: Box) -> tuple[float, FloatArray]:
    """Scale and shift of the picture in an area of the paper."""
    size = np.maximum(view.high - view.low, 1e-6)
    scale = float(min((room[2] - room[0]) / size[0], (room[3] - room[1]) / size[1])) * 0.98
    centre = np.array([(room[0] + room[2]) / 2.0, (room[1] + room[3]) / 2.0])
    return scale, centre - scale * (view.low + view.high) / 2.0


def _thick(line: Line, scale: float) -> bool:
    """True for a line of the thickness that is told apart on paper; long ones along an edge always are."""
    return len(line.points) > 2 or float(line.along[-1]) * scale >= LEAST_THICKNESS


def _parted(
    line: Line, segment: IntArray, share: FloatArray, least: float
) -> tuple[list[FloatArray], list[FloatArray]]:
    """The stretches (k, 2) of a line that are seen, and those that are hidden, chinks shorter than `least` closed."""
    points, place = line.points[:, :2], line.along
    if not len(segment):
        return [points], []
    long = place[1:] - place[:-1]
    cover: list[list[float]] = []
    for low, high in (place[segment, None] + share * long[segment, None]).tolist():
        if cover and low <= cover[-1][1] + least:
            cover[-1][1] = max(cover[-1][1], high)
        else:
            cover.append([low, high])
    cover = [[low, high] for low, high in cover if high - low > least]
    bounds = [0.0, *(end for pair in cover for end in pair), float(place[-1])]
    seen = [_between(points, place, low, high) for low, high in zip(bounds[::2], bounds[1::2], strict=True)
            if high - low > least]  # fmt: skip
    return seen, [_between(points, place, low, high) for low, high in cover]


def _between(points: FloatArray, place: FloatArray, low: float, high: float) -> FloatArray:
    """A line (n, 2) from one place along it to another."""
    inner = points[(place > low) & (place < high)]
    ends = np.column_stack([np.interp((low, high), place, points[:, k]) for k in (0, 1)])
    return np.concatenate([ends[:1], inner, ends[1:]])


def _edges(ring: FloatArray, smooth: BoolArray) -> list[FloatArray]:
    """The drawn lines of an outline (n, 3): all of it, closed, or the runs between smooth edges."""
    if not smooth.any():
        return [np.vstack([ring, ring[:1]])]
    start = int(np.nonzero(smooth)[0][0]) + 1
    ring, kept = np.roll(ring, -start, axis=0), ~np.roll(smooth, -start)
    runs = np.split(np.arange(len(ring)), np.nonzero(np.diff(kept.astype(int)))[0] + 1)
    return [ring[[*run, (run[-1] + 1) % len(ring)]] for run in runs if kept[run[0]]]


def _smooth(placed: list[tuple[int, Panel, Pose]], towards: FloatArray) -> dict[int, BoolArray]:
    """By panel of a rounded piece, the edges (n,) that go on into another panel that is seen from the same side."""
    found: dict[int, BoolArray] = {}
    for owner in dict.fromkeys(i for i, panel, _ in placed if panel.kind != "flat"):
        own = [k for k, one in enumerate(placed) if one[0] == owner]
        middles = [to_outer(placed[k][2], _middles(placed[k][1])) for k in own]
        facing = [float(placed[k][2].rotation[:, 2] @ towards) >= 0.0 for k in own]
        for a, k in enumerate(own):
            others = [middles[b] for b in range(len(own)) if b != a and facing[b] == facing[a]]
            rest = np.vstack(others) if others else np.zeros((0, 3))
            apart = np.linalg.norm(middles[a][:, None] - rest[None], axis=2)
            found[k] = apart.min(axis=1, initial=np.inf) < JOINED
    return found


def _middles(panel: Panel) -> FloatArray:
    """Middles (n, 3) of the edges of a panel's outline, in its own frame."""
    ring = _ring(_turning_left(panel.outline))
    flat = (ring + np.roll(ring, -1, axis=0)) / 2.0
    return np.column_stack([flat, np.zeros(len(flat))])


def _turning_left(outline: Profile) -> Profile:
    return outline if area(outline) > 0.0 else reversed_profile(outline)


def _prism(owner: int, panel: Panel, frame: Pose, axes: FloatArray, smooth: BoolArray | None) -> Prism:
    ring = _ring(_turning_left(panel.outline))
    normal = turned(frame, np.array([0.0, 0.0, 1.0]))
    near, far = (0.0, -panel.thickness) if normal @ axes[2] >= 0.0 else (-panel.thickness, 0.0)
    step = np.roll(ring, -1, axis=0) - ring
    outward = turned(frame, np.column_stack([step[:, 1], -step[:, 0], np.zeros(len(step))]))
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs(np.angle(np.exp(1j * (heading - np.roll(heading, 1)))))
    return Prism(
        owner,
        _level(frame, ring, near) @ axes.T,
        _level(frame, ring, far) @ axes.T,
        tuple(_level(frame, _ring(cutout), near) @ axes.T for cutout in panel.cutouts),
        outward @ axes[2] > 1e-9,
        turn > SHARP,
        np.zeros(len(ring), dtype=np.bool_) if smooth is None else smooth,
    )


def _ring(profile: Profile) -> FloatArray:
    size = float(np.ptp(profile.vertices, axis=0).max())
    return flattened(profile, max(FINE * size, 1e-3))


def _level(frame: Pose, ring: FloatArray, z: float) -> FloatArray:
    return to_outer(frame, np.column_stack([ring, np.full(len(ring), z)]))
