"""Shifts of work: how the body lies while which rivets are driven, so that least time goes and each has its room."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.sequence import Tally
from fabplan.sequence.access import MAN, NONE, Access, access
from fabplan.sequence.floor import Floor, depths
from fabplan.sequence.lying import AS_BEFORE, Lying, Stage, lie
from fabplan.sequence.phases import Phase
from fabplan.sequence.reach import DRIVE, ENTER, HOLD
from fabplan.sequence.scene import Scene
from fabplan.sequence.stances import ALIKE, AS_DRAWN, Load, Stance, load, stances
from fabplan.sequence.tools import Seat

DOWNHAND = (
    0.7  # upward part of the way from a rivet to its driver from which he drives down; overhead below its negative
)
SIDEWAYS, OVERHEAD, INSIDE, STAGED = 1.25, 2.0, 1.5, 0.2  # times as long as downhand, and with what hinders (assumed)
HIGH = 1800.0  # mm over the floor from which the driver wants staging (common practice)
SHORT = 1e6  # minutes for a rivet without room over the floor: any other way of lying is taken before
HOIST = 2000.0  # kg that are turned over where no hoist is stated (assumed)
BENCH = 900.0  # mm, least height of the bench, open underneath (common practice)
TURNED_BY_HAND, BY_HAND = 5.0, 50.0  # minutes, and kg up to which two men turn a piece over without a crane (assumed)
RATES = (
    f"a rivet driven sideways takes {SIDEWAYS:g}, overhead {OVERHEAD:g} times as long as downhand, with a man inside "
    f"{INSIDE:g} times, from staging, over {HIGH:g} mm, {1 + STAGED:g} times; what lies on the bench otherwise than as "
    "drawn is turned, and turned back: tilted within its lift, a lift more, upside down a turn-over (assumed)"
)


@dataclass(frozen=True, slots=True, eq=False)
class Shift:
    """What is driven while the body lies one way in one phase.

    Attributes:
        phase: what stands.
        stance: how it lies.
        rivets: (k,) that are driven.
        reach: how they are reached over the floor; those of `short` as if there were none.
        turned: it is turned over before.
        begins, ends: the first and the last of its phase.
        short: (s,) rivets that find no room over the floor.
        mass: of what lies there, kg.
        floor: the floor.
        bench: a sub-assembly on the bench, before it joins the body.
    """

    phase: Phase
    stance: Stance
    rivets: IntArray
    reach: Access
    turned: bool
    begins: bool
    ends: bool
    short: IntArray
    mass: float
    floor: Floor
    bench: bool = False

    @property
    def floor_counts(self) -> bool:
        """True where the floor changed how its rivets are reached."""
        return self.reach is not self.phase.reach


@dataclass(frozen=True, slots=True, eq=False)
class Yard:
    """The scene and both sides of its rivets.

    `deep` keeps how deep all ways reach by the bytes of a direction, `laid` how what stands can lie by those of its
    instances.
    """

    scene: Scene
    seats: tuple[Seat, Seat]
    deep: dict[bytes, FloatArray] = field(default_factory=dict)
    laid: dict[bytes, tuple[Load, tuple[Stance, ...]]] = field(default_factory=dict)

    def lies(self, present: BoolArray) -> tuple[Load, tuple[Stance, ...]]:
        """What stands where the instances `present` (m,) do, and its ways of lying, as drawn first."""
        key = present.tobytes()
        if key not in self.laid:
            weight = load(self.scene, present)
            self.laid[key] = weight, stances(weight)
        return self.laid[key]

    def floor(self, stance: Stance, *, bench: bool = False) -> Floor:
        """The floor under a body that lies one way on its trestles, or under a bench."""
        height = max(self.scene.job.shop.table_height, BENCH if bench else 0.0)
        key = stance.down.tobytes()
        if key not in self.deep:
            self.deep[key] = depths(self.scene.ways, self.seats, stance.down)
        return Floor(stance.down, stance.level + height, height, self.deep[key])

    def over_floor(self, phase: Phase, floor: Floor, *, bench: bool = False) -> Access:
        """Access over a floor; that in free space, where the floor is nobody's hindrance.

        On the bench no other tool is tried in place of one that wants more room.
        """
        site, free = self.scene.site, phase.reach
        low = not floor.room >= site.space.sizes.man + site.space.play
        way = free.way[phase.rivets]
        dips = (way >= 0) & (floor.deep[way] > floor.level)
        if bench:
            kind = free.kind.copy()
            kind[phase.rivets] = np.where(dips, NONE, kind[phase.rivets])
            return Access(kind, free.way, free.gate) if dips.any() else free
        return access(site, len(free.kind), phase.present, floor=floor) if low or dips.any() else free


@dataclass(eq=False)
class _Course:
    """Phases with all ways of lying, numbered alike in all: `downs`; what is asked of the floor is kept.

    Attributes:
        bench: True for one sub-assembly on the bench.
        downs: the directions towards the table.
        runs: for each phase the runs of rivets, each of one seam and driven from one side.
        minutes: for each phase (k, d) of each run.
        lies: for each phase its ways of lying by their numbers.
        loads: for each phase what stands.
        reach: access over the floor by phase and number, where it was asked.
    """

    bench: bool
    downs: list[FloatArray]
    runs: list[list[IntArray]]
    minutes: list[FloatArray]
    lies: list[dict[int, Stance]]
    loads: list[Load]
    reach: dict[tuple[int, int], Access] = field(default_factory=dict)


def shifts(
    yard: Yard, phases: Sequence[Phase], *, turning: bool = True, bench: bool = False
) -> tuple[tuple[Shift, ...], Tally]:
    """The shifts of phases, as drawn throughout where nothing may be turned, and what they come to.

    On the bench there is one phase, a sub-assembly. Where it lies otherwise than as drawn its pieces are turned as they
    are laid down, which counts as one turn-over of the whole, and it is turned back before it joins the body.

    The floor is asked only about ways of lying that the search takes; it can but make them worse, so that the way
    taken in the end, all of which was asked, is the best.
    """
    course = _course(yard, phases, turning, bench)
    while True:
        stages = [_stage(yard, course, number, phase) for number, phase in enumerate(phases)]
        lying = lie(stages, 0, 0, _laid(yard.scene, course) if bench else None)
        asked = [(k, way) for k, order in enumerate(lying.orders) for way in order if (k, way) not in course.reach]
        if not asked:
            break
        for number, way in asked:
            _ask(yard, course, phases[number], (number, way))
    found = tuple(_shifts(yard, course, phases, lying))
    return found, _tally(yard, phases, found, lying)


def _course(yard: Yard, phases: Sequence[Phase], turning: bool, bench: bool) -> _Course:
    scene = yard.scene
    known_lies = [yard.lies(phase.present) for phase in phases]
    loads = [weight for weight, _ in known_lies]
    downs, lies = [AS_DRAWN], []
    for weight, found in known_lies:
        own: dict[int, Stance] = {}
        for stance in _choice(found, turning, bench and bool(np.isfinite(turn_minutes(scene, weight.mass)))):
            known = next((k for k, down in enumerate(downs) if float(down @ stance.down) > ALIKE), len(downs))
            downs += [stance.down] if known == len(downs) else []
            own.setdefault(known, stance)
        lies.append(own)
    runs = [list(_runs(scene, phase)) for phase in phases]
    course = _Course(bench, downs, runs, [], lies, loads)
    course.minutes += [_minutes(yard, course, number, phase) for number, phase in enumerate(phases)]
    return course


def _choice(found: tuple[Stance, ...], turning: bool, bench: bool) -> tuple[Stance, ...]:
    """The ways of lying that are looked at: on a bench that can turn it the steady ones, where there is one."""
    if not bench:
        return found if turning else found[:1]
    return tuple(one for one in found if one.steady) or found[:1]


def _runs(scene: Scene, phase: Phase) -> Iterator[IntArray]:
    """The rivets of a phase by seam and side."""
    key = 2 * scene.stacks.seam[phase.rivets] + phase.reach.driven_from(1)[phase.rivets]
    for one in np.unique(key).tolist():
        yield phase.rivets[key == one]


def upward(scene: Scene, reach: Access, rivets: IntArray, down: FloatArray) -> FloatArray:
    """(k,) the upward part of the unit vector from rivets to their driver."""
    sign = np.where(reach.driven_from(1)[rivets], -1.0, 1.0)
    up: FloatArray = sign * (scene.stacks.axis[rivets] @ down)
    return up


def _minutes(yard: Yard, course: _Course, number: int, phase: Phase) -> FloatArray:
    """(k, d) what each run of a phase takes in each of its ways of lying."""
    floors = [yard.floor(stance, bench=course.bench) for stance in course.lies[number].values()]
    found = np.zeros((len(course.runs[number]), len(floors)))
    for column, floor in enumerate(floors):
        for row, rivets in enumerate(course.runs[number]):
            found[row, column] = rivet_minutes(yard.scene, phase.reach, rivets, floor).sum()
    return found


def rivet_minutes(scene: Scene, reach: Access, rivets: IntArray, floor: Floor) -> FloatArray:
    """(k,) what each rivet takes: by where its driver stands, and who is inside."""
    up = upward(scene, reach, rivets, floor.down)
    hard = np.where(up >= DOWNHAND, 1.0, np.where(up > -DOWNHAND, SIDEWAYS, OVERHEAD))
    staging = 1.0 + STAGED * (driver_heights(scene, reach, rivets, floor) // HIGH)
    man = np.where(men_inside(reach, rivets), INSIDE, 1.0)
    minutes: FloatArray = 60.0 / scene.job.shop.rivets_per_hour * hard * staging * man
    return minutes


def driver_heights(scene: Scene, reach: Access, rivets: IntArray, floor: Floor) -> FloatArray:
    """(k,) height over the floor of rivets, on the driver's side, mm."""
    from_point = reach.driven_from(1)[rivets]
    face = np.where(from_point[:, None], scene.stacks.point_face[rivets], scene.stacks.head_face[rivets])
    high: FloatArray = floor.level - face @ floor.down
    return high


def men_inside(reach: Access, rivets: IntArray) -> BoolArray:
    """(k,) True where a man inside drives a rivet or holds it up."""
    side = reach.driven_from(1)[rivets].astype(np.int64)
    held = reach.kind[rivets, 1 - side][:, [HOLD, ENTER]]
    inside: BoolArray = (reach.kind[rivets, side, DRIVE] == MAN) | (held == MAN).any(axis=1)
    return inside


def _stage(yard: Yard, course: _Course, number: int, phase: Phase) -> Stage:
    minutes = np.full((len(course.runs[number]), len(course.downs)), np.inf)
    minutes[:, list(course.lies[number])] = course.minutes[number]
    for (k, way), reach in course.reach.items():
        if k == number:
            short = [short_of(phase, reach, rivets).sum() for rivets in course.runs[k]]
            minutes[:, way] += SHORT * np.array(short, dtype=np.float64)
    allowed = np.zeros(len(course.downs), dtype=np.bool_)
    allowed[list(course.lies[number])] = True
    begins = 0 if number else AS_BEFORE
    return Stage(minutes, allowed, turn_minutes(yard.scene, course.loads[number].mass), begins)


def turn_minutes(scene: Scene, mass: float) -> float:
    """What a turn-over takes; inf for what the hoist does not lift, or whose mass is not known."""
    shop = scene.job.shop
    if mass <= BY_HAND:
        return TURNED_BY_HAND
    return shop.turn_over_minutes if mass <= (HOIST if shop.hoist is None else shop.hoist) else float("inf")


def _laid(scene: Scene, course: _Course) -> FloatArray:
    """(d,) minutes of bringing a sub-assembly from as drawn into each direction on the bench, or back.

    On its side it is tilted in its lift, which takes a lift longer; turned upside down it is turned over.
    """
    over = turn_minutes(scene, course.loads[0].mass)
    tilted = min(over, max(scene.job.shop.lift_minutes, TURNED_BY_HAND))
    upright = np.array([float(down @ AS_DRAWN) for down in course.downs])
    return np.where(upright > ALIKE, 0.0, np.where(upright > -DOWNHAND, tilted if np.isfinite(over) else over, over))


def short_of(phase: Phase, reach: Access, rivets: IntArray) -> BoolArray:
    """(k,) True for rivets that are not driven from their side over the floor."""
    side = phase.reach.driven_from(1)[rivets]
    short: BoolArray = ~np.where(side, reach.driven_from(1)[rivets], reach.driven_from(0)[rivets])
    return short


def _ask(yard: Yard, course: _Course, phase: Phase, which: tuple[int, int]) -> None:
    stance = course.lies[which[0]][which[1]]
    course.reach[which] = yard.over_floor(phase, yard.floor(stance, bench=course.bench), bench=course.bench)


def _shifts(yard: Yard, course: _Course, phases: Sequence[Phase], lying: Lying) -> Iterator[Shift]:
    lay = 0
    for number, (phase, order, of_run) in enumerate(zip(phases, lying.orders, lying.of_run, strict=True)):
        if number or not order:
            order = order if order[:1] == (0,) else (0, *order)
        for place, way in enumerate(order):
            stance = course.lies[number][way]
            own = [rivets for rivets, at in zip(course.runs[number], of_run.tolist(), strict=True) if at == way]
            rivets = np.sort(np.concatenate([np.zeros(0, dtype=np.int64), *own]))
            reach = course.reach.get((number, way), phase.reach)
            short = rivets[short_of(phase, reach, rivets)]
            turned = way != lay and not (course.bench and place == 0)
            yield Shift(
                phase, stance, rivets, _known(phase.reach, reach, short), turned, place == 0,
                place == len(order) - 1, short, course.loads[number].mass, yard.floor(stance, bench=course.bench),
                course.bench,
            )  # fmt: skip
            lay = way


def _known(free: Access, reach: Access, short: IntArray) -> Access:
    """Access over the floor, of rivets without room there as if there were none."""
    if not len(short):
        return reach
    found = Access(*(np.array(table) for table in (reach.kind, reach.way, reach.gate)))
    for table, own in ((found.kind, free.kind), (found.way, free.way), (found.gate, free.gate)):
        table[short] = own[short]
    return found


def _tally(yard: Yard, phases: Sequence[Phase], found: Sequence[Shift], lying: Lying) -> Tally:
    scene = yard.scene
    ups = [upward(scene, one.reach, one.rivets, one.stance.down) for one in found]
    up = np.concatenate([np.zeros(0), *ups])
    bench = sum(len(one.rivets) for one in found if one.bench)
    inside = sum(int(men_inside(one.reach, one.rivets).sum()) for one in found)
    short = sum(len(one.short) for one in found)
    ways = int((up >= DOWNHAND).sum()), int((np.abs(up) < DOWNHAND).sum()), int((up <= -DOWNHAND).sum())
    return Tally("", short, bench, lying.turns, 0, *ways, inside, lying.minutes - SHORT * short)
