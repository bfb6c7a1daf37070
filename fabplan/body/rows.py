"""Rows of holes as points on the faces of pieces, and the links that seams make between them."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from itertools import pairwise, product

import numpy as np

from fabplan.geom.match import Lie, lay_middles, lay_over
from fabplan.geom.pose import best_fit, compose, inverse, to_outer, turned
from fabplan.geom.taper import thickness_at
from fabplan.geom.tolerance import CAPTURE, FIGURE
from fabplan.model.arrays import FloatArray, IntArray, floats, ints
from fabplan.model.clearance import row_allowed
from fabplan.model.job import Job
from fabplan.model.joints import PlySpec
from fabplan.model.panel import PartHoles
from fabplan.model.part import Instance, Part
from fabplan.model.pose import Pose

FIT = 1.0
"""Holes of a seam closer than this across the axis, mm, lie together: well over any clearance, well under a pitch."""

LEAST_SHARE = 0.5
"""A lie of one row over another that brings fewer holes together than this share is no lie at all."""

OFF_FACE = 100.0
"""Distance of the second point that stands for a face, mm: a row alone leaves the turn about itself free."""

SAME_WAY = 1.0 - 1e-4
"""Cosine of 0.8 degrees: normals further apart than that lie on a bend."""

SPARE = 1
"""Lies with so many holes fewer together than the best stay in play: a hole out of place may favour a wrong one."""


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """One row of holes of one instance, in the frame of its part.

    Attributes:
        points: (n, 3) mm, on the marked face.
        normals: (n, 3) outward from the marked face at each hole.
        thickness: of the panel, mm.
        holes: (n,) indices into the part's holes.
        panel: index of the panel of the first hole.
        plane: (3, 2) two directions in the face, at the first hole.
        backs: which faces may lie on another piece, False for the marked one: a half-round has a flat face only.
    """

    points: FloatArray
    normals: FloatArray
    thickness: float
    holes: IntArray
    panel: int
    plane: FloatArray
    backs: tuple[bool, ...] = (False, True)

    @property
    def normal(self) -> FloatArray:
        """(3,) outward from the marked face, at the first hole."""
        first: FloatArray = self.normals[0]
        return first

    @property
    def round(self) -> bool:
        """True for a row that goes round a bend: its holes look different ways."""
        return bool((self.normals @ self.normals[0]).min() < SAME_WAY)

    def face(self, back: bool) -> tuple[FloatArray, FloatArray]:
        """Points (n, 3) on one face, and the outward normals (n, 3)."""
        if back:
            return self.points - self.thickness * self.normals, -self.normals
        return self.points, self.normals


@dataclass(frozen=True, slots=True, eq=False)
class Link:
    """Two plies of a seam that lie on one another, the head side first.

    Attributes:
        seam: index into the job's seams.
        a, b: instance indices.
        row_a, row_b: their rows.
        head: "inside", "outside" or "": where the made heads are.
        lies: poses of b in the frame of a that bring the rows together, face on face.
        allowed: how far their holes may be out, mm (see `fabplan.model.clearance.row_allowed`).
        reach: how near across the axis, mm, holes count as together.
        spare: True where the ply with more holes is the pattern of a location, which may have some to spare.
    """

    seam: int
    a: int
    b: int
    row_a: Row
    row_b: Row
    head: str
    lies: tuple[Pose, ...]
    allowed: float = 0.0
    reach: float = FIT
    spare: bool = False

    @property
    def wanted(self) -> int:
        """How many holes of either row are to meet."""
        both = len(self.row_a.points), len(self.row_b.points)
        return min(both) if self.spare else max(both)

    @property
    def uneven(self) -> bool:
        """True where one row has holes that the other should have and has not."""
        return len(self.row_a.points) != len(self.row_b.points) and not self.spare


def hung(link: Link, instance: int, placed: Pose, lie: Pose) -> Pose:
    """The pose that one lie of a link gives to `instance` when the other piece stands as `placed`."""
    return compose(placed, lie if instance == link.b else inverse(lie))


def row_of(part: Part, name: str) -> Row | None:
    """The row of that name, or None where the part has no such holes or no known form."""
    return row_at(part, [i for i, row in enumerate(part.holes.holes.row) if row == name])


def row_at(part: Part, own: Sequence[int]) -> Row | None:
    """Some holes of a part as a row; None for none, or where it has no known form."""
    index = np.array(own, dtype=np.int64)
    if len(index) == 0 or not part.panels:
        return None
    panels = part.holes.panel[index]
    flat = np.column_stack([part.holes.holes.xy[index], np.zeros(len(index))])
    frames = [part.panels[panel].frame for panel in panels.tolist()]
    normals = np.array([turned(frame, np.array([0.0, 0.0, 1.0])) for frame in frames])
    return Row(
        points=floats(np.array([to_outer(frame, place) for frame, place in zip(frames, flat, strict=True)])),
        normals=floats(normals),
        thickness=part.panels[int(panels[0])].thickness,
        holes=ints(index),
        panel=int(panels[0]),
        plane=floats(_basis(normals[0])[:, :2]),
        backs=(False,) if part.section is not None and part.section.kind == "half-round" else (False, True),
    )


def out_of_line(holes: PartHoles, hole: int) -> float:
    """How far a hole strays from the common pitch and line of its own row, mm; 0 in a row too short to tell.

    A hole beside one odd space still keeps the pitch to its other neighbour; the bow of a round row counts for nothing.
    """
    own = [i for i, row in enumerate(holes.holes.row) if row == holes.holes.row[hole]]
    k = own.index(hole)
    xy = holes.holes.xy[own]
    if len(own) < 5 or not holes.holes.row[hole]:
        return 0.0
    step = np.linalg.norm(np.diff(xy, axis=0), axis=1)
    pitch = np.abs(step[max(k - 1, 0) : k + 1] - np.median(step)).min()
    chord = xy[2:] - xy[:-2]
    bow = (chord[:, 0] * (xy[1:-1] - xy[:-2])[:, 1] - chord[:, 1] * (xy[1:-1] - xy[:-2])[:, 0]) / np.maximum(
        np.linalg.norm(chord, axis=1), 1e-9
    )
    across = abs(bow[min(max(k - 1, 0), len(bow) - 1)] - np.median(bow))
    return float(np.hypot(pitch, across))


Laid = Callable[[FloatArray, FloatArray], list[Lie]]
"""How one pattern of holes is laid over another in the plane (see `geom.match`)."""


def lay_near(moving: FloatArray, fixed: FloatArray, reach: float) -> list[Lie]:
    """The ways that bring at least half the holes together within `reach` mm."""
    return lay_over(moving, fixed, reach, LEAST_SHARE)


def links(job: Job, parts: Sequence[Part], instances: Sequence[Instance]) -> tuple[Link, ...]:
    """The links of all seams, in the order of the job.

    Plies without a known row make none, nor do thinned ones beside two others: what lies over them is sprung, and joins
    the next.
    """
    index = {instance.mark: i for i, instance in enumerate(instances)}
    found: list[Link] = []
    for number, seam in enumerate(job.seams):
        plies = [(index[ply.instance], parts[instances[index[ply.instance]].part], ply) for ply in seam.plies]
        two = len(plies) == 2
        rows = [(piece, part, ply) for piece, part, ply in plies if two or not _thinned(part, ply.row)]
        for (a, part_a, ply_a), (b, part_b, ply_b) in pairwise(rows):
            row_a, row_b = (
                row_at(part, ply.among(part.holes.holes.row)) for part, ply in ((part_a, ply_a), (part_b, ply_b))
            )
            if row_a is not None and row_b is not None:
                allowed = row_allowed(job, seam, [_drawn(part_a, ply_a, row_a), _drawn(part_b, ply_b, row_b)])
                ends = (len(row_a.points), ply_a), (len(row_b.points), ply_b)
                fuller = max(ends, key=lambda end: end[0])[1]
                spare = any((one.instance, one.row) == (fuller.instance, fuller.row) for one in job.locations)
                rows_lie = lies(row_a, row_b)
                found.append(Link(number, a, b, row_a, row_b, seam.head, rows_lie, allowed, spare=spare))
    return tuple(found)


def _drawn(part: Part, ply: PlySpec, row: Row) -> tuple[PlySpec, list[float]]:
    """A listed ply with the drawn diameters of its row, mm."""
    return ply, part.holes.holes.diameter[row.holes].tolist()


def widened(every: tuple[Link, ...]) -> tuple[Link, ...] | None:
    """The links with holes together that opening in place brings fair; None where it takes away no more than `FIT`."""
    if not any(link.allowed > FIT for link in every):
        return None
    return tuple(_wide(link) if link.allowed > FIT else link for link in every)


def _wide(link: Link) -> Link:
    reach = min(link.allowed, CAPTURE)
    return replace(link, reach=reach, lies=lies(link.row_a, link.row_b, reach))


def _thinned(part: Part, name: str) -> bool:
    """True for a row with holes in a thinned place of its plate."""
    if not part.spec.tapers or not part.panels:
        return False
    own = [i for i, row in enumerate(part.holes.holes.row) if row == name]
    return bool((thickness_at(part.panels[0], part.holes.holes.xy[own]) < part.panels[0].thickness - FIGURE).any())


def lies(row_a: Row, row_b: Row, reach: float = FIT) -> tuple[Pose, ...]:
    """Poses of b in the frame of a, each face of one on each face of the other, that bring most holes together."""
    if row_a.round or row_b.round:
        poses = list(_round_lies(row_a, row_b, reach))
    else:
        poses = list(_flat_lies(row_a, row_b, partial(lay_near, reach=reach)))
    most = max((together for together, _ in poses), default=0)
    return tuple(pose for together, pose in poses if together >= most - SPARE)


def rough_lies(row_a: Row, row_b: Row) -> tuple[Pose, ...]:
    """Poses of b in the frame of a for straight rows whose holes do not meet: middle on middle, face on face.

    They put a piece where its seam wants it, so that counts, pitches and lengths that differ can be told.
    """
    if row_a.round or row_b.round or min(len(row_a.points), len(row_b.points)) < 2:
        return ()
    return tuple(pose for _, pose in _flat_lies(row_a, row_b, lay_middles))


def _flat_lies(row_a: Row, row_b: Row, laid: Laid) -> Iterator[tuple[int, Pose]]:
    """Rows in a plane: one laid over the other in it."""
    for back_a, back_b in product(row_a.backs, row_b.backs):
        (points_a, out_a), (points_b, out_b) = row_a.face(back_a), row_b.face(back_b)
        basis_a, basis_b = _basis(out_a[0]), _basis(-out_b[0])  # b seen from behind, as it looks through a
        flat_a, flat_b = (points_a @ basis_a)[:, :2], (points_b @ basis_b)[:, :2]
        for turn, shift, together in laid(flat_b, flat_a):
            plane = np.eye(3)
            plane[:2, :2] = turn
            height = float(points_a[0] @ out_a[0]) + float(points_b[0] @ out_b[0])
            yield together, Pose(basis_a @ plane @ basis_b.T, basis_a @ np.array([*shift, height]))


def _round_lies(row_a: Row, row_b: Row, reach: float) -> Iterator[tuple[int, Pose]]:
    """Rows round a bend: hole on hole in order, forwards and back; where counts differ, shifted along as well."""
    one, other = len(row_a.points), len(row_b.points)
    fewer = min(one, other)
    for back_a, back_b in product(row_a.backs, row_b.backs):
        (points_a, out_a), (points_b, out_b) = row_a.face(back_a), row_b.face(back_b)
        for start, way in product(range(abs(one - other) + 1), (1, -1)):
            mine = np.arange(fewer) + (start if one > other else 0)
            theirs = (np.arange(fewer) + (start if other > one else 0))[::way]
            to = np.vstack([points_a[mine], points_a[mine] + OFF_FACE * out_a[mine]])
            own = np.vstack([points_b[theirs], points_b[theirs] - OFF_FACE * out_b[theirs]])
            pose = best_fit(own, to)
            together = int(np.sum(np.linalg.norm(to_outer(pose, own[:fewer]) - to[:fewer], axis=1) <= reach))
            if together >= max(LEAST_SHARE * max(one, other), 2):
                yield together, pose


def _basis(normal: FloatArray) -> FloatArray:
    """A right-handed frame (3, 3) whose third column is `normal`."""
    helper = np.eye(3)[int(np.abs(normal).argmin())]
    first = np.cross(helper, normal)
    first /= np.linalg.norm(first)
    return np.column_stack([first, np.cross(normal, first), normal])
