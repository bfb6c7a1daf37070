"""Steps of riveting: one for each phase and main plate, and those in which pieces come back in."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.arrays import IntArray
from fabplan.model.sequence import SeamWork, Step
from fabplan.sequence.access import ways_in
from fabplan.sequence.erect import LIFTING
from fabplan.sequence.gates import face_words
from fabplan.sequence.joining import finish_words, stay_step
from fabplan.sequence.phases import HeldBack, Phase
from fabplan.sequence.runs import balanced, works
from fabplan.sequence.scene import LONG, Scene, count_of, indices
from fabplan.sequence.standing import standing

BELOW = -0.7  # upward part of the way out from a head: who stands there is below it
ENTRIES = 3  # openings named by which a man goes in
HOT = (
    "Hot work: permit; clear or shield what burns to 10 m; fire watch during and 60 minutes after; catch and drop "
    "zones for hot rivets.",
    "Eyes, gloves, leather, hearing protection; change places often: trigger time of both driver and holder-up counts.",
)
INSIDE = (
    "Confined space: permit, air test, fan, attendant outside, rescue plan before anyone goes in; a rescuer without "
    "them is the next victim."
)


def riveting(scene: Scene, phases: Sequence[Phase], back: HeldBack, off: list[int]) -> Iterator[Step]:
    """One step for each phase and main plate; pieces that come back in get the step's kind 'close'."""
    before: list[Phase] = []
    for number, phase in enumerate(phases):
        added = [int(i) for i in phase.added.tolist() if number]
        groups = _groups(scene, phase)
        first = groups.pop(0)[1] if added and groups else np.zeros(0, dtype=np.int64)
        if added:
            yield _closing(scene, phase, added, first, _why_held(scene, phase, before, added, back))
        for k, (plate, rivets) in enumerate(groups):
            yield _rivet_step(scene, phase, plate, rivets, off if number == 0 and k == 0 else [])
        yield from stay_step(scene, phase.present, phase.fitted)
        before.append(phase)


def _why_held(scene: Scene, phase: Phase, before: Sequence[Phase], added: list[int], back: HeldBack) -> str:
    """Why pieces come in now: rivets that they would have shut off, or what the job or the search says."""
    driven = np.concatenate([earlier.rivets for earlier in before])
    shut = int((before[-1].reach.reached & ~phase.reach.reached)[driven].sum())
    if shut:
        them = "it" if len(added) == 1 else "them"
        return f"with {them} in, {count_of(shut, 'rivet')} of the steps before could not be driven"
    if set(added) & set(back.closing.tolist()) and back.why:
        return back.why
    return "loose by the job file, so put in after the rest"


def _groups(scene: Scene, phase: Phase) -> list[tuple[int, IntArray]]:
    """The rivets of a phase by their main plate: the heaviest ply; the datum's first, then the fullest."""
    masses = np.array([scene.mass(i) for i in range(len(scene.body.instances))])
    plates = np.array([not scene.body.part_of(i).section for i in range(len(masses))])
    rank = masses + np.where(plates, 1e6, 0.0)
    rank[scene.datum] = 1e9
    lead = np.where(scene.member[phase.rivets], rank, -1.0).argmax(axis=1) if len(phase.rivets) else np.zeros(0, int)
    groups = [(int(plate), phase.rivets[lead == plate]) for plate in np.unique(lead)]
    return sorted(groups, key=lambda group: (group[0] != scene.datum, -len(group[1]), group[0]))


def _inside(work: Sequence[SeamWork]) -> bool:
    """True where a man works inside the body."""
    return any("man inside" in (run.driver_access, run.holder_access) for run in work)


def _cautions(work: Sequence[SeamWork]) -> tuple[str, ...]:
    return (*((INSIDE,) if _inside(work) else ()), *(HOT if work else ()))


def _man_ways(scene: Scene, phase: Phase, work: Sequence[SeamWork]) -> tuple[str, ...]:
    """A check for the man inside: by which openings he goes in, and out again."""
    if not _inside(work):
        return ()
    words = [scene.gate(number) for number in ways_in(scene.site, phase.present)]
    more = f" or {len(words) - ENTRIES} others" if len(words) > ENTRIES else ""
    return (f"man inside, in and out by {' or '.join(words[:ENTRIES])}{more}: kept clear, nothing laid across",)


CHECKS = (
    "joint parted, deburred, cleaned, bolted again before its first rivet",
    "bolts and drifts out as rivets go in; neighbours tried again",
    "rivets tried with hammer and finger by a second person",
)


def _from_below(scene: Scene, work: Sequence[SeamWork]) -> Iterator[str]:
    """A check for the seams driven, and one for those held up, from under the body: nothing is known of the ground."""
    seams: dict[str, list[str]] = {"driven": [], "held up": []}
    for run in work:
        upward = scene.stacks.axis[run.rivets, 2] * (1.0 if run.driver_side == "point" else -1.0)
        under = scene.stacks.point[run.rivets, 2] < scene.lowest() + scene.job.shop.reach_length
        for what, out in (("driven", upward), ("held up", -upward)):
            if np.any(under & (out < BELOW)):
                seams[what].append(scene.job.seams[run.seam].mark if run.seam >= 0 else "(none)")
    for what, who in (("driven", "driver"), ("held up", "holder-up")):
        if seams[what]:
            marks = ", ".join(dict.fromkeys(seams[what]))
            lift = f"lift or turn the work so that the {who} stands free below"
            yield f"{marks} {what} from below, ground and table not considered: {lift}"


def _before(scene: Scene, work: Sequence[SeamWork]) -> Iterator[str]:
    """What is seen to before the first rivet of a step."""
    yield from _from_below(scene, work)
    yield from finish_words(scene, [run.seam for run in work])
    yield from face_words(scene, work)


def _rivet_step(scene: Scene, phase: Phase, plate: int, rivets: IntArray, off: list[int]) -> Step:
    work = balanced(scene, tuple(works(scene, phase.reach, rivets)))
    bolts = sum(count for _, count in scene.bolts_through(off)) if off else 0
    taken_off = (f"off again before the first rivet: {scene.marks(off)}, {count_of(bolts, 'service bolt')} out",)
    seams = _seam_marks(scene, work)
    return Step(
        0,
        "rivet",
        f"Rivet {scene.mark(plate)}: {count_of(len(rivets), 'rivet')}, seam{'s' if len(seams) > 1 else ''} "
        f"{', '.join(seams)}",
        f"both sides {'of every rivet' if len(rivets) > 1 else 'of it'} are reached while {_missing(scene, phase)}",
        present=indices(phase.present),
        work=work,
        checks=(
            *(taken_off if off else ()),
            *_man_ways(scene, phase, work),
            standing(scene, phase.present),
            *_before(scene, work),
            *CHECKS,
        ),
        cautions=_cautions(work),
    )


def _seam_marks(scene: Scene, work: Sequence[SeamWork]) -> list[str]:
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


def _closing(scene: Scene, phase: Phase, added: list[int], rivets: IntArray, reason: str) -> Step:
    """Pieces that come back in, with the rivets of the phase's first plate; none where no order drives them."""
    work = balanced(scene, tuple(works(scene, phase.reach, rivets)))
    last = "a man inside has his way out" if _inside(work) else "nobody is left inside"
    them = "it goes" if len(added) == 1 else "they go"
    return Step(
        0,
        "close",
        f"Put in {scene.few(added)}" + (f": {count_of(len(rivets), 'rivet')}" if len(rivets) else ", bolted only"),
        reason,
        tuple(added),
        indices(phase.present),
        work,
        scene.bolts_through(added, phase.present),
        checks=(
            f"measured against the body before {them} in",
            f"inside cleaned, tools out, {last}",
            *_man_ways(scene, phase, work),
            standing(scene, phase.present),
            *_before(scene, work),
            *(CHECKS if work else ()),
        ),
        cautions=(*_cautions(work), LIFTING),
        lift=scene.lift(added),
    )
