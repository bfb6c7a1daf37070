"""What a maker takes for granted where holes and metal leave it open, as counts of what goes against it.

In turn: that hands stand as mirror images and pieces alike lie alike; that what is laid on a piece lies outside it;
that faces of bars run on in one plane, and openings stand on one axis. All are common practice, none a rule: bodies
that go against them are left out only where there are too many to tell (`fabplan.kit.find`), and that is said.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fabplan.geom.pose import compose, to_outer, turned
from fabplan.geom.prism import thick
from fabplan.kit.clauses import Body, Clauses
from fabplan.kit.hands import OFF, Plane, between
from fabplan.kit.stances import Stances, holes_of, members
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.part import Part
from fabplan.model.pose import Pose

LEVEL = 1.0 - 1e-3
"""Cosine of 2.6 degrees: planes are square, pieces lie alike, up to that."""

SHARE = 0.3
"""Of the faces of a bar that look one way: what a leg has, and no facet of a rolled one."""

Habit = Callable[[Body], list[int]]
"""From a body the literals of what goes against a habit."""

PLANES = 2
"""Planes in which a body is looked at: across it, and from end to end."""


@dataclass(frozen=True, slots=True, eq=False)
class Feature:
    """A face of a bar, or the axis of an opening, in some frame.

    Attributes:
        way: (3,) square to the face, or along the axis.
        at: (3,) mm, on it.
        size: mm, diameter of the opening; 0 for a face.
    """

    way: FloatArray
    at: FloatArray
    size: float

    def seen(self, pose: Pose) -> "Feature":
        """The same in a frame around, told alike whichever piece has it: by where it comes nearest to the origin."""
        way, at = turned(pose, self.way), to_outer(pose, self.at)
        along = (at @ way) * way
        return Feature(way, at - along if self.size else along, self.size)

    def near(self, other: "Feature") -> bool:
        """Whether two features of one frame, both told by where they come nearest to the origin, are one."""
        alike = abs(self.size - other.size) <= OFF and abs(float(self.way @ other.way)) >= LEVEL
        return alike and float(np.abs(self.at - other.at).max()) <= OFF


class Habits:
    """Counts of what goes against them, of places in use."""

    def __init__(self, stances: Stances, clauses: Clauses, bodies: Sequence[Body]) -> None:
        """Take the places that are in use now, and bodies that tell in which planes pieces are images."""
        self._stances, self._clauses = stances, clauses
        self._planes = planes_of(stances, bodies)
        self._used = sorted(clauses.in_use)
        self._class = [min(kind, hand.kind) if hand else kind for kind, hand in enumerate(stances.hands)]

    def all(self, *, outside: bool) -> tuple[Habit, ...]:
        """The habits in turn; each is told the best body by those before it. `outside`: whether that can be told."""
        return (self.alike, self.outside, self.in_line) if outside else (self.alike, self.in_line)

    def alike(self, _: Body) -> list[int]:
        """Literals: pieces of a kind stand without their images in a plane, or lie unlike each other."""
        alone = [self._alone(plane) for plane in self._planes]
        unlike = self._unlike(alone[1] if len(alone) > 1 else {})
        return [literal for own in (*alone, unlike) for literal in own.values()]

    def _alone(self, plane: Plane) -> dict[int, int]:
        """By class: that one of its pieces stands without its image."""
        found: defaultdict[int, int] = defaultdict(self._clauses.logic.new)
        for place in self._used:
            kind = self._stances.kind(place)
            hand = self._stances.hands[kind]
            if hand:
                there = self._there(hand.kind, plane.image(self._stances.pose(place), hand))
                self._add([found[self._class[kind]], -self._clauses.literal(place), *there])
        return found

    def _there(self, kind: int, pose: Pose) -> list[int]:
        """The literals of places in use where a piece stands so, as near as images are."""
        poses = [compose(pose, turn) for turn in self._stances.kinds[kind].turns]
        turned, moved = np.array([one.rotation for one in poses]), np.array([one.origin for one in poses])
        own = ((place, self._stances.pose(place)) for place in self._used if self._stances.kind(place) == kind)
        return [
            self._clauses.literal(place)
            for place, other in own
            if (_same(turned, other.rotation) & (np.abs(moved - other.origin).max(axis=1) <= OFF)).any()
        ]

    def _unlike(self, alone: dict[int, int]) -> dict[int, int]:
        """By class: that its pieces lie unlike, where they are no images in a second plane either."""
        found: defaultdict[int, int] = defaultdict(self._clauses.logic.new)
        ways: defaultdict[int, list[tuple[FloatArray, int]]] = defaultdict(list)
        for place in self._used:
            own = self._class[self._stances.kind(place)]
            lies = self._turns(place)
            known = [literal for way, literal in ways[own] if _same(lies, way).any()]
            if not known:
                known = [self._clauses.logic.new()]
                when = [-alone[own]] if own in alone else []
                for _, other in ways[own]:
                    self._add([found[own], *when, -known[0], -other])
                ways[own].append((lies[0], known[0]))
            self._add([-self._clauses.literal(place), known[0]])
        return found

    def _turns(self, place: int) -> FloatArray:
        """(n, 3, 3) how the piece in a place lies, as one of its class; its image in a plane lies alike."""
        kind, pose = self._stances.kind(place), self._stances.pose(place)
        hand, own = self._stances.hands[kind], self._class[kind]
        poses = [pose] if kind == own else []
        if hand and hand.kind == own:
            poses += [plane.image(pose, hand) for plane in self._planes[:1]]
        turns = self._stances.kinds[own].turns
        return np.array([one.rotation @ turn.rotation for one in poses or [pose] for turn in turns])

    def outside(self, body: Body) -> list[int]:
        """Literals: a piece lies on the inner side of one that is nearer to the datum."""
        depth, middle = self._depths(body), self._middle(body)
        stances, used = self._stances, holes_of(self._used)
        found: dict[int, int] = {}
        for place in self._used:
            for other in members(stances.around([place]) & used).tolist():
                if depth[stances.kind(place)] > depth[stances.kind(other)] and self._within(place, other, middle):
                    here = found.setdefault(place, self._clauses.logic.new())
                    self._add([-self._clauses.literal(place), -self._clauses.literal(other), here])
        return list(found.values())

    def _depths(self, body: Body) -> dict[int, int]:
        """By kind how many pieces lie between it and the datum."""
        depth, wave = {body[0]: 0}, [body[0]]
        for one in wave:
            near = [two for two in body if two not in depth and self._stances.met(one, two)]
            depth |= dict.fromkeys(near, depth[one] + 1)
            wave += near
        found: dict[int, int] = {}
        for place, own in depth.items():
            kind = self._stances.kind(place)
            found[kind] = min(own, found.get(kind, own))
        return defaultdict(lambda: len(body), found)

    def _middle(self, body: Body) -> FloatArray:
        stances = self._stances
        boxes = [to_outer(stances.pose(p), stances.kinds[stances.kind(p)].shape.boxes.reshape(-1, 3)) for p in body]
        ends = np.vstack([[box.min(axis=0), box.max(axis=0)] for box in boxes])
        return np.asarray((ends.min(axis=0) + ends.max(axis=0)) / 2.0)

    def _within(self, place: int, other: int, middle: FloatArray) -> bool:
        """Whether a piece lies on the inner side of another where their holes meet."""
        one, two = (self._holes(a, self._stances.met(a, b)) for a, b in ((place, other), (other, place)))
        if not len(one[0]) or not len(two[0]):
            return False
        at, out = one  # round a bend each hole has its own way out
        outwards = (np.sign(((at - middle) * out).sum(axis=1))[:, None] * out).mean(axis=0)
        return bool((at.mean(axis=0) - two[0].mean(axis=0)) @ outwards < 0.0)

    def _holes(self, place: int, some: int) -> tuple[FloatArray, FloatArray]:
        """Middles and ways of some holes of the piece in a place."""
        shape, pose = self._stances.kinds[self._stances.kind(place)].shape, self._stances.pose(place)
        index = members(some)
        return to_outer(pose, shape.faces[index].mean(axis=1)), turned(pose, shape.out[index])

    def in_line(self, _: Body) -> list[int]:
        """Literals: one each for the planes in which faces of bars lie, and for the axes of openings."""
        own = [_features(kind.shape.part) for kind in self._stances.kinds]
        known: list[tuple[Feature, int]] = []
        for place in self._used:
            for one in own[self._stances.kind(place)]:
                feature = one.seen(self._stances.pose(place))
                literal = next((literal for other, literal in known if feature.near(other)), 0)
                if not literal:
                    literal = self._clauses.logic.new()
                    known.append((feature, literal))
                self._add([-self._clauses.literal(place), literal])
        return [literal for _, literal in known]

    def _add(self, clause: list[int]) -> None:
        self._clauses.logic.add(clause)


def planes_of(stances: Stances, bodies: Sequence[Body]) -> list[Plane]:
    """The planes in which most holes of bodies are images of others, the best first, those after it square to it."""
    known: list[Plane] = []
    votes: list[int] = []
    for one, two in (pair for body in bodies for pair in combinations(body, 2)):
        for plane in _between(stances, one, two):
            number = next((k for k, other in enumerate(known) if _coincide(plane, other)), len(known))
            if number == len(known):
                known.append(plane)
                votes.append(0)
            votes[number] += len(stances.kinds[stances.kind(one)].shape)
    found: list[Plane] = []
    for number in sorted(range(len(known)), key=lambda k: -votes[k]):
        plane = known[number]
        if len(found) < PLANES and all(abs(float(plane.normal @ other.normal)) < 1.0 - LEVEL for other in found):
            found.append(plane)
    return found


def _between(stances: Stances, one: int, two: int) -> Iterator[Plane]:
    """The planes in which two pieces are images of one another, whichever way round a piece alike both ways lies."""
    hand = stances.hands[stances.kind(one)]
    if hand and hand.kind == stances.kind(two):
        for turn in stances.kinds[hand.kind].turns:
            plane = between(stances.pose(one), compose(stances.pose(two), turn), hand)
            if plane:
                yield plane


def _coincide(one: Plane, two: Plane) -> bool:
    along = float(one.normal @ two.normal)
    return abs(along) >= LEVEL and abs(one.at - np.sign(along) * two.at) <= OFF


def _same(some: FloatArray, turn: FloatArray) -> BoolArray:
    """(n,) which of some turns (n, 3, 3) are one and the same with another (3, 3)."""
    return np.asarray(np.einsum("nij,ij->nj", some, turn).min(axis=1) >= LEVEL)


def _features(part: Part) -> list[Feature]:
    """The faces of a bar's legs and the axes of a piece's openings, in its own frame."""
    found = []
    if part.section is not None:
        solids = [thick(panel) for panel in part.panels]
        ways = [(solid.frame.rotation[:, 2], solid.frame.origin, solid.face.area) for solid in solids]
        whole = sum(area for *_, area in ways)
        planes = [(Feature(way, at, 0.0), area) for way, at, area in ways]
        for face, _ in planes:
            level = [other.seen(Pose()).near(face.seen(Pose())) for other, _ in planes]
            if sum(area for (_, area), own in zip(planes, level, strict=True) if own) >= SHARE * whole:
                found.append(face)
    holes = part.holes.holes
    for k, purpose in enumerate(holes.purpose):
        if purpose == "open":
            frame = part.panels[part.holes.panel[k]].frame
            at = to_outer(frame, np.array([*holes.xy[k], 0.0]))
            found.append(Feature(frame.rotation[:, 2], at, float(holes.diameter[k])))
    return found
