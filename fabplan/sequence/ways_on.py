"""The way on for each piece as it comes: straight, off its seat and then straight, or turned and then straight."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from fabplan.geom.passing import Course, ahead, blocked, course, courses
from fabplan.geom.pose import compose
from fabplan.geom.prism import Solid
from fabplan.geom.turn import turned_about
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.pose import Pose
from fabplan.model.sequence import Step
from fabplan.sequence.bench import Bench
from fabplan.sequence.scene import Scene

SET = (
    "tried: straight along the axes of the body and of the piece, square to its faces, halfway between axes of the "
    "body; along an axis, 100 or 300 mm off its seat or turned on it by up to 45 degrees about an axis of the body"
)
ALIKE = 1.0 - 1e-6
AXES = 6  # of the ways that are tried, the axes of the body, up first
MANY = 80  # panels up to which a piece is tried off its seat and turned; rounds have hundreds
AT_ONCE = 24  # pairs of panels asked together
OFF = (100.0, 300.0)  # mm off its seat before it goes on
TURNS = (15, -15, 30, -30, 45, -45)  # degrees
ABOUT = ("along", "across", "upright")  # axes of the body about which a piece is turned, in words


@dataclass(frozen=True, slots=True, eq=False)
class WayOn:
    """How a piece, or several as one, comes on.

    Attributes:
        how: in words; "" for a straight way.
        shut: instances in the way of that of the straight ways in which fewest stand; none where there is a way.
    """

    how: str = ""
    shut: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """What moves and what stands: panels, of which those at `own` move, and the instance of each."""

    solids: list[Solid]
    own: IntArray
    others: IntArray
    owner: IntArray

    def moved(self, move: Pose) -> "_Place":
        """The same with what moves somewhere else."""
        solids = list(self.solids)
        for k in self.own.tolist():
            solids[k] = _put(solids[k], move)
        return _Place(solids, self.own, self.others, self.owner)

    def clear(self, seen: Course, far: float = np.inf) -> bool:
        """True where nothing stands in a way `far` mm long; pairs that lie over one another most are asked first."""
        pairs = ahead(seen, self.own, self.others, far)
        common = np.minimum(seen.high[pairs[:, 0], :2], seen.high[pairs[:, 1], :2])
        common -= np.maximum(seen.low[pairs[:, 0], :2], seen.low[pairs[:, 1], :2])
        pairs = pairs[np.argsort(-common.prod(axis=1), kind="stable")]
        asked = (pairs[low : low + AT_ONCE] for low in range(0, len(pairs), AT_ONCE))
        return not any(blocked(self.solids, seen, some, far, any_pair=True).any() for some in asked)

    def free(self, seen: Sequence[Course]) -> bool:
        """True where it goes off along one of some ways."""
        return any(self.clear(one) for one in sorted(seen, key=lambda one: len(ahead(one, self.own, self.others))))

    def shut(self, seen: Sequence[Course]) -> tuple[int, ...]:
        """The instances in that of some ways in which fewest stand."""
        found: list[tuple[int, ...]] = []
        for one in seen:
            pairs = ahead(one, self.own, self.others)
            met = np.unique(self.owner[pairs[blocked(self.solids, one, pairs), 1]])
            found.append(tuple(met.tolist()))
        return min(found, key=lambda own: (len(own), own))


def way_on(scene: Scene, moving: Sequence[int], standing: BoolArray) -> WayOn:
    """The way on of some instances as one while others (m,) stand: the ways back are tried, as if it were taken off."""
    panels = scene.site.panels
    comes = np.isin(panels.owner, list(moving))
    stands = standing[panels.owner] & ~comes
    if not stands.any() or not comes.any():
        return WayOn()
    both = np.nonzero(comes | stands)[0]
    solids = [panels.solids[k] for k in both.tolist()]
    place = _Place(solids, np.nonzero(comes[both])[0], np.nonzero(stands[both])[0], panels.owner[both])
    ways = courses(solids, _ways(place))
    if place.free(ways):
        return WayOn()
    simple = len(place.own) <= MANY
    how = _off_first(place, ways) or _turned_first(place, ways[:AXES]) if simple else ""
    return WayOn(how) if how else WayOn("", place.shut(ways[:AXES]))


def _ways(place: _Place) -> list[FloatArray]:
    """Directions in which it is drawn off: up first, then the others of the set."""
    axes = [np.array(one, dtype=np.float64) for one in product((0, 1, -1), repeat=3) if any(one)]
    axes.sort(key=lambda one: (np.abs(one).sum(), -one[2]))
    turned = max((place.solids[k] for k in place.own.tolist()), key=lambda one: one.volume).frame.rotation.T
    found: list[FloatArray] = []
    for way in (*axes, *turned, *-turned):
        unit = np.round(way / np.linalg.norm(way), 9)
        if not any(float(unit @ one) > ALIKE for one in found):
            found.append(unit)
    return found


def _off_first(place: _Place, ways: Sequence[Course]) -> str:
    """In words a way off its seat, from where there is a straight one; "" for none."""
    axes = [one.way for one in ways[:AXES]]
    for far, seen in product(OFF, ways):
        if place.clear(seen, far):
            off = place.moved(Pose(origin=far * seen.way))
            if off.free(courses(off.solids, axes)):
                return f"comes to {far:g} mm off its seat first, then straight onto it"
    return ""


def _put(solid: Solid, move: Pose) -> Solid:
    """A panel after a move in the frame of the body."""
    return Solid(compose(move, solid.frame), solid.face, solid.thickness)


def _turned_first(place: _Place, ways: Sequence[Course]) -> str:
    """In words a turn on its seat, from which there is a straight way; "" for none. The turn itself is not followed."""
    own, axes = [place.solids[k] for k in place.own.tolist()], [one.way for one in ways]
    centre = np.average([one.middle for one in own], axis=0, weights=[one.volume for one in own])
    for angle, axis in product(TURNS, (2, 1, 0)):
        turned = place.moved(turned_about(np.eye(3)[axis], float(np.radians(angle)), centre))
        if turned.clear(course(turned.solids, axes[0]), 0.0) and turned.free(courses(turned.solids, axes)):
            return f"comes on turned by {abs(angle)} degrees about the {ABOUT[axis]} axis, straightened on its seat"
    return ""


SOONER = 3  # steps before one that are asked whether a piece still had its way on
Known = dict[tuple[tuple[int, ...], bytes], WayOn]
"""Ways on that were found, by what moves and what stands."""


def with_ways(
    scene: Scene, steps: Sequence[Step], bench: Bench, known: Known
) -> tuple[tuple[Step, ...], tuple[Finding, ...]]:
    """The steps with a check for each piece that does not come on straight, and a query for each that has no way on.

    Pieces are held against what stands when they come on in the dry fit, and again, sub-assemblies as one, when they
    come on after it. What is `known` is not looked for again.
    """
    told: list[Step] = []
    found: list[Finding] = []
    earlier: list[tuple[int, ...]] = []
    for step in steps:
        standing = np.zeros(len(scene.body.instances), dtype=np.bool_)
        standing[[i for i in step.present if i not in step.parts]] = True
        lines: list[str] = []
        for moving in _entries(step, bench):
            asked = moving, standing.tobytes()
            if asked not in known:
                known[asked] = way_on(scene, moving, standing)
            way = known[asked]
            standing[list(moving)] = True
            if way.how:
                lines.append(f"{scene.few(moving)}: {way.how}")
            elif way.shut:
                open_yet = _sooner(scene, moving, standing, earlier)
                found.append(_no_way(scene, step, moving, (way.shut, open_yet)))
        earlier.append(step.parts)
        told.append(replace(step, checks=(*step.checks, *lines)) if lines else step)
    return tuple(told), tuple(found)


def _entries(step: Step, bench: Bench) -> Iterator[tuple[int, ...]]:
    """What comes on in a step and is held against what stands, in order: pieces, or sub-assemblies as one."""
    if step.kind not in ("erect", "close") or not step.parts:
        return
    again = step.kind == "close" or set(step.parts) == set(step.present)
    yield from bench.groups(step.parts) if again else ((i,) for i in step.parts)


def _sooner(
    scene: Scene, moving: Sequence[int], standing: BoolArray, earlier: Sequence[tuple[int, ...]]
) -> tuple[int, ...]:
    """The pieces of the latest step before which it had a way on; none where that is not among the last few."""
    for parts in [own for own in earlier[:0:-1] if own][:SOONER]:  # the first sets down the datum
        left = standing.copy()
        left[[i for i in parts if i not in moving]] = False
        if left.sum() < standing.sum() and left.any() and not way_on(scene, moving, left).shut:
            return tuple(i for i in parts if standing[i] and i not in moving)
    return ()


def _no_way(scene: Scene, step: Step, moving: Sequence[int], by: tuple[Sequence[int], Sequence[int]]) -> Finding:
    """The query for what has no way on; a stop where the stated order shuts a way that it had."""
    shut, sooner = by
    comes, way = scene.few(moving), scene.few(sooner or shut)
    there = (
        f"while {way} {'is' if len(sooner) == 1 else 'are'} off it comes on"
        if sooner
        else (f"in the straight ones stand {way}")
    )
    what = f"step {step.number}: {comes} has no way on of those tried; {there}"
    mend = f"Put it on before {way}, tilt or spring it in, or leave them loose till it is in: try it in the dry fit."
    check = "order-broken" if sooner and scene.job.order and step.kind == "close" else "no-way-on"
    return Finding(check, CHECKS[check].level, what, Where(part=scene.mark(moving[0])), source=SET, mend=mend)
