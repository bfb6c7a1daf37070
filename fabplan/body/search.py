"""The search for bodies: which face, which direction, which side, for every piece, so that all loops close.

    domain      what is still possible for a piece that hangs on placed ones: poses with their faults so far
    faults      how many seams a choice leaves open (see `fit.faults`)
    budget      the faults that the whole body may have; 0 first, more only when no body closes

The piece with the fewest choices goes next, so that a contradiction shows early.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from fabplan.body.fit import faults
from fabplan.body.rows import Link
from fabplan.geom.pose import compose, inverse, to_outer, turned
from fabplan.geom.prism import Solid, clash
from fabplan.model.arrays import FloatArray
from fabplan.model.part import Part
from fabplan.model.pose import Pose

BUDGETS = (0, 1, 2, 3, 4, 6, 8, 10**6)
NODES = 4000  # steps of one search; a body of 60 pieces with clear seams takes about 60
BODIES = 3  # bodies wanted: more than one is a finding, and three show the pattern
CLASH_FAULT = 3
FACE_FAULT = 2
ALONG = 0.996  # cosine of 5 degrees: a plate within that of the datum lies along it

Places = Mapping[int, Pose]
Choice = tuple[int, Pose]  # faults so far, pose


@dataclass(frozen=True, slots=True)
class Kit:
    """What the search reads.

    Attributes:
        parts: part of each instance.
        links: by instance, the links that touch it.
        solids: of each instance, in the frame of its part.
        middle: (3,) a point inside the body, seen from the datum, body frame.
        above: +1 where the body stands on the datum's z > 0 side, else -1.
    """

    parts: tuple[Part, ...]
    links: Mapping[int, tuple[Link, ...]]
    solids: tuple[tuple[Solid, ...], ...]
    middle: FloatArray
    above: int


def bodies(kit: Kit, start: Places) -> tuple[list[dict[int, Pose]], int]:
    """Up to `BODIES` different bodies with the fewest faults, best first, and how many faults they have.

    Pieces that no link reaches from `start` are left out.
    """
    tired = False
    for budget in BUDGETS:
        if tired and budget < BUDGETS[-1]:
            continue  # a search that gave up within a small budget would give up within a larger one
        search = _Search(kit, budget)
        found = search.run(start)
        if found:
            least = min(spent for spent, _ in found)
            return [places for spent, places in found if spent == least], least
        tired = search.nodes > NODES
    return [dict(start)], 0


class _Search:
    """One depth-first search within a budget; holds only its counters."""

    def __init__(self, kit: Kit, budget: int) -> None:
        self.kit, self.budget, self.nodes = kit, budget, 0
        self.greedy = budget >= BUDGETS[-1]

    def run(self, start: Places) -> list[tuple[int, dict[int, Pose]]]:
        found: list[tuple[int, dict[int, Pose]]] = []
        domains: dict[int, tuple[Choice, ...]] = {}
        for instance in start:
            domains = self._after(dict(start), domains, instance)
        for spent, places in self._complete(dict(start), domains, 0):
            if not _stands(self.kit, places) and not self.greedy:
                continue
            found.append((spent, places))
            self.budget = min(self.budget, spent)
            if len(found) >= (1 if self.greedy else BODIES):
                break
        return found

    def _complete(
        self, places: dict[int, Pose], domains: dict[int, tuple[Choice, ...]], spent: int
    ) -> Iterator[tuple[int, dict[int, Pose]]]:
        self.nodes += 1
        if not domains:
            yield spent, places
            return
        if self.nodes > NODES and not self.greedy:
            return
        instance = min(domains, key=lambda i: (len(domains[i]), -len(self._placed_links(places, i)), i))
        rest = {i: choices for i, choices in domains.items() if i != instance}
        for cost, pose in domains[instance]:
            if spent + cost > self.budget:
                continue
            grown = {**places, instance: pose}
            following = self._after(grown, rest, instance)
            open_end = any(all(spent + cost + c > self.budget for c, _ in choices) for choices in following.values())
            if not open_end:
                yield from self._complete(grown, following, spent + cost)

    def _placed_links(self, places: Places, instance: int) -> list[Link]:
        return [link for link in self.kit.links.get(instance, ()) if _other(link, instance) in places]

    def _after(
        self, places: Places, domains: Mapping[int, tuple[Choice, ...]], newest: int
    ) -> dict[int, tuple[Choice, ...]]:
        """The domains once `newest` stands: new neighbours join, choices that foul it grow dearer."""
        following = dict(domains)
        joined: dict[int, list[Link]] = {}
        for link in self.kit.links.get(newest, ()):
            if _other(link, newest) not in places:
                joined.setdefault(_other(link, newest), []).append(link)
        alone = {newest: places[newest]}
        for instance, choices in domains.items():
            dearer = [(c + self._cost(alone, instance, pose, joined.get(instance, []), c), pose) for c, pose in choices]
            following[instance] = tuple(choice for choice in dearer if choice[0] <= self.budget)
        for instance, new in joined.items():
            if instance not in domains or self.budget > 0:
                following[instance] = self._hang(places, instance, new, following.get(instance, ()))
        return {i: following[i] for i in sorted(following)}

    def _hang(self, places: Places, instance: int, new: list[Link], known: tuple[Choice, ...]) -> tuple[Choice, ...]:
        """The choices of a piece that `new` links tie to the newest, beside those already known."""
        links = self._placed_links(places, instance)
        different = {_signature(self.kit, instance, pose): (cost, pose) for cost, pose in known}
        for pose in (_hung(link, instance, places, lie) for link in new for lie in link.lies):
            cost = _face_fault(self.kit, instance, pose)
            cost += self._cost(places, instance, pose, links, cost)
            if cost <= self.budget:
                sign = _signature(self.kit, instance, pose)
                different[sign] = min(different.get(sign, (cost, pose)), (cost, pose), key=self._rank(instance))
        return tuple(sorted(different.values(), key=self._rank(instance)))

    def _cost(self, places: Places, instance: int, pose: Pose, links: list[Link], spent: int) -> int:
        """Faults that `links` and clashes with `places` add; stops counting once the budget is gone."""
        cost = 0
        for link in links:
            a, b = (pose, places[link.b]) if link.a == instance else (places[link.a], pose)
            cost += faults(link, a, b, self.kit.middle)
            if spent + cost > self.budget:
                return cost
        return cost + self._fouls(instance, pose, places)

    def _fouls(self, instance: int, pose: Pose, places: Places) -> int:
        own = self.kit.solids[instance]
        for other, place in places.items():
            if any(clash(one, pose, two, place) for one in own for two in self.kit.solids[other]):
                return CLASH_FAULT
        return 0

    def _rank(self, instance: int) -> Callable[[Choice], tuple[object, ...]]:
        """Fewest faults first, then the datum's side, then the marked face inside; a fixed order among equals."""

        def rank(choice: Choice) -> tuple[object, ...]:
            cost, pose = choice
            centre = _centre(self.kit, instance, pose)
            height = float(centre[2]) * self.kit.above
            looks = _looks(self.kit, instance, pose)
            return cost, height < -1.0, looks < 0.0, tuple(np.round(pose.rotation.ravel(), 6).tolist())

        return rank


def _other(link: Link, instance: int) -> int:
    return link.b if link.a == instance else link.a


def _hung(link: Link, instance: int, places: Places, lie: Pose) -> Pose:
    return compose(places[link.a], lie) if instance == link.b else compose(places[link.b], inverse(lie))


def _centre(kit: Kit, instance: int, pose: Pose) -> FloatArray:
    """Middle of the metal of one instance, body frame, mm."""
    solids = kit.solids[instance]
    if not solids:
        return pose.origin
    weights = np.array([solid.volume for solid in solids])
    middles = np.array([solid.middle for solid in solids])
    centre: FloatArray = to_outer(pose, weights @ middles / weights.sum())
    return centre


def _looks(kit: Kit, instance: int, pose: Pose) -> float:
    """How far the marked face looks towards the inside: cosine, above 0 for inside; 0 where nothing tells.

    A plate that lies along the datum looks inside when it looks the way the datum's inside lies: of a lapped plate the
    middle may be far beside the datum. Any other looks inside when it looks towards the middle.
    """
    if not kit.solids[instance]:
        return 0.0
    away = kit.middle - _centre(kit, instance, pose)
    size = float(np.linalg.norm(away))
    normal = turned(pose, turned(kit.parts[instance].panels[0].frame, np.array([0.0, 0.0, 1.0])))
    if abs(normal[2]) > ALONG and float(away[2]) * kit.above > 0.0:
        return float(normal[2]) * kit.above
    cosine = float(normal @ away) / size if size > 0.0 else 0.0
    return cosine if abs(cosine) > 0.05 else 0.0  # 3 degrees: a plate through the middle looks neither way


def looks(kit: Kit, instance: int, pose: Pose) -> str:
    """Where the marked face of a placed piece looks: inside, outside or ""."""
    cosine = _looks(kit, instance, pose)
    return "inside" if cosine > 0.0 else "outside" if cosine < 0.0 else ""


def _face_fault(kit: Kit, instance: int, pose: Pose) -> int:
    stated, found = kit.parts[instance].spec.marked, looks(kit, instance, pose)
    return FACE_FAULT if stated and found and stated != found else 0


def _stands(kit: Kit, places: Places) -> bool:
    """True where the centre of all metal lies on the datum's own side, or in the datum's plane."""
    weights = np.array([kit.parts[i].mass for i in places])
    heights = np.array([_centre(kit, i, pose)[2] for i, pose in places.items()])
    known = np.isfinite(weights)
    return bool(kit.above * float(weights[known] @ heights[known]) >= -1e-6 * float(weights[known].sum() or 1.0)) or (
        len(places) < 2
    )


def _signature(kit: Kit, instance: int, pose: Pose) -> tuple[object, ...]:
    """The same for two poses that put the same metal and the same rows of holes in the same place, to 0.1 mm.

    Metal is told by the middle, spread and skew of its corners, so that a disc turned about itself counts as itself.
    """
    part = kit.parts[instance]
    metal = [_moments(to_outer(pose, solid.corners)) for solid in kit.solids[instance]]
    holes = part.holes.holes
    rows: dict[str, list[FloatArray]] = {}
    for panel, row, (x, y) in zip(part.holes.panel.tolist(), holes.row, holes.xy, strict=True):
        half = -part.panels[panel].thickness / 2.0
        rows.setdefault(row, []).append(to_outer(part.panels[panel].frame, np.array([x, y, half])))
    places = [(row, *_moments(to_outer(pose, np.array(points)))) for row, points in sorted(rows.items())]
    return tuple(sorted(metal)), tuple(places)


def _moments(points: FloatArray) -> tuple[float, ...]:
    """Middle, spread and skew of points (n, 3), rounded to 0.1 mm."""
    middle = points.mean(axis=0)
    off = points - middle
    spread = np.einsum("ni,nj->ij", off, off) / len(points)
    skew = np.einsum("ni,nj,nk->ijk", off, off, off) / len(points)
    size = np.sqrt(np.trace(spread)) + 1.0
    flat = np.concatenate([middle, spread.ravel() / size, skew.ravel() / size**2])
    return tuple(np.round(flat + 0.0123, 1).tolist())  # shifted, so that drawn round figures do not sit on an edge


def same_place(kit: Kit, instance: int, one: Pose, other: Pose) -> bool:
    """True where two poses put the same metal and holes in the same place."""
    return _signature(kit, instance, one) == _signature(kit, instance, other)
