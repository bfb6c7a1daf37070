"""Whether each rivet can be put in, driven and held up while given pieces stand: tool clear, a hand or a man at it."""

from dataclasses import dataclass, field

import numpy as np

from fabplan.geom.flood import Space, man_places, space
from fabplan.geom.hull import outside
from fabplan.geom.nearest import nearest_places
from fabplan.geom.reach import lines_hit
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.body import Stacks
from fabplan.model.job import Job
from fabplan.sequence.reach import DRIVE, ENTER, HOLD, USES, Panels, Ways

NONE, OUTSIDE, MAN = 0, 1, 2
NEAREST = 32  # places of a man tried for each tool, nearest first
NET = 90.0  # mm between places tried: neighbours on the grid see alike


@dataclass(frozen=True, slots=True, eq=False)
class Site:
    """What the questions of access are asked of: all panels, all ways, the grid that a man moves on.

    `nutted` (n,) are the fasteners that a nut holds: nobody drives them, and they are taken as reached; `screwed` (n,)
    are tap rivets, which want a tool at their head alone. `answers` keeps what was answered: the same states are asked
    for again and again.
    """

    panels: Panels
    ways: Ways
    grid: Space
    reach: float
    opening: float
    instances: int
    nutted: BoolArray
    screwed: BoolArray
    answers: dict[tuple[bytes, int, int], "Access"] = field(default_factory=dict)


def site(job: Job, stacks: Stacks, panels: Panels, ways: Ways, instances: int) -> Site:
    """The site of a body, with the reach of a hand and the opening for a man of the shop."""
    reach, opening = job.shop.reach_length, job.shop.man_opening
    kinds = [*(rivet.kind for rivet in job.rivets), "rivet"]
    nutted, screwed = (
        np.array([kind in those for kind in kinds], dtype=np.bool_)[stacks.rivet]
        for those in (("bolt", "fitted bolt"), ("tap rivet",))
    )
    grid = space(panels.solids, panels.owner, instances, opening)
    return Site(panels, ways, grid, reach, opening, instances, nutted, screwed)


@dataclass(frozen=True, slots=True, eq=False)
class Access:
    """The outcome for one state of the body, for n rivets.

    Attributes:
        kind: (n, 2, 3) by side and use: `NONE`, `OUTSIDE` or `MAN`.
        way: (n, 2, 3) the way taken, -1 for none.
    """

    kind: IntArray
    way: IntArray

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


def access(site: Site, rivets: int, present: BoolArray, men: int = BY_OPENINGS) -> Access:
    """Access to all rivets while the instances `present` (m,) stand."""
    asked = (present.tobytes(), rivets, men)
    if asked not in site.answers:
        site.answers[asked] = _access(site, rivets, present, men)
    return site.answers[asked]


def _access(site: Site, rivets: int, present: BoolArray, men: int) -> Access:
    ways = site.ways
    free = ways.blocked.free(present)
    by_hand = free & (ways.open | _has_line(ways, present))
    kind = np.where(by_hand, OUTSIDE, NONE)
    if men != NOBODY:
        kind[_by_man(site, free & ~by_hand, by_hand, (present, men))] = MAN
    best = np.full((rivets, 2, len(USES)), NONE)
    chosen = np.full((rivets, 2, len(USES)), -1)
    rank = np.array([0, 2, 1])[kind]  # a hand from outside is better than a man inside
    order = np.lexsort((-ways.tool, rank))
    taken = order[kind[order] > NONE]
    place = (ways.rivet[taken], ways.side[taken], ways.use[taken])
    best[place], chosen[place] = kind[taken], taken  # the last written is the best
    _squeezed(ways, kind, best, chosen)
    best[site.nutted] = OUTSIDE
    best[site.screwed] = best[site.screwed][:, :1, :1]
    return Access(best, chosen)


def _squeezed(ways: Ways, kind: IntArray, best: IntArray, chosen: IntArray) -> None:
    """A tool that squeezes is taken for both sides or for none: where one side has it, so has the other."""
    squeezes = np.array([tool.use == "squeeze" for tool in ways.tools], dtype=np.bool_)[ways.tool]
    drive, hold = (np.nonzero(squeezes & (ways.use == use))[0] for use in (DRIVE, HOLD))
    both = np.maximum(kind[drive], kind[hold])
    rivet = ways.rivet[drive]
    taken = np.isin(chosen[rivet, 1, DRIVE], drive) | np.isin(chosen[rivet, 0, HOLD], hold)
    own = np.nonzero((both > NONE) & taken)[0]
    for side, use, way in ((1, DRIVE, drive), (0, HOLD, hold)):
        best[rivet[own], side, use], chosen[rivet[own], side, use] = both[own], way[own]


def _has_line(ways: Ways, present: BoolArray) -> BoolArray:
    way, blocked = ways.lines
    has = np.zeros(len(ways.rivet), dtype=np.bool_)
    has[way[blocked.free(present)]] = True
    return has


def _by_man(site: Site, open_question: BoolArray, by_hand: BoolArray, state: tuple[BoolArray, int]) -> IntArray:
    """Ways that a man inside reaches, asked only where no hand reaches; one way of each side and use first."""
    ways = site.ways
    group = (ways.rivet * 2 + ways.side) * len(USES) + ways.use
    settled = np.zeros(int(group.max(initial=0)) + 1, dtype=np.bool_)
    settled[group[by_hand]] = True
    left = np.nonzero(open_question & ~settled[group])[0]
    places = _places(site, *state) if len(left) else np.zeros((0, 3))
    if len(places) == 0:
        return np.zeros(0, dtype=np.int64)
    first = left[np.unique(group[left], return_index=True)[1]]
    reached = first[_man_reaches(site, first, places, state[0])]
    settled[group[reached]] = True
    rest = np.setdiff1d(left[~settled[group[left]]], first)
    return np.concatenate([reached, rest[_man_reaches(site, rest, places, state[0])]])


def _places(site: Site, present: BoolArray, men: int) -> FloatArray:
    """Places (k, 3) of men inside, mm; from outside the hull a hand is tried by itself."""
    places = _thinned(man_places(site.grid, present, site.opening, anywhere=men == ANYWHERE))
    return places[~outside(site.ways.hull, places)]


def _man_reaches(site: Site, index: IntArray, places: FloatArray, present: BoolArray) -> BoolArray:
    """(k,) True where a man at one of the places can hold the end of the tool."""
    reached = np.zeros(len(index), dtype=np.bool_)
    ends = site.ways.end[index]
    point, place = nearest_places(places, ends, NEAREST, site.reach)
    hit = np.zeros(len(point), dtype=np.bool_)
    for number, one in enumerate(site.panels.solids):
        if present[site.panels.owner[number]]:
            hit |= lines_hit(one, ends[point], places[place])
    reached[point[~hit]] = True
    return reached


def _thinned(places: FloatArray) -> FloatArray:
    """One place of each cell of a net, so that the nearest ones lie round a tool and not in a heap before it."""
    if len(places) == 0:
        return places
    cells = np.floor((places - places.min(axis=0)) / NET).astype(np.int64)
    flat = np.ravel_multi_index(tuple(cells.T), tuple((cells.max(axis=0) + 1).tolist()))
    return places[np.unique(flat, return_index=True)[1]]
