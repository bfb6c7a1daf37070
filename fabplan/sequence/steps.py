"""Steps of work, one sheet each, with reasons, checks and cautions."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.geom.profile import bounds
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.joints import LevelSpec
from fabplan.model.sequence import ACCESS, SeamWork, Step
from fabplan.sequence.access import Access, ways_in
from fabplan.sequence.driving import WORDS, driving_order, likes
from fabplan.sequence.erect import LIFTING, erection
from fabplan.sequence.gates import face_words
from fabplan.sequence.joining import dummy_step, finish_words, stay_step, weld_step
from fabplan.sequence.phases import HeldBack, Phase
from fabplan.sequence.reach import DRIVE, ENTER, HOLD
from fabplan.sequence.scene import LONG, Scene
from fabplan.sequence.standing import standing

BELOW = -0.7  # upward part of the way out from a head: who stands there is below it
ENTRIES = 3  # openings named by which a man goes in
MEASURED = 4  # plates measured across
SQUARE = 3.0  # mm, greatest difference of diagonals before riveting (common practice)
HOT = (
    "Hot work: permit; clear or shield what burns to 10 m; fire watch during and 60 minutes after; catch and drop "
    "zones for hot rivets.",
    "Eyes, gloves, leather, hearing protection; change places often: trigger time of both driver and holder-up counts.",
)
INSIDE = (
    "Confined space: permit, air test, fan, attendant outside, rescue plan before anyone goes in; a rescuer without "
    "them is the next victim."
)
WATER = "Water test: 1 t for each cubic metre, blocks under the floor, vent open; never air in its place."


def make_steps(scene: Scene, placed: BoolArray, phases: Sequence[Phase], back: HeldBack) -> tuple[Step, ...]:
    """All steps, numbered."""
    late = [*back.loose.tolist(), *back.closing.tolist()]
    off = [i for i in sorted(late) if len(phases) and not phases[0].present[i]]
    driven = sum(len(phase.rivets) + len(phase.fitted) for phase in phases)
    drafts = [
        *erection(scene, placed, back, off),
        _dry_fit(scene, placed),
        _squaring(scene, placed),
        *weld_step(scene, placed, "before riveting"),
        *_templates(scene, placed),
        *_riveting(scene, phases, back, off),
        *weld_step(scene, placed, "after riveting"),
        *dummy_step(scene, placed),
        *(_test(scene, placed) if driven == len(scene.stacks) else ()),
    ]
    return tuple(replace(step, number=number) for number, step in enumerate(drafts, start=1))


def count_of(number: int, what: str) -> str:
    """A number of things: 1 rivet, 2 rivets."""
    return f"{number} {what}{'' if number == 1 else 's'}"


def _all(placed: BoolArray) -> tuple[int, ...]:
    return tuple(np.nonzero(placed)[0].tolist())


def _dry_fit(scene: Scene, placed: BoolArray) -> Step:
    bolts = scene.bolts_through(_all(placed))
    total = sum(count for _, count in bolts)
    return Step(
        0,
        "dry-fit",
        "Dry fit of the whole body",
        "no rivet goes in before every hole of every joint is good",
        present=_all(placed),
        bolts=bolts,
        checks=(
            f"{total} service bolts in, both ends of every row, then tightened from the middle outwards",
            "unfair holes listed: seam, number, how far out",
            "every hole of a joint passes a pin of rivet diameter, or is reamed through all plies",
        ),
        cautions=(LIFTING, "A drift brings holes together; it never enlarges one."),
    )


def _templates(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    """The fit of what is formed to template, when its mates stand true: its holes are taken from them."""
    own = [i for i, instance in enumerate(scene.body.instances) if scene.body.parts[instance.part].spec.formed]
    if not own:
        return
    marks = {scene.mark(i) for i in own}
    mates = {
        seam.mark: [ply.instance for ply in seam.plies if ply.instance not in marks]
        for seam in scene.job.seams
        if marks & {ply.instance for ply in seam.plies}
    }
    yield Step(
        0,
        "template",
        f"Fit what is formed to template: {scene.marks(own)}",
        "its holes are taken from its mates, which stand true now; its rivets are driven when it goes on again",
        parts=tuple(own),
        present=tuple(sorted({*_all(placed), *own})),
        checks=(
            "a first-off proved against its mates before the others are formed",
            *(f"seam {mark}: holes marked through from {', '.join(found)}" for mark, found in mates.items()),
            "taken off, drilled, burr off both faces, trimmed to its edges, and bolted on again",
        ),
        cautions=(LIFTING,),
        lift=scene.lift(own),
    )


def _squaring(scene: Scene, placed: BoolArray) -> Step:
    plates = [i for i in _all(placed) if not scene.body.part_of(i).section and scene.body.part_of(i).panels]
    plates.sort(key=lambda i: (i != scene.datum, -scene.mass(i), i))
    diagonals = [(i, _diagonal(scene, i)) for i in plates]
    checks = [
        f"{scene.mark(i)}: both diagonals {diagonal:.0f} mm, apart by no more than {SQUARE:g} mm (common practice)"
        for i, diagonal in diagonals
        if diagonal > 0.0
    ]
    return Step(
        0,
        "square",
        "Square and true the body",
        "what is riveted crooked stays crooked",
        present=_all(placed),
        checks=(
            *checks[:MEASURED],
            *map(_level, scene.job.levels),
            "wind: sighted over two straight edges at the ends, found value noted",
        ),
        cautions=(LIFTING,),
    )


def _level(level: LevelSpec) -> str:
    """A level as it is measured."""
    rows = ", ".join(f"{row.instance}/{row.row}" for row in level.rows)
    height = "level with one another" if level.height is None else f"at z {level.height:g} mm over the datum's frame"
    return f"level {level.mark}: {rows} {height}, within {level.within:g} mm, packed where they are not"


def _diagonal(scene: Scene, instance: int) -> float:
    """Diagonal of a plate with four square corners, mm; 0 of any other: it has no corners to measure from."""
    outline = scene.body.part_of(instance).panels[0].outline
    x0, y0, x1, y1 = bounds(outline).tolist()
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    away = np.abs(outline.vertices[:, None] - corners[None]).max(axis=2).min(axis=0)
    return float(np.hypot(x1 - x0, y1 - y0)) if (away <= FIGURE).all() else 0.0


def _riveting(scene: Scene, phases: Sequence[Phase], back: HeldBack, off: list[int]) -> Iterator[Step]:
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


def _works(scene: Scene, reach: Access, rivets: IntArray) -> Iterator[SeamWork]:
    """Runs of one seam driven from one side, in driving order."""
    from_point = reach.driven_from(1)
    seams = scene.stacks.seam[rivets]
    for seam in np.unique(seams).tolist():
        for side in (1, 0):
            own = rivets[(seams == seam) & (from_point[rivets] == (side == 1))]
            if len(own):
                yield _work(scene, reach, seam, own, side)


def _balanced(scene: Scene, works: tuple[SeamWork, ...]) -> tuple[SeamWork, ...]:
    """The runs with each beside its like on the other side of the body, to be driven in turn: it draws neither way."""
    points = scene.stacks.point
    found = likes([points[run.rivets] for run in works], (points.min(axis=0) + points.max(axis=0)) / 2.0)
    ordered: list[SeamWork] = []
    for number, (run, like) in enumerate(zip(works, found, strict=True)):
        if like < 0:
            ordered.append(run)
        elif like > number:
            pair = (run, works[like])
            names = [scene.job.seams[one.seam].mark if one.seam >= 0 else "(none)" for one in pair]
            ordered += [
                replace(one, note=f"{one.note}; in turn with {name}, as far on either side")
                for one, name in zip(pair, reversed(names), strict=True)
            ]
    return tuple(ordered)


def _work(scene: Scene, reach: Access, seam: int, own: IntArray, side: int) -> SeamWork:
    driver, holder = reach.kind[own, side, DRIVE], reach.kind[own, 1 - side, HOLD:].max(axis=1)
    tools = scene.ways.tools
    setting = scene.job.shop.driving_order

    def names(way: IntArray) -> str:
        used = np.unique(scene.ways.tool[way])
        return " or ".join(tools[int(k)].name for k in used)

    return SeamWork(
        seam=seam,
        rivets=driving_order(own, setting),
        driver_side="point" if side == 1 else "head",
        driver_access=ACCESS[int(driver.max())],
        holder_access=ACCESS[int(holder.max())],
        driver_tool=names(reach.way[own, side, DRIVE]),
        holder_tool=names(reach.way[own, 1 - side, HOLD]),
        entry_tool=names(reach.way[own, 1 - side, ENTER]),
        note=f"drive {WORDS[setting]}",
        bolts_out=int(scene.bolted[own].sum()),
        driver_by=scene.gates(reach.gate[own, side, DRIVE]),
        holder_by=scene.gates(reach.gate[own, 1 - side, HOLD:]),
    )


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
    work = _balanced(scene, tuple(_works(scene, phase.reach, rivets)))
    bolts = sum(count for _, count in scene.bolts_through(off)) if off else 0
    taken_off = (f"off again before the first rivet: {scene.marks(off)}, {count_of(bolts, 'service bolt')} out",)
    seams = _seam_marks(scene, work)
    return Step(
        0,
        "rivet",
        f"Rivet {scene.mark(plate)}: {count_of(len(rivets), 'rivet')}, seam{'s' if len(seams) > 1 else ''} "
        f"{', '.join(seams)}",
        f"both sides {'of every rivet' if len(rivets) > 1 else 'of it'} are reached while {_missing(scene, phase)}",
        present=_all(phase.present),
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
    work = _balanced(scene, tuple(_works(scene, phase.reach, rivets)))
    last = "a man inside has his way out" if _inside(work) else "nobody is left inside"
    them = "it goes" if len(added) == 1 else "they go"
    return Step(
        0,
        "close",
        f"Put in {scene.few(added)}" + (f": {count_of(len(rivets), 'rivet')}" if len(rivets) else ", bolted only"),
        reason,
        tuple(added),
        _all(phase.present),
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


def _test(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    tight = [seam.mark for seam in scene.job.seams if seam.tight]
    if tight:
        yield Step(
            0,
            "test",
            "Caulk, then leak test with water",
            f"{len(tight)} seams are to hold water; before paint inside or out",
            present=_all(placed),
            checks=(
                "edges caulked from the outside; plate under 5 mm wants compound in the joint (common practice)",
                "filled to the working head, held 1 to 24 hours (from memory); weeps marked on a sketch",
                "emptied below the leak before it is caulked again; never a ring weld round a rivet",
            ),
            cautions=(WATER, "Only static head: anything under more pressure is outside this plan."),
        )
