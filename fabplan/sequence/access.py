"""Whether each rivet can be put in, driven and held up while given pieces stand: tool clear, a hand or a man at it."""

from dataclasses import dataclass, field

import numpy as np

from fabplan.geom.arms import Arms, arms_reach, held, men_fill, men_reach
from fabplan.geom.flood import MAN as MAN_ROOM
from fabplan.geom.flood import (
    Numbers,
    Opening,
    Rooms,
    Sizes,
    Space,
    gates_of,
    inside_hull,
    openings,
    over_floor,
    rooms_left,
    space,
)
from fabplan.geom.hull import depth, hull_planes, outside
from fabplan.geom.prism import LEVEL
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.driven import driven
from fabplan.model.job import Job
from fabplan.sequence.floor import Floor
from fabplan.sequence.reach import DRIVE, ENTER, HOLD, USES, Panels, Ways

NONE, OUTSIDE, ARM, MAN = 0, 1, 2, 3
"""Indices into `fabplan.model.sequence.ACCESS`."""

HAND_LENGTH = 200.0
"""mm of the end of an arm that need no more room than a hand: wrist to finger tips (common practice)."""

ENTRY = 300.0
"""mm inside the hull: openings that lie deeper, in baffles and the like, lead from room to room, not into the body."""

SEEN = 0.05
"""Share of the room inside to which an opening must lead on the shortest way to be named as one that men go in by."""


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """What the questions of access are asked of: all panels, all ways, the room round them.

    `openings` are the cut-outs of all panels. `nutted` (n,) are the fasteners that a nut holds: nobody drives them, and
    they are taken as reached; `screwed` (n,) are tap rivets, which want a tool at their head alone: on the made heads'
    side, or on `either` (n,) where it is still open on which. `answers` and `entries` keep what was answered: the same
    states are asked for again and again.
    """

    panels: Panels
    ways: Ways
    space: Space
    openings: tuple[Opening, ...]
    reach: float
    nutted: BoolArray
    screwed: BoolArray
    either: BoolArray
    answers: dict[tuple[bytes, int, int], "Access"] = field(default_factory=dict)
    entries: dict[bytes, tuple[int, ...]] = field(default_factory=dict)


def site(job: Job, body: Body, stacks: Stacks, panels: Panels, ways: Ways) -> Site:
    """The site of a body, with the sizes of hand, arm and man that the shop states."""
    screws = np.array([rivet.kind == "tap rivet" for rivet in job.rivets] + [False], dtype=np.bool_)
    screwed = screws[stacks.rivet]
    nutted = (stacks.rivet >= 0) & ~screwed & ~driven(job, body, stacks)
    shop = job.shop
    sizes = Sizes(shop.hand_opening, shop.arm_opening, shop.man_opening)
    room = space(panels.solids, panels.owner, len(body.instances), sizes)
    gates, either = openings(room, panels.solids), np.zeros_like(screwed)
    return Site(panels, ways, room, gates, shop.reach_length, nutted, screwed, either)


@dataclass(frozen=True, slots=True, eq=False)
class Access:
    """The outcome for one state of the body, for n rivets.

    Attributes:
        kind: (n, 2, 3) by side and use: `NONE`, `OUTSIDE`, `ARM` or `MAN`.
        way: (n, 2, 3) the way taken, -1 for none.
        gate: (n, 2, 3) the opening that an arm goes through, -1 for none: as `gates_of` numbers them.
    """

    kind: IntArray
    way: IntArray
    gate: IntArray

    def driven_from(self, side: int) -> BoolArray:
        """(n,) True where a rivet can be driven from this side, and put in and held up from the other."""
        met = self.kind > NONE
        whole: BoolArray = met[:, side, DRIVE] & met[:, 1 - side, HOLD] & met[:, 1 - side, ENTER]
        return whole

    @property
    def reached(self) -> BoolArray:
        """(n,) True where a rivet can be driven from either side."""
        return self.driven_from(0) | self.driven_from(1)


NOBODY, BY_OPENINGS, ANYWHERE = 0, 1, 2
"""Where men go: nobody inside; in through the openings; wherever there is room, as if each space had a way in."""


def access(site: Site, rivets: int, present: BoolArray, men: int = BY_OPENINGS, floor: Floor | None = None) -> Access:
    """Access to all rivets while the instances `present` (m,) stand, over a floor or in free space."""
    asked = (present.tobytes() + _key(floor), rivets, men)
    if asked not in site.answers:
        site.answers[asked] = _access(site, rivets, _scene(site, present, floor), men)
    return site.answers[asked]


def _key(floor: Floor | None) -> bytes:
    return b"" if floor is None else np.append(floor.down, floor.level).tobytes()


@dataclass(frozen=True, slots=True, eq=False)
class _Scene:
    """One state of the body.

    Attributes:
        rooms: that it leaves.
        free: (w,) ways whose room nothing stands in.
        near: (w,) ways whose ends are reached from outside, without an arm put in.
        inside: the cells of the inner grid in its hull, and below it where nobody has room there.
        gates: the openings.
        corner: a cell outside, where a man has room.
    """

    rooms: Rooms
    free: BoolArray
    near: BoolArray
    inside: BoolArray
    gates: Numbers
    corner: tuple[int, int, int] = (0, 0, 0)


def _scene(site: Site, present: BoolArray, floor: Floor | None = None) -> _Scene:
    room, stands, ways = site.space, present[site.panels.owner], site.ways
    corners = np.vstack([one.corners for one, there in zip(site.panels.solids, stands, strict=True) if there])
    planes = hull_planes(corners)
    gates = gates_of(room, site.openings, site.panels.owner, present)
    cells = np.flatnonzero(gates >= 0)
    gates.ravel()[cells[depth(planes, room.inner.middles(cells)) > ENTRY]] = -1
    free, rooms, near = ways.blocked.free(present), rooms_left(room, present), outside(planes, ways.end)
    if floor is None:
        return _Scene(rooms, free, near, inside_hull(room.inner, planes), gates)
    free &= floor.deep <= floor.level + FIGURE
    rooms = over_floor(room, rooms, floor.down, floor.level)
    if not floor.room >= room.sizes.man + room.play:
        near, planes = _beside(site, floor, corners, near)
    x, y, z = (0 if down > 0.0 else -1 for down in floor.down.tolist())
    return _Scene(rooms, free, near, inside_hull(room.inner, planes), gates, (x, y, z))


def _beside(site: Site, floor: Floor, corners: FloatArray, near: BoolArray) -> tuple[BoolArray, FloatArray]:
    """Which ways (w,) a man beside the work reaches where he has no room under it, and the hull with that room."""
    below = corners + np.outer(floor.level - corners @ floor.down, floor.down)
    planes = hull_planes(np.vstack([corners, below]))
    sides = planes[planes[:, :3] @ floor.down < LEVEL]
    arm = floor.room >= site.space.sizes.arm
    deep = depth(sides, site.ways.end)
    reached: BoolArray = near & (deep <= (site.reach if arm else 0.0))
    return reached, planes


def _access(site: Site, rivets: int, scene: _Scene, men: int) -> Access:
    ways, free = site.ways, scene.free
    kind = np.full(len(ways.rivet), NONE)
    gate = np.full(len(ways.rivet), -1)
    kind[free & scene.near] = OUTSIDE
    left = np.nonzero(free & (kind == NONE))[0]
    if len(left) and scene.rooms.size:
        gate[left], reached = _by_arm(site, scene, ~scene.inside, left)
        kind[left[reached]] = np.where(gate[left[reached]] >= 0, ARM, OUTSIDE)
    left = _unsettled(ways, free, kind)
    if len(left) and scene.rooms.size and men != NOBODY:
        _, reached = _by_arm(site, scene, _men(site, scene, men), left)
        kind[left[reached]] = MAN
    best = best_ways(ways, kind, gate, rivets)
    best.kind[site.nutted] = OUTSIDE
    heads = np.where(site.either, best.kind[:, :, DRIVE].max(axis=1), best.kind[:, 0, DRIVE])
    best.kind[site.screwed] = heads[site.screwed, None, None]
    return best


def _men(site: Site, scene: _Scene, men: int) -> BoolArray:
    """(i, j, k) of the inner grid: where the bodies of men inside the hull have room."""
    reached = men_reach(scene.rooms, anywhere=men == ANYWHERE, corner=scene.corner)
    middles = reached[site.space.core] & scene.inside
    return men_fill(middles, site.space.grid.edge, site.space.sizes.man) & scene.inside


def _by_arm(site: Site, scene: _Scene, start: BoolArray, left: IntArray) -> tuple[IntArray, BoolArray]:
    """(k,) the gates by which arms from `start` reach the ends of ways, and whether they do."""
    grid, hand = site.space.inner, site.space.sizes.hand
    arms = arms_reach(scene.rooms[site.space.core], start, scene.gates, grid.edge, (site.reach, HAND_LENGTH))
    cell = held(grid, arms.length, site.ways.end[left], hand, site.reach)
    return np.where(cell >= 0, arms.gate.ravel()[cell], -1).astype(np.int64), cell >= 0


def _unsettled(ways: Ways, free: BoolArray, kind: IntArray) -> IntArray:
    """Free ways of those rivets, sides and uses that nobody reaches yet."""
    group = (ways.rivet * 2 + ways.side) * len(USES) + ways.use
    settled = np.zeros(int(group.max(initial=0)) + 1, dtype=np.bool_)
    settled[group[kind > NONE]] = True
    return np.nonzero(free & ~settled[group])[0]


def best_ways(ways: Ways, kind: IntArray, gate: IntArray, rivets: int) -> Access:
    """The best way of each rivet, side and use: best from outside, then by an arm, then by a man; the first tool."""
    taken = np.nonzero(kind > NONE)[0]
    taken = taken[np.lexsort((-ways.tool[taken], np.array([0, 3, 2, 1])[kind[taken]]))]
    place = (ways.rivet[taken], ways.side[taken], ways.use[taken])
    best = Access(*(np.full((rivets, 2, len(USES)), value) for value in (NONE, -1, -1)))
    for table, values in ((best.kind, kind[taken]), (best.way, taken), (best.gate, gate[taken])):
        table[place] = values  # the last written is the best
    _squeezed(ways, kind, gate, best)
    return best


def _squeezed(ways: Ways, kind: IntArray, gate: IntArray, best: Access) -> None:
    """A tool that squeezes is taken for both sides or for none: where one side has it, so has the other."""
    squeezes = np.array([tool.use == "squeeze" for tool in ways.tools], dtype=np.bool_)[ways.tool]
    drive, hold = (np.nonzero(squeezes & (ways.use == use))[0] for use in (DRIVE, HOLD))
    both = np.maximum(kind[drive], kind[hold])
    rivet = ways.rivet[drive]
    taken = np.isin(best.way[rivet, 1, DRIVE], drive) | np.isin(best.way[rivet, 0, HOLD], hold)
    own = np.nonzero((both > NONE) & taken)[0]
    for side, use, way in ((1, DRIVE, drive), (0, HOLD, hold)):
        place = (rivet[own], side, use)
        best.kind[place], best.way[place], best.gate[place] = both[own], way[own], gate[way[own]]


def ways_in(site: Site, present: BoolArray, floor: Floor | None = None) -> tuple[int, ...]:
    """The openings by which men get inside while `present` (m,) stand, -1 for an open side: that to most room first."""
    asked = present.tobytes() + _key(floor)
    if asked not in site.entries:
        site.entries[asked] = _ways_in(site, _scene(site, present, floor))
    return site.entries[asked]


def _ways_in(site: Site, scene: _Scene) -> tuple[int, ...]:
    core = site.space.core
    if not scene.rooms.size:
        return ()
    middles = men_reach(scene.rooms, corner=scene.corner)[core]
    open_to_men = np.where(middles, np.uint8(MAN_ROOM), np.uint8(0))
    start, far = ~scene.inside & middles, float("inf")
    arms: Arms = arms_reach(open_to_men, start, scene.gates, site.space.grid.edge, (far, far))
    gates, cells = np.unique(arms.gate[middles & scene.inside], return_counts=True)
    order = np.argsort(-cells, kind="stable")
    return tuple(gates[order][cells[order] >= SEEN * cells.sum()].tolist())
