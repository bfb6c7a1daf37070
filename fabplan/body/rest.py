"""The body without the pieces of one mark, and how such a piece, as drawn or changed, would stand in it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from fabplan.body.costs import Costs
from fabplan.body.fit import faults, fit, touching
from fabplan.body.joint import across
from fabplan.body.kit import inwards
from fabplan.body.rows import Link, Row, hung, lies, row_at
from fabplan.body.search import bodies_without
from fabplan.body.settle import settled
from fabplan.geom.pose import to_outer, to_own, turned
from fabplan.geom.prism import clash, solid
from fabplan.geom.round import circle_through
from fabplan.geom.tolerance import CAPTURE, FIGURE, TOUCH
from fabplan.model.arrays import FloatArray
from fabplan.model.joints import PlySpec
from fabplan.model.part import Part
from fabplan.model.pose import Pose


@dataclass(frozen=True, slots=True, eq=False)
class Rest:
    """A body that closes without the pieces of one mark.

    Attributes:
        costs: what the search knows of the kit.
        own: the instances of the mark that it leaves out.
        poses: of all others that are placed.
        holds: of each instance left out, its links to placed pieces.
    """

    costs: Costs
    own: tuple[int, ...]
    poses: Mapping[int, Pose]
    holds: Mapping[int, tuple[Link, ...]]


@dataclass(frozen=True, slots=True, eq=False)
class Stand:
    """One pose of a piece in the rest of the body.

    Attributes:
        pose: the pose.
        links: its links there, with the rows that it has.
        closed: for each link, whether it closes within what its rivets allow.
    """

    pose: Pose
    links: tuple[Link, ...]
    closed: tuple[bool, ...]

    @property
    def met(self) -> int:
        """Holes of the links that close."""
        return sum(len(link.row_a.points) for link, closed in zip(self.links, self.closed, strict=True) if closed)


def rests_without(costs: Costs, start: Mapping[int, Pose], body: Mapping[int, Pose], mark: str) -> list[Rest]:
    """The body without a mark; none where it does not close, or where no two seams nor a round one hold a piece of it.

    As it stands now, or, where the mark has led others astray, in the ways in which a new search puts it.

    Args:
        costs: what is known of the kit.
        start: stated places and the datum.
        body: the placed pieces as they stand.
        mark: the mark to leave out.
    """
    kit = costs.kit
    own = tuple(i for i, part in enumerate(kit.parts) if part.spec.mark == mark)
    begin = {i: pose for i, pose in start.items() if i not in own} or _neighbour(costs, own, body)
    others = tuple(link for link in kit.every if link.a not in own and link.b not in own)
    held = _held(frozenset(begin), others)
    placed = {**begin, **{i: pose for i, pose in body.items() if i in held}}
    bodies = [settled(placed, begin, others, doubt=False)]
    if not _closed(costs, bodies[0], others):
        found = bodies_without(costs, begin, frozenset(own))
        bodies = [settled(one, begin, others, doubt=False) for one in found]
    return [rest for poses in bodies for rest in _telling(costs, own, poses)]


def _held(begin: frozenset[int], links: tuple[Link, ...]) -> frozenset[int]:
    """The pieces that hang together with those of `begin`: what hung on the mark alone stands where that put it."""
    held, newest = begin, begin
    while newest:
        newest = frozenset(i for link in links if newest & {link.a, link.b} for i in (link.a, link.b)) - held
        held |= newest
    return held


def _telling(costs: Costs, own: tuple[int, ...], poses: Mapping[int, Pose]) -> Iterator[Rest]:
    """A body without a mark, where it tells how the mark should be."""
    kit = costs.kit
    holds = {i: tuple(link for link in kit.every if i in (link.a, link.b) and _other(link, i) in poses) for i in own}
    telling = any(len(links) > 1 or any(_round(link) for link in links) for links in holds.values())
    if telling:
        yield Rest(costs, own, poses, holds)


def _round(link: Link) -> bool:
    return link.row_a.round or link.row_b.round


def _closed(costs: Costs, poses: Mapping[int, Pose], links: tuple[Link, ...]) -> bool:
    """True where all links between placed pieces close."""
    placed = [link for link in links if link.a in poses and link.b in poses]
    return all(faults(one, poses[one.a], poses[one.b], inwards(costs.kit, one, poses[one.a])) == 0 for one in placed)


def _neighbour(costs: Costs, own: tuple[int, ...], body: Mapping[int, Pose]) -> dict[int, Pose]:
    """Where the datum itself is left out: the piece with the most links of those that hang on it, as it stands."""
    links = costs.kit.links
    ends = {_other(costs.kit.every[number], i) for i in own for number in links.get(i, ())} - set(own)
    if not ends:
        return {}
    most = max(sorted(ends), key=lambda i: (i in body, len(links.get(i, ()))))
    return {most: body.get(most, Pose())}


def _other(link: Link, instance: int) -> int:
    return link.b if link.a == instance else link.a


def stands(rest: Rest, instance: int, part: Part, allowed: Mapping[int, float]) -> list[Stand]:
    """The ways in which a piece can stand in the rest of the body, those that close most seams first.

    Args:
        rest: the rest of the body.
        instance: the piece.
        part: its form, as drawn or changed.
        allowed: how far holes may lie apart, mm, by seam.
    """
    links = tuple(one for one in (_relinked(rest, link, instance, part) for link in rest.holds[instance]) if one)
    every = (hung(link, instance, rest.poses[_other(link, instance)], lie) for link in links for lie in link.lies)
    poses = {(*np.round(pose.rotation.ravel(), 4), *np.round(pose.origin, 1)): pose for pose in every}
    found = [
        Stand(pose, links, tuple(closes(rest, link, instance, pose, allowed) for link in links))
        for pose in poses.values()
    ]
    return sorted(found, key=lambda one: (-sum(one.closed), _astray(rest, part, instance, one.pose)))


def _relinked(rest: Rest, link: Link, instance: int, part: Part) -> Link | None:
    """A link with the row that the piece has now; None where it has no such row."""
    drawn = rest.costs.kit.parts[instance]
    if part is drawn:
        return link
    old = link.row_a if link.a == instance else link.row_b
    name = drawn.holes.holes.row[int(old.holes[0])]
    own = [k for k, row in enumerate(drawn.holes.holes.row) if row == name]
    some = () if len(own) == len(old.holes) else tuple(own.index(hole) + 1 for hole in old.holes.tolist())
    row = row_at(part, PlySpec("", name, numbers=some).among(part.holes.holes.row))
    if row is None:
        return None
    a, b = (row, link.row_b) if link.a == instance else (link.row_a, row)
    same = np.array_equal(row.points, old.points) and row.thickness == old.thickness
    return replace(link, row_a=a, row_b=b, lies=link.lies if same else lies(a, b, link.reach))


def _astray(rest: Rest, part: Part, instance: int, pose: Pose) -> bool:
    """True where the marked face looks away from the side that the job states."""
    stated = part.spec.marked
    if not stated or not part.panels:
        return False
    kit = rest.costs.kit
    middle = turned(pose, turned(part.panels[0].frame, np.array([0.0, 0.0, 1.0])))
    inside = float(middle @ (kit.middle - pose.origin)) > 0.0
    return inside != (stated == "inside")


def closes(rest: Rest, link: Link, instance: int, pose: Pose, allowed: Mapping[int, float]) -> bool:
    """True where every hole of a link has its mate within what the rivet allows, on faces that touch."""
    other = rest.poses[_other(link, instance)]
    pose_a, pose_b = (pose, other) if link.a == instance else (other, pose)
    found = fit(link, pose_a, pose_b, CAPTURE)
    if link.uneven or len(found.mate_a) < found.count:
        return False
    points_a, points_b = touching(link, found, pose_a, pose_b)
    off = across(points_b[found.mate_b] - points_a[found.mate_a], found.towards)
    return abs(found.gap) <= TOUCH + FIGURE and bool(
        np.linalg.norm(off, axis=1).max() <= allowed.get(link.seam, 0.0) + FIGURE
    )


def fouls(rest: Rest, instance: int, part: Part, pose: Pose, depth: float) -> bool:
    """True where a piece in a pose runs into a placed one by more than `depth` mm."""
    own = [solid(panel) for panel in part.panels]
    kit = rest.costs.kit
    return any(
        clash(one, pose, other, place, depth)
        for i, place in rest.poses.items()
        for other in kit.solids[i]
        for one in own
    )


def faces(rest: Rest, instance: int, stand: Stand) -> frozenset[bool]:
    """Which faces of a piece lie on others: False for the marked one, True for the back."""
    found = set()
    for link in stand.links:
        other = rest.poses[_other(link, instance)]
        near = fit(link, *((stand.pose, other) if link.a == instance else (other, stand.pose)))
        found.add(near.back_a if link.a == instance else near.back_b)
    return frozenset(found)


def rows_at(rest: Rest, stand: Stand, instance: int, number: int) -> tuple[Row, FloatArray]:
    """The row of one link of a piece, and the holes (m, 3) that it should meet, both in the frame of the part, mm."""
    link = stand.links[number]
    mine, theirs = (link.row_a, link.row_b) if link.a == instance else (link.row_b, link.row_a)
    other = rest.poses[_other(link, instance)]
    return mine, to_own(stand.pose, to_outer(other, theirs.points))


def in_order(row: Row, places: FloatArray) -> FloatArray:
    """Places (n, 3) along a row in the order of its holes."""
    way = np.linalg.svd(row.points - row.points.mean(axis=0), full_matrices=False)[2][0]
    ordered = np.empty_like(places)
    ordered[np.argsort(row.points @ way, kind="stable")] = places[np.argsort(places @ way, kind="stable")]
    return ordered


def radii_off(rest: Rest, instance: int) -> list[float]:
    """How much larger the radius of a piece's round rows might have to be to lie on their mates, mm.

    Outside them or inside, nearest first; nothing where none is round.
    """
    for link in rest.holds[instance]:
        mine, theirs = (link.row_a, link.row_b) if link.a == instance else (link.row_b, link.row_a)
        if mine.round and theirs.round:
            own, other = ([radius_of(row.face(back)[0]) for back in (False, True)] for row in (mine, theirs))
            return sorted([max(other) - min(own), min(other) - max(own)], key=abs)
    return []


def radius_of(points: FloatArray) -> float:
    """Radius, mm, of the circle that lies nearest to points (n, 3) of a plane, least squares (Kasa, 1976)."""
    middle = points.mean(axis=0)
    _, _, axes = np.linalg.svd(points - middle, full_matrices=False)
    return circle_through((points - middle) @ axes[:2].T)[1]
