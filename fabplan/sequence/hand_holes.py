"""Hand holes: where one would bring arms to rivets that nobody gets to, and the site with it cut."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.bare import bare_places, pierced
from fabplan.geom.flood import changed, openings
from fabplan.geom.hull import depth, hull_planes
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.sequence.access import ENTRY, NONE, Access, Site

LAND = 50.0
"""mm kept between a hand hole and any edge, rivet or other piece (assumed)."""

STEP = 5.0
"""mm to which its diameter is rounded up."""


@dataclass(frozen=True, slots=True)
class HandHole:
    """A round hole for an arm: number of the panel, middle in the body frame, diameter, mm."""

    panel: int
    place: tuple[float, float, float]
    diameter: float

    def overlaps(self, other: "HandHole") -> bool:
        """True where two of them leave less than their land between them."""
        return math.dist(self.place, other.place) < self.diameter + LAND


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """Where arms are wanted: (k, 3) ends of ways that nothing but a hand is missing at, and the rivet (k,) of each."""

    ends: FloatArray
    rivet: IntArray

    def without(self, freed: BoolArray) -> "Wanted":
        """What is left once some of the rivets (n,) can be driven."""
        kept = ~freed[self.rivet]
        return Wanted(self.ends[kept], self.rivet[kept])


def wanted(site: Site, last: Access, present: BoolArray, left: BoolArray) -> Wanted:
    """The ends of all ways of rivets `left` (n,) that are clear of the pieces `present` (m,), yet out of reach."""
    ways = site.ways
    lacking = last.kind[ways.rivet, ways.side, ways.use] == NONE
    rows = np.nonzero(left[ways.rivet] & lacking & ways.blocked.free(present))[0]
    return Wanted(ways.end[rows], ways.rivet[rows])


def places(site: Site, present: BoolArray, plates: BoolArray, points: FloatArray) -> tuple[HandHole, ...]:
    """Every place of a grid where a hand hole may lie in a flat plate of the skin.

    Args:
        site: the site.
        present: (m,) instances that stand.
        plates: (m,) which may be cut.
        points: (n, 3) places of the rivets, mm.
    """
    if not site.space.grid.shape[0]:
        return ()
    size = math.ceil((site.space.sizes.arm + site.space.play) / STEP) * STEP
    stands = np.nonzero(present[site.panels.owner])[0].tolist()
    planes = hull_planes(np.vstack([site.panels.solids[k].corners for k in stands]))
    found: list[HandHole] = []
    for k in stands:
        if plates[site.panels.owner[k]] and not site.panels.facet[k]:
            others = [site.panels.solids[other] for other in stands if other != k]
            middles = bare_places(site.panels.solids[k], others, points, size, LAND)
            found += [HandHole(k, (x, y, z), size) for x, y, z in middles[depth(planes, middles) <= ENTRY].tolist()]
    return tuple(found)


def best_place(site: Site, holes: Sequence[HandHole], asked: Wanted) -> int:
    """Which place has wanted ends of most rivets within an arm's reach, -1 where none has any."""
    near = (np.linalg.norm(asked.ends - np.array(hole.place), axis=1) <= site.reach for hole in holes)
    counts = [len(np.unique(asked.rivet[row])) for row in near]
    return int(np.argmax(counts)) if any(counts) else -1


def cut(site: Site, hole: HandHole) -> Site:
    """The site with a hand hole cut. What stands in the ways of tools is not made less."""
    solids = list(site.panels.solids)
    solids[hole.panel] = pierced(solids[hole.panel], np.array(hole.place), hole.diameter)
    owner = int(site.panels.owner[hole.panel])
    room = changed(site.space, owner, [solids[k] for k in np.nonzero(site.panels.owner == owner)[0].tolist()])
    panels = replace(site.panels, solids=tuple(solids))
    return replace(site, panels=panels, space=room, openings=openings(room, solids), answers={}, entries={})
