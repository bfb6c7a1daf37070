"""Steps of riveting: one for each phase and main plate, and those in which pieces come back in."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.sequence import Lie, Lift, SeamWork, Step
from fabplan.sequence.bench import Bench
from fabplan.sequence.erect import LIFTING
from fabplan.sequence.footing import GOES_OVER, UNDER, going_over, raised, raised_words
from fabplan.sequence.gates import counts_of, face_words
from fabplan.sequence.joining import finish_words, stay_step
from fabplan.sequence.lifting import BY_HAND, lift_of, turned_back, unit_lifts
from fabplan.sequence.man_inside import INSIDE, way_words
from fabplan.sequence.orders import Order
from fabplan.sequence.phases import HeldBack, Phase
from fabplan.sequence.runs import balanced, works
from fabplan.sequence.scene import LONG, Scene, count_of, indices
from fabplan.sequence.shifts import Shift
from fabplan.sequence.stances import ALIKE, AS_DRAWN
from fabplan.sequence.standing import held_words, lie_of, short_words, staging_words

HOT = (
    "Hot work: permit; clear or shield what burns to 10 m; fire watch during and 60 minutes after; catch and drop "
    "zones for hot rivets.",
    "Eyes, gloves, leather, hearing protection; change places often: trigger time of both driver and holder-up counts.",
)
TURNING = (
    "A turn-over is the worst hour: rated gear, the rules of the place, one man who gives signs; nobody under the load "
    "or beside it; a bolted body racks: brace it first."
)


def riveting(scene: Scene, order: Order, back: HeldBack, fitted: Sequence[int]) -> Iterator[Step]:
    """One step for each shift and main plate; pieces that come back in get the step's kind 'close'.

    They come in the order in which they were `fitted` dry.
    """
    before: list[Phase] = []
    turns = sum(tally.turns for tally in order.bench.tallies)
    for number, shift in enumerate(order.shifts):
        phase = shift.phase
        filled = _filled(scene, order, number)
        added = list(order.bench.as_fitted(phase.added.tolist(), fitted)) if before and shift.begins else []
        groups = main_plates(scene, shift.rivets)
        turns += shift.turned
        fresh = shift.turned
        if added:
            first = groups.pop(0)[1] if groups else np.zeros(0, dtype=np.int64)
            lie = lie_of(scene, shift, first, turns, turned=fresh)
            yield _closing(
                scene, shift, (added, first, order.bench, filled), _why_held(scene, phase, before, added, back), lie
            )
            fresh = False
        for plate, rivets in groups:
            lie = lie_of(scene, shift, rivets, turns, turned=fresh)
            yield _rivet_step(scene, shift, (plate, rivets, filled), lie)
            fresh = False
        if shift.ends:
            yield from stay_step(scene, phase.present, phase.fitted)
            before.append(phase)
    yield from _turned_back(scene, order)


def _turned_back(scene: Scene, order: Order) -> Iterator[Step]:
    """The body turned back as drawn, where it lies otherwise when its last rivet is in."""
    if not order.shifts or float(order.shifts[-1].stance.down @ AS_DRAWN) > ALIKE:
        return
    present = indices(order.shifts[-1].phase.present)
    found = lift_of(scene, present, "turned back as drawn", _filled(scene, order, len(order.shifts)))
    over = going_over(scene, present, ())
    yield Step(
        0,
        "turn",
        "Turn it back as drawn",
        "what comes after the last rivet is done as it is to stand",
        present=present,
        checks=(
            "nothing loose on it or in it before it is lifted; packed all round where it is set down",
            *((over,) if over else ()),
        ),
        cautions=(*((TURNING,) if found is not None else ()), *((GOES_OVER,) if over else ()), LIFTING),
        lift=found.mass if found is not None else 0.0,
        lifts=(found,) if found is not None else (),
    )


def _filled(scene: Scene, order: Order, number: int) -> BoolArray:
    """(n,) rivets that are in before a shift."""
    filled = np.zeros(len(scene.member), dtype=np.bool_)
    for shift in (*(one for unit in order.bench.shifts for one in unit), *order.shifts[:number]):
        filled[shift.rivets] = True
    return filled


def _why_held(scene: Scene, phase: Phase, before: Sequence[Phase], added: list[int], back: HeldBack) -> str:
    """Why pieces come in now: rivets that they would have shut off, or what the job or the search says."""
    driven = np.concatenate([earlier.rivets for earlier in before])
    shut = int((before[-1].reach.reached & ~phase.reach.reached)[driven].sum())
    if shut:
        them = "it" if len(added) == 1 else "them"
        return f"with {them} in, {count_of(shut, 'rivet')} of the steps before could not be driven"
    if back.why and (scene.job.order or set(added) & set(back.closing.tolist())):
        return back.why
    return "loose by the job file, so put in after the rest"


def main_plates(scene: Scene, rivets: IntArray) -> list[tuple[int, IntArray]]:
    """Rivets by their main plate: the heaviest ply; the datum's first, then the fullest."""
    masses = np.array([scene.mass(i) for i in range(len(scene.body.instances))])
    plates = np.array([not scene.body.part_of(i).section for i in range(len(masses))])
    rank = masses + np.where(plates, 1e6, 0.0)
    rank[scene.datum] = 1e9
    lead = np.where(scene.member[rivets], rank, -1.0).argmax(axis=1) if len(rivets) else np.zeros(0, int)
    groups = [(int(plate), rivets[lead == plate]) for plate in np.unique(lead)]
    return sorted(groups, key=lambda group: (group[0] != scene.datum, -len(group[1]), group[0]))


def _inside(work: Sequence[SeamWork]) -> bool:
    """True where a man works inside the body."""
    return any("man inside" in (run.driver_access, run.holder_access) for run in work)


def cautions(work: Sequence[SeamWork], lie: Lie) -> tuple[str, ...]:
    """What can hurt someone who turns it over and rivets it."""
    turning = (TURNING,) if lie.turned or (lie.laid and lie.mass > BY_HAND) else ()
    over = (GOES_OVER,) if not lie.steady else ()
    return (*turning, *over, *((INSIDE,) if _inside(work) else ()), *(HOT if work else ()))


def _man_ways(scene: Scene, shift: Shift, work: Sequence[SeamWork]) -> tuple[str, ...]:
    """A check for the man inside: by which openings he goes in, and out again."""
    if not _inside(work):
        return ()
    return (way_words(scene, shift.phase.present, shift.floor if shift.floor_counts else None),)


CHECKS = (
    "joint parted, deburred, cleaned, bolted again before its first rivet",
    "bolts and drifts out as rivets go in; neighbours tried again",
    "rivets tried with hammer and finger by a second person",
)


def before_first(scene: Scene, shift: Shift, rivets: IntArray, work: Sequence[SeamWork], lie: Lie) -> Iterator[str]:
    """What is seen to before the first rivet of a step."""
    yield from held_words(lie)
    yield from staging_words(lie)
    yield from short_words(scene, shift, rivets)
    yield from finish_words(scene, [run.seam for run in work])
    yield from face_words(scene, counts_of(work))


def _rivet_step(scene: Scene, shift: Shift, group: tuple[int, IntArray, BoolArray], lie: Lie) -> Step:
    plate, rivets, filled = group
    work = balanced(scene, tuple(works(scene, shift.reach, rivets, shift.phase.present)))
    seams = seam_marks(scene, work)
    return Step(
        0,
        "rivet",
        f"Rivet {scene.mark(plate)}: {count_of(len(rivets), 'rivet')}, seam{'s' if len(seams) > 1 else ''} "
        f"{', '.join(seams)}",
        f"both sides {'of every rivet' if len(rivets) > 1 else 'of it'} are reached while "
        f"{_missing(scene, shift.phase)}",
        present=indices(shift.phase.present),
        work=work,
        checks=(
            *_man_ways(scene, shift, work),
            *before_first(scene, shift, rivets, work, lie),
            *CHECKS,
        ),
        cautions=cautions(work, lie),
        lie=lie,
        lifts=turned_over(scene, shift, lie, filled, indices(shift.phase.present)),
    )


def turned_over(scene: Scene, shift: Shift, lie: Lie, filled: BoolArray, standing: Sequence[int]) -> tuple[Lift, ...]:
    """The lift by which what is `standing` is turned over before a step, and before pieces come in.

    It hangs as it lies afterwards; `filled` holes take no hook.
    """
    if not lie.turned:
        return ()
    all_of_it = len(standing) == int(shift.phase.present.sum())
    what = f"turned over: {lie.on}" if all_of_it else f"what stands, turned over: {lie.on.partition(',')[0]}"
    found = lift_of(scene, standing, what, filled, shift.stance.down)
    return (found,) if found is not None else ()


def seam_marks(scene: Scene, work: Sequence[SeamWork]) -> list[str]:
    """Marks of the seams of some runs, each once."""
    return list(dict.fromkeys(scene.job.seams[run.seam].mark if run.seam >= 0 else "(none)" for run in work))


def _missing(scene: Scene, phase: Phase) -> str:
    """Which pieces are off, or, where those that stand are sooner told, which stand."""
    placed = [i for i in range(len(phase.present)) if scene.body.poses[i] is not None]
    off, on = ([i for i in placed if bool(phase.present[i]) == there] for there in (False, True))
    if not off:
        return "the whole body stands"
    if len(scene.marks(off)) > LONG >= len(scene.marks(on)):
        return f"only {scene.marks(on)} {'stands' if len(on) == 1 else 'stand'}"
    return f"{scene.few(off)} {'is' if len(off) == 1 else 'are'} off"


def _closing(
    scene: Scene, shift: Shift, new: tuple[list[int], IntArray, Bench, BoolArray], reason: str, lie: Lie
) -> Step:
    """Pieces that come back in, with the rivets of the shift's first plate; none where no order drives them."""
    added, rivets, bench, filled = new
    work = balanced(scene, tuple(works(scene, shift.reach, rivets, shift.phase.present)))
    last = "a man inside has his way out" if _inside(work) else "nobody is left inside"
    lifts = unit_lifts(scene, bench, added)
    back = turned_back(lifts) and not lie.turned
    them = "it goes" if len(added) == 1 else "they go"
    stood, groups = sorted(set(indices(shift.phase.present)) - set(added)), bench.groups(added)
    over = going_over(scene, stood, groups) if lie.steady else ""
    up = raised(scene, stood, groups, filled)
    return Step(
        0,
        "close",
        f"Put in {scene.few(added)}" + (f": {count_of(len(rivets), 'rivet')}" if len(rivets) else ", bolted only"),
        reason,
        tuple(added),
        indices(shift.phase.present),
        work,
        scene.bolts_through(added, shift.phase.present, bench.driven),
        checks=(
            f"measured against the body before {them} in",
            f"inside cleaned, tools out, {last}",
            *raised_words(scene, up),
            *((over,) if over else ()),
            *_man_ways(scene, shift, work),
            *before_first(scene, shift, rivets, work, lie),
            *(CHECKS if work else ()),
        ),
        cautions=(
            *((TURNING,) if back else ()),
            *((GOES_OVER,) if over else ()),
            *((UNDER,) if up else ()),
            *cautions(work, lie),
            LIFTING,
        ),
        lift=max((one.mass for one in lifts), default=scene.lift(added)),
        lie=lie,
        lifts=(*turned_over(scene, shift, lie, filled, stood), *up, *lifts),
    )
