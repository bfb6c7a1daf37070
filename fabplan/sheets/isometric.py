"""A body as an isometric line picture: every panel a white prism, drawn from the back to the front."""

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from fabplan.geom.pose import compose, to_outer, turned
from fabplan.geom.profile import area, flattened, reversed_profile
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body
from fabplan.model.page import Stroke
from fabplan.model.panel import Panel
from fabplan.model.pose import Pose
from fabplan.model.profile import Profile
from fabplan.sheets.pen import Box

TOWARDS = np.array([1.0, -1.0, 1.0]) / np.sqrt(3.0)  # from the body to the eye: equal angles to all three axes
RIGHT = np.array([1.0, 1.0, 0.0]) / np.sqrt(2.0)
UP = np.cross(TOWARDS, RIGHT)
SLACK = 0.5  # mm, by which faces that touch may run into one another and still count as one behind the other
JOINED = 1.0  # mm between middles of edges that are one edge of two facets
SHARP = 0.3  # radians: a corner that turns less is part of a round edge and gets no line
FINE = 5e-4  # chords of arcs, as a share of the panel's size
HEAVY, THIN, PALE = 0.5, 0.13, 0.55
LEAST_THICKNESS = 0.6  # mm on paper; a thinner panel is drawn as a sheet


@dataclass(frozen=True, slots=True, eq=False)
class Prism:
    """One panel as the eye sees it, mm in the plane of the picture, not yet to scale.

    Attributes:
        owner: index of the instance.
        face: (n, 2) outline of the flat face that is seen.
        back: (n, 2) the same outline on the other face.
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


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """All panels of a body from the back to the front, and the extent (low, high), (2,) each, of the picture."""

    prisms: tuple[Prism, ...]
    low: FloatArray
    high: FloatArray


def scene(body: Body) -> Scene:
    """The placed pieces of a body, made ready for any number of pictures."""
    placed = [
        (i, panel, compose(pose, panel.frame))
        for i, pose in enumerate(body.poses)
        if pose is not None
        for panel in body.part_of(i).panels
    ]
    smooth = _smooth(placed)
    prisms = [_prism(*one, smooth.get(k)) for k, one in enumerate(placed)]
    if not prisms:
        return Scene((), np.zeros(2), np.ones(2))
    points = [np.vstack([prism.face, prism.back]) for prism in prisms]
    low, high = np.array([p.min(axis=0) for p in points]), np.array([p.max(axis=0) for p in points])
    order = _back_to_front([(panel, frame) for _, panel, frame in placed], low, high)
    return Scene(tuple(prisms[k] for k in order), low.min(axis=0), high.max(axis=0))


def _smooth(placed: list[tuple[int, Panel, Pose]]) -> dict[int, BoolArray]:
    """By panel of a rounded piece, the edges (n,) that go on into another panel that is seen from the same side."""
    found: dict[int, BoolArray] = {}
    for owner in dict.fromkeys(i for i, panel, _ in placed if panel.kind != "flat"):
        own = [k for k, one in enumerate(placed) if one[0] == owner]
        middles = [to_outer(placed[k][2], _middles(placed[k][1])) for k in own]
        facing = [float(placed[k][2].rotation[:, 2] @ TOWARDS) >= 0.0 for k in own]
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


def isometric(view: Scene, room: Box, chosen: Collection[int], present: Collection[int]) -> list[Stroke]:
    """The picture in an area of the paper.

    Args:
        view: the whole body, which always gives the scale and the place.
        room: area of the paper, mm.
        chosen: instances drawn heavy; where others hide them, dashed over those.
        present: instances drawn at all.
    """
    size = np.maximum(view.high - view.low, 1e-6)
    scale = float(min((room[2] - room[0]) / size[0], (room[3] - room[1]) / size[1])) * 0.98
    centre = np.array([(room[0] + room[2]) / 2.0, (room[1] + room[3]) / 2.0])
    shift = centre - scale * (view.low + view.high) / 2.0
    heavy, there = frozenset(chosen), frozenset(present) | frozenset(chosen)
    items: list[Stroke] = []
    hidden: list[Stroke] = []
    for prism in view.prisms:
        if prism.owner in there:
            items += _drawn(prism, scale, shift, prism.owner in heavy)
        if prism.owner in heavy:
            lines = [*_edges(prism.face, prism.smooth), *((line, True) for line in prism.cutouts)]
            hidden += [Stroke(_points(line, scale, shift), 0.18, (1.2, 0.8), closed=end) for line, end in lines]
    return items + hidden


def _on_paper(points: FloatArray) -> FloatArray:
    seen: FloatArray = points @ np.column_stack([RIGHT, UP])
    return seen


def _edges(ring: FloatArray, smooth: BoolArray) -> list[tuple[FloatArray, bool]]:
    """The drawn lines of an outline, and whether each is closed: all of it, or the runs between smooth edges."""
    if not smooth.any():
        return [(ring, True)]
    start = int(np.nonzero(smooth)[0][0]) + 1
    ring, kept = np.roll(ring, -start, axis=0), ~np.roll(smooth, -start)
    runs = np.split(np.arange(len(ring)), np.nonzero(np.diff(kept.astype(int)))[0] + 1)
    return [(ring[[*run, (run[-1] + 1) % len(ring)]], False) for run in runs if kept[run[0]]]


def _prism(owner: int, panel: Panel, frame: Pose, smooth: BoolArray | None) -> Prism:
    ring = _ring(_turning_left(panel.outline))
    normal = turned(frame, np.array([0.0, 0.0, 1.0]))
    near, far = (0.0, -panel.thickness) if normal @ TOWARDS >= 0.0 else (-panel.thickness, 0.0)
    step = np.roll(ring, -1, axis=0) - ring
    outward = turned(frame, np.column_stack([step[:, 1], -step[:, 0], np.zeros(len(step))]))
    heading = np.arctan2(step[:, 1], step[:, 0])
    turn = np.abs(np.angle(np.exp(1j * (heading - np.roll(heading, 1)))))
    return Prism(
        owner,
        _level(frame, ring, near),
        _level(frame, ring, far),
        tuple(_level(frame, _ring(cutout), near) for cutout in panel.cutouts),
        outward @ TOWARDS > 1e-9,
        turn > SHARP,
        np.zeros(len(ring), dtype=np.bool_) if smooth is None else smooth,
    )


def _ring(profile: Profile) -> FloatArray:
    size = float(np.ptp(profile.vertices, axis=0).max())
    return flattened(profile, max(FINE * size, 1e-3))


def _level(frame: Pose, ring: FloatArray, z: float) -> FloatArray:
    return _on_paper(to_outer(frame, np.column_stack([ring, np.full(len(ring), z)])))


def _points(points: FloatArray, scale: float, shift: FloatArray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points * scale + shift)


def _drawn(prism: Prism, scale: float, shift: FloatArray, heavy: bool) -> list[Stroke]:
    pen, grey = (HEAVY, 0.0) if heavy else (THIN, PALE)
    face, back = _points(prism.face, scale, shift), _points(prism.back, scale, shift)
    count = len(face)
    items: list[Stroke] = []
    for i in np.nonzero(prism.seen)[0].tolist():
        k = (i + 1) % count
        items.append(Stroke((face[i], face[k], back[k], back[i]), 0.0, closed=True, fill=1.0))
    if np.linalg.norm(prism.face[0] - prism.back[0]) * scale >= LEAST_THICKNESS:
        seen = prism.seen & ~prism.smooth
        items += [Stroke((back[i], back[(i + 1) % count]), pen, grey=grey) for i in np.nonzero(seen)[0].tolist()]
        beside = prism.sharp & (seen | np.roll(seen, 1))
        items += [Stroke((face[i], back[i]), pen, grey=grey) for i in np.nonzero(beside)[0].tolist()]
    items.append(Stroke(face, 0.0 if prism.smooth.any() else pen, closed=True, fill=1.0, grey=grey))
    if prism.smooth.any():
        lines = _edges(prism.face, prism.smooth)
        items += [Stroke(_points(line, scale, shift), pen, closed=end, grey=grey) for line, end in lines]
    items += [Stroke(_points(one, scale, shift), pen, closed=True, fill=0.93, grey=grey) for one in prism.cutouts]
    return items


def _back_to_front(placed: list[tuple[Panel, Pose]], low: FloatArray, high: FloatArray) -> list[int]:
    """An order in which no panel is drawn over one that stands in front of it; ties go by depth.

    Of two panels whose pictures overlap, one plane of a face of either parts them; the eye's side of it is in front.
    Rings of panels, each in front of the next, have no such order and are broken at the deepest.
    """
    corners = np.array([_box(panel, frame) for panel, frame in placed])
    normals = np.array([np.vstack([frame.rotation.T, -frame.rotation.T]) for _, frame in placed])
    offsets = np.einsum("akx,acx->akc", normals, corners).max(axis=2)
    reach = np.einsum("akx,bcx->akbc", normals, corners).min(axis=3)
    parted = reach >= offsets[:, :, None] - SLACK
    facing = normals @ TOWARDS
    front = np.any(parted & (facing > 1e-6)[:, :, None], axis=1)
    behind = np.any(parted & (facing < -1e-6)[:, :, None], axis=1)
    meet = np.all((low[:, None] < high[None]) & (low[None] < high[:, None]), axis=2)
    first = meet & ((front & ~behind) | (behind & ~front).T)
    first &= ~first.T
    depth = corners.mean(axis=1) @ TOWARDS
    return _sorted(first, depth)


def _sorted(first: BoolArray, depth: FloatArray) -> list[int]:
    left = np.ones(len(depth), dtype=np.bool_)
    waiting: IntArray = first.sum(axis=0)
    order: list[int] = []
    while left.any():
        free = left & (waiting == 0)
        pool = np.nonzero(free if free.any() else left)[0]
        k = int(pool[np.argmin(depth[pool])])
        order.append(k)
        left[k] = False
        waiting = waiting - first[k]
    return order


def _box(panel: Panel, frame: Pose) -> FloatArray:
    """The eight corners of the panel's box, mm."""
    ring = _ring(panel.outline)
    (x0, y0), (x1, y1) = ring.min(axis=0), ring.max(axis=0)
    own = np.array([[x, y, z] for x in (x0, x1) for y in (y0, y1) for z in (-panel.thickness, 0.0)])
    return to_outer(frame, own)
