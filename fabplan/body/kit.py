"""The kit as the search reads it: pieces, links, and where the inside of the body lies."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fabplan.body.rows import Link
from fabplan.geom.pose import to_outer, turned
from fabplan.geom.prism import Solid, thick
from fabplan.geom.tolerance import CAPTURE
from fabplan.model.arrays import FloatArray
from fabplan.model.part import Part
from fabplan.model.pose import Pose

EDGEWAYS = 0.05
"""Cosine of 87 degrees: a plate seen from the middle of the body more edgeways than that looks neither way."""

Signature = tuple[tuple[object, ...], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Kit:
    """What the search reads.

    Attributes:
        parts: part of each instance.
        every: the links of all seams.
        links: by instance, indices into `every` of the links that touch it.
        solids: of each instance, in the frame of its part.
        rows: holes of each row of each instance by name, in the frame of its part (see `part_rows`).
        holes: of each instance and panel, (n, 2) the holes to be riveted, in the panel's frame; none on rounds.
        middle: (3,) a point inside the body, seen from the datum, body frame, mm.
        up: (3,) unit vector off the datum into the body; of a formed datum off all its metal in the mean.
        level: mm along `up`, height of the middle of the datum's plate.
        flat: instances of plates that lap onto the datum, directly or through one another: they lie along it. None
            where the datum is formed.
        stated: instances whose place the job states.
        by_holes: True where holes alone tell how pieces lie, not metal in metal nor holes against metal.
    """

    parts: tuple[Part, ...]
    every: tuple[Link, ...]
    links: Mapping[int, tuple[int, ...]]
    solids: tuple[tuple[Solid, ...], ...]
    rows: tuple[Mapping[str, FloatArray], ...]
    holes: tuple[tuple[FloatArray, ...], ...]
    middle: FloatArray
    up: FloatArray
    level: float
    flat: frozenset[int]
    stated: frozenset[int]
    by_holes: bool = False


def kit_of(
    parts: tuple[Part, ...], every: tuple[Link, ...], datum: int, start: Mapping[int, Pose], *, by_holes: bool = False
) -> Kit:
    """The kit, seen from its datum.

    Args:
        parts: part of each instance.
        every: the links of all seams.
        datum: instance of the datum.
        start: poses of the datum and of the pieces whose place is stated.
        by_holes: see `Kit`.
    """
    pose = start[datum]
    made = {id(part): tuple(thick(panel) for panel in part.panels) for part in parts}
    solids = tuple(made[id(part)] for part in parts)
    rows = {id(part): part_rows(part) for part in parts}
    holes = {id(part): part_holes(part) for part in parts}
    up = turned(pose, _facing(parts[datum], solids[datum])) * (-1.0 if parts[datum].spec.marked == "outside" else 1.0)
    touched: dict[int, list[int]] = {}
    for number, link in enumerate(every):
        touched.setdefault(link.a, []).append(number)
        touched.setdefault(link.b, []).append(number)
    middle = centre(solids[datum], pose)
    return Kit(
        parts=parts,
        every=every,
        links={i: tuple(numbers) for i, numbers in touched.items()},
        solids=solids,
        rows=tuple(rows[id(part)] for part in parts),
        holes=tuple(holes[id(part)] for part in parts),
        middle=middle + _rise(solids[datum]) * up,
        up=up,
        level=float(middle @ up),
        flat=_lapped(datum, parts, every),
        stated=frozenset(start) - {datum},
        by_holes=by_holes,
    )


def _facing(part: Part, solids: tuple[Solid, ...]) -> FloatArray:
    """Where the marked face of a piece looks, in its frame, unit vector (3,): in the mean of what is formed."""
    normals = np.array([panel.frame.rotation[:, 2] for panel in part.panels]).reshape(-1, 3)
    mean: FloatArray = np.array([one.volume for one in solids]) @ normals
    size = float(np.linalg.norm(mean))
    if _plane(part) or not size > EDGEWAYS * sum(one.volume for one in solids):
        return np.array([0.0, 0.0, 1.0])
    return mean / size


def _plane(part: Part) -> bool:
    """True for a plate that is not formed."""
    return part.section is None and len(part.panels) <= 1


def _rise(solids: tuple[Solid, ...]) -> float:
    """How far over the datum a point is taken to lie inside the body before the body is known, mm."""
    if not solids:
        return 0.0
    sizes = np.sort(np.ptp(np.vstack([one.corners for one in solids]), axis=0))
    return 0.1 * float(sizes[1])


def _lapped(datum: int, parts: tuple[Part, ...], every: tuple[Link, ...]) -> frozenset[int]:
    """The datum and the plates that lap onto it, directly or through other plates."""
    if not _plane(parts[datum]):
        return frozenset() if parts[datum].panels and parts[datum].section is None else frozenset({datum})
    plates = [(link.a, link.b) for link in every if _plane(parts[link.a]) and _plane(parts[link.b])]
    flat, new = {datum}, {datum}
    while new:
        new = {i for pair in plates for i in pair if flat.intersection(pair)} - flat
        flat |= new
    return frozenset(flat)


def centre(solids: tuple[Solid, ...], pose: Pose) -> FloatArray:
    """Middle of the metal of one piece, body frame, mm."""
    if not solids:
        return pose.origin
    weights = np.array([one.volume for one in solids])
    middles = np.array([one.middle for one in solids])
    middle: FloatArray = to_outer(pose, weights @ middles / weights.sum())
    return middle


def inwards(kit: Kit, link: Link, pose_a: Pose) -> FloatArray:
    """The direction (3,) from a seam into the body."""
    if link.a in kit.flat or link.b in kit.flat:
        return kit.up
    points = link.row_a.points
    inside: FloatArray = kit.middle - to_outer(pose_a, points[len(points) // 2])
    return inside


def looks_inwards(kit: Kit, instance: int, pose: Pose) -> float:
    """How far the marked face looks towards the inside: cosine, above 0 for inside; 0 where nothing tells.

    A plate that laps onto the datum looks inside when it looks the way the datum's inside lies, since the middle may be
    far beside it. Any other looks inside when it looks towards the middle.
    """
    if not kit.solids[instance]:
        return 0.0
    part, solids = kit.parts[instance], kit.solids[instance]
    if instance in kit.flat:
        return float(turned(pose, part.panels[0].frame.rotation[:, 2]) @ kit.up)
    if part.section is not None:
        normals, middles = part.panels[0].frame.rotation[:, 2], centre(solids, pose)[None]
    else:  # of a formed plate every panel by itself: a rolled one looks many ways
        normals = np.array([panel.frame.rotation[:, 2] for panel in part.panels])
        middles = to_outer(pose, np.array([one.middle for one in solids]))
    away = kit.middle - middles
    size = np.maximum(np.linalg.norm(away, axis=1), 1e-9)
    cosines = np.sum(turned(pose, normals) * away, axis=1) / size
    weights = np.array([one.volume for one in solids]) if len(cosines) > 1 else np.ones(1)
    cosine = float(weights @ cosines / weights.sum())
    return cosine if abs(cosine) > EDGEWAYS else 0.0


def looks(kit: Kit, instance: int, pose: Pose) -> str:
    """Where the marked face of a placed piece looks: inside, outside or ""."""
    cosine = looks_inwards(kit, instance, pose)
    return "inside" if cosine > 0.0 else "outside" if cosine < 0.0 else ""


def height(kit: Kit, places: Mapping[int, Pose]) -> float:
    """How far the centre of all metal lies off the middle of the datum's plate, towards the inside, mm."""
    weights = np.array([kit.parts[i].mass for i in places])
    heights = np.array([centre(kit.solids[i], pose) @ kit.up for i, pose in places.items()]) - kit.level
    known = np.isfinite(weights) & (weights > 0.0)
    return float(weights[known] @ heights[known] / weights[known].sum()) if known.any() else 0.0


def upside_down(kit: Kit, places: Mapping[int, Pose]) -> bool:
    """True for a body that clearly stands on the wrong side of its datum; one of flat plates lies on either side."""
    return height(kit, places) < float(kit.level - kit.middle @ kit.up)


def signature(kit: Kit, instance: int, pose: Pose) -> Signature:
    """The same for two poses that put the same metal and the same rows of holes in the same place, to 0.1 mm.

    Metal is told by the middle, spread and skew of its corners, so that a disc turned about itself counts as itself.
    """
    metal = sorted(_moments(to_outer(pose, one.corners)) for one in kit.solids[instance])
    rows = [(row, *_moments(to_outer(pose, points))) for row, points in kit.rows[instance].items()]
    return tuple(metal), tuple(rows)


def part_rows(part: Part) -> dict[str, FloatArray]:
    """Holes (n, 3) of each row at half the depth of their panel, in the frame of the part, by name."""
    holes, rows = part.holes.holes, dict[str, FloatArray]()
    if not part.panels:
        return rows
    for name in sorted(set(holes.row)):
        own = [i for i, row in enumerate(holes.row) if row == name]
        points = []
        for i in own:
            panel = part.panels[part.holes.panel[i]]
            points.append(to_outer(panel.frame, np.array([*holes.xy[i], -panel.thickness / 2.0])))
        rows[name] = np.array(points)
    return rows


def part_holes(part: Part) -> tuple[FloatArray, ...]:
    """Holes (n, 2) of each panel that take a rivet or a bolt, in its own frame; of a facet of a round none."""
    closed = np.array([purpose != "open" for purpose in part.holes.holes.purpose], dtype=np.bool_)
    return tuple(
        part.holes.holes.xy[closed & (part.holes.panel == number) & (panel.kind == "flat")]
        for number, panel in enumerate(part.panels)
    )


def _moments(points: FloatArray) -> tuple[float, ...]:
    """Middle, spread and skew of points (n, 3), rounded to 0.1 mm."""
    middle = points.mean(axis=0)
    off = points - middle
    spread = off.T @ off / len(points)
    skew = np.einsum("nij,nk->ijk", off[:, :, None] * off[:, None, :], off) / len(points)
    size = np.sqrt(np.trace(spread)) + 1.0
    flat = np.concatenate([middle, spread.ravel() / size, skew.ravel() / size**2])
    return tuple(np.round(flat + 0.0123, 1).tolist())  # shifted, so that drawn round figures do not sit on an edge


def same_place(kit: Kit, instance: int, one: Pose, other: Pose) -> bool:
    """True where two poses put the same metal and holes in the same place, or nearly.

    Two rows of a piece, each a little out, give it two poses that are one place: holes still capture one another.
    """
    corners = np.vstack([metal.corners for metal in kit.solids[instance]] or [np.zeros((1, 3))])
    apart = np.linalg.norm(to_outer(one, corners) - to_outer(other, corners), axis=1)
    return bool(apart.max() <= CAPTURE / 2.0) or signature(kit, instance, one) == signature(kit, instance, other)
