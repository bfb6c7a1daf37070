"""Sub-assemblies: a piece and the bars and small plates that are riveted to it on the bench, both sides free."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.hull import hull_planes, outside
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.sequence import Tally
from fabplan.sequence.access import NONE, OUTSIDE, Access, Site, access, best_ways
from fabplan.sequence.hanging import Aside
from fabplan.sequence.peel import Peeling
from fabplan.sequence.phases import Phase
from fabplan.sequence.scene import Scene
from fabplan.sequence.shifts import Shift, Yard, rivet_minutes, shifts
from fabplan.sequence.stances import ALIKE, AS_DRAWN, rivet_mass

SMALL = 1.0 / 3.0  # of a piece's mass: a plate no heavier goes onto it, as a strap does; a bar up to its own mass
FEWEST = 4  # rivets for which a sub-assembly is made


@dataclass(frozen=True, slots=True, eq=False)
class Bench:
    """Sub-assemblies.

    Attributes:
        units: instances of each, its plate first.
        shifts: what is driven on the bench, in order, and for each what it comes to.
        driven: (n,) True for rivets that are driven there.
        must: how many of the sub-assemblies, the first, are there because nothing joins them to what stands.
    """

    units: tuple[tuple[int, ...], ...]
    shifts: tuple[tuple[Shift, ...], ...]
    tallies: tuple[Tally, ...]
    driven: BoolArray
    must: int = 0

    @property
    def pieces(self) -> tuple[int, ...]:
        """The instances of all sub-assemblies."""
        return tuple(i for unit in self.units for i in unit)

    def as_fitted(self, instances: Sequence[int], fitted: Sequence[int]) -> tuple[int, ...]:
        """Instances in the order in which they were fitted dry, those of a sub-assembly after its first piece."""
        head = {i: i for i in instances} | {i: unit[0] for unit in self.units for i in unit}
        place = {i: number for number, i in enumerate(fitted)}
        return tuple(sorted(instances, key=lambda i: (place[head[i]], i != head[i], place[i])))

    def groups(self, instances: Sequence[int]) -> list[tuple[int, ...]]:
        """Instances, in their order, as they come on: each sub-assembly with its first piece."""
        units = {i: unit for unit in self.units for i in unit}
        return list(dict.fromkeys(units.get(i, (i,)) for i in instances))

    def turned_back(self, unit: tuple[int, ...]) -> bool:
        """True where a sub-assembly lies at last otherwise than as drawn."""
        return bool(float(self.shifts[self.units.index(unit)][-1].stance.down @ AS_DRAWN) <= ALIKE)

    def joined(self, other: "Bench") -> "Bench":
        """These sub-assemblies and after them those of another bench."""
        if not self.units or not other.units:
            return self if self.units else other
        units, driven = self.units + other.units, self.driven | other.driven
        must = self.must + other.must
        return Bench(units, self.shifts + other.shifts, self.tallies + other.tallies, driven, must)


NO_BENCH = Bench((), (), (), np.zeros(0, dtype=np.bool_))


def set_aside(yard: Yard, asides: Sequence[Aside]) -> Bench:
    """The sub-assemblies of pieces that nothing joins to what stands, the heaviest piece of each first."""
    scene = yard.scene
    driven = np.zeros(len(scene.member), dtype=np.bool_)
    units, of_unit, tallies = [], [], []
    for aside in asides:
        present = np.isin(np.arange(scene.member.shape[1]), aside.pieces)
        reach = access(scene.site, len(scene.member), present)
        none = np.zeros(0, dtype=np.int64)
        done, tally = shifts(yard, [Phase(present, aside.rivets, reach, none, none)], bench=True)
        units.append(tuple(sorted(aside.pieces, key=lambda i: (-scene.mass(i), i))))
        of_unit.append(done)
        tallies.append(tally)
        driven[aside.rivets] = True
    return Bench(tuple(units), tuple(of_unit), tuple(tallies), driven, len(units)) if units else NO_BENCH


def held_by(member: BoolArray, units: Sequence[tuple[int, ...]]) -> BoolArray:
    """(n, m) what each rivet holds, its plies (n, m) and what these are riveted to on the bench."""
    held = member.copy()
    for unit in units:
        held[:, list(unit)] |= member[:, list(unit)].any(axis=1, keepdims=True)
    return held


def for_the_core(yard: Yard, placed: BoolArray, peeling: Peeling) -> Bench:
    """The sub-assemblies in which rivets are driven that no order of the body alone drives."""
    left, none = np.nonzero(peeling.round < 0)[0], np.zeros(0, dtype=np.int64)
    saved = np.zeros(len(peeling.round))
    saved[left] = 1.0
    whole = [Phase(placed, left, peeling.last, np.nonzero(placed)[0], none)]
    found = units(yard, whole, _groups(yard.scene, may_join(yard.scene, whole), saved), must=True)
    return replace(found, must=len(found.units)) if found.units else NO_BENCH


def on_the_bench(yard: Yard, phases: Sequence[Phase], apart: Collection[int] = (), fixed: Bench = NO_BENCH) -> Bench:
    """The sub-assemblies that save time, each piece in one, none about a piece of `apart`, none of those of `fixed`.

    Pieces of one come on in the same phase.
    """
    saved = _savings(yard, phases)
    group = _groups(yard.scene, may_join(yard.scene, phases, fixed.pieces), saved)
    group[np.isin(group, list(apart))] = -1
    return units(yard, phases, group, saved)


def units(
    yard: Yard, phases: Sequence[Phase], group: IntArray, saved: FloatArray | None = None, *, must: bool = False
) -> Bench:
    """The sub-assemblies of pieces that are riveted to others, `group` (m,): itself for these, -1 for single pieces.

    Left out are those with too few rivets, or without room over the floor for one, and, unless they `must` be, those
    that the hoist does not lift; where it is told what each rivet saves (n,), in minutes, those too that take longer
    than they save.
    """
    scene = yard.scene
    of = of_rivets(scene, group)
    reach = free_reach(scene.site, group, of)
    wanted = np.zeros(len(scene.member), dtype=np.bool_)
    for phase in phases:
        wanted[phase.rivets] = True
    found, driven_in, tallies = [], [], []
    driven = np.zeros(len(scene.member), dtype=np.bool_)
    for head in np.unique(of[of >= 0]).tolist():
        own = np.nonzero((of == head) & wanted & reach.reached)[0]
        if len(own) < FEWEST:
            continue
        present = (group == head) & scene.member[own].any(axis=0)
        if not must and _over_hoist(scene, present, own):
            continue
        phase = Phase(present, own, reach, np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
        done, tally = shifts(yard, [phase], bench=True)
        worth = saved is None or saved[own].sum() > tally.minutes - _downhand(scene, len(own))
        if worth and not tally.short:
            found.append((head, *(i for i in np.nonzero(present)[0].tolist() if i != head)))
            driven_in.append(done)
            tallies.append(tally)
            driven[own] = True
    return Bench(tuple(found), tuple(driven_in), tuple(tallies), driven)


def _over_hoist(scene: Scene, present: BoolArray, rivets: IntArray) -> bool:
    """True where pieces, (m,), are heavier with their rivets than the hoist lifts."""
    hoist = scene.job.shop.hoist
    mass = sum(scene.mass(i) for i in np.nonzero(present)[0].tolist()) + rivet_mass(scene, rivets)
    return hoist is not None and not mass <= hoist


def _downhand(scene: Scene, rivets: int) -> float:
    return 60.0 * rivets / scene.job.shop.rivets_per_hour


def _savings(yard: Yard, phases: Sequence[Phase]) -> FloatArray:
    """(n,) minutes that each rivet would take less downhand than in the body as drawn."""
    found = np.zeros(len(yard.scene.member))
    for phase in phases:
        floor = yard.floor(yard.lies(phase.present)[1][0])
        found[phase.rivets] = rivet_minutes(yard.scene, phase.reach, phase.rivets, floor) - _downhand(yard.scene, 1)
    return found


def _came(scene: Scene, phases: Sequence[Phase]) -> IntArray:
    """(m,) the phase in which each instance comes on, -1 for none."""
    came = np.full(len(scene.body.instances), -1)
    for number, phase in reversed(list(enumerate(phases))):
        came[phase.added] = number
    return came


def may_join(scene: Scene, phases: Sequence[Phase], fixed: Collection[int] = ()) -> BoolArray:
    """(m, m) True where the first piece may go onto the second on the bench, by its mass and the phase it comes in.

    Pieces of `fixed` are in sub-assemblies already.
    """
    came, mass = _came(scene, phases), np.array([scene.mass(i) for i in range(len(scene.body.instances))])
    bar = np.array([bool(scene.body.part_of(i).section) for i in range(len(mass))])
    can = (came[:, None] == came[None]) & (came >= 0)[None]
    can &= (mass > 0.0)[:, None] & (mass[:, None] <= np.where(bar, 1.0, SMALL)[:, None] * mass[None])
    can[list(fixed)] = can[:, list(fixed)] = False
    return np.asarray(can & ~np.eye(len(mass), dtype=np.bool_))


def _groups(scene: Scene, can: BoolArray, saved: FloatArray) -> IntArray:
    """(m,) the piece to which each instance is riveted on the bench, itself for that one, -1 for none."""
    count = len(can)
    bar = np.array([bool(scene.body.part_of(i).section) for i in range(count)])
    gain = scene.member.T.astype(np.float64) @ (scene.member * np.maximum(saved, 0.0)[:, None])
    gain = np.where(can, gain, 0.0)
    head = np.where(gain.max(axis=1) > 0.0, gain.argmax(axis=1), -1)
    moved = (head >= 0) & ~np.isin(np.arange(count), head[bar & (head >= 0)])  # what bears bars stays itself
    group = np.full(count, -1)
    group[moved] = head[moved]
    bearing = np.setdiff1d(group[group >= 0], np.nonzero(moved)[0])
    group[~np.isin(group, bearing)] = -1
    group[bearing] = bearing
    return group


def of_rivets(scene: Scene, group: IntArray) -> IntArray:
    """(n,) the sub-assembly that holds all plies of a rivet, -1 for none."""
    own, first = group[scene.stacks.ply_instance], scene.stacks.first[:-1]
    least, most = np.minimum.reduceat(own, first), np.maximum.reduceat(own, first)
    return np.where(least == most, most, -1)


def free_reach(site: Site, group: IntArray, of: IntArray) -> Access:
    """How rivets are reached from outside while only their sub-assembly is there; of other rivets not at all."""
    ways = site.ways
    own = of[ways.rivet]
    pairs = ways.blocked
    free = own >= 0
    free[pairs.of[(group[pairs.instance] == own[pairs.of]) & (own[pairs.of] >= 0)]] = False
    kind = np.full(len(ways.rivet), NONE)
    for head in np.unique(of[of >= 0]).tolist():
        corners = [
            one.corners for one, i in zip(site.panels.solids, site.panels.owner, strict=True) if group[i] == head
        ]
        rows = np.nonzero(free & (own == head))[0]
        kind[rows[outside(hull_planes(np.vstack(corners)), ways.end[rows])]] = OUTSIDE
    return best_ways(ways, kind, np.full(len(kind), -1), len(of))
