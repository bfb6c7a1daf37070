"""Steps for what is no rivet: welds, and the bolts, tap rivets and dummy heads that stay."""

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.driven import driven
from fabplan.model.dummies import dummy_count
from fabplan.model.joints import PlySpec, RivetSpec, SeamSpec, size_words
from fabplan.model.plugs import left_open, names_of
from fabplan.model.sequence import Step
from fabplan.sequence.gates import face_words
from fabplan.sequence.man_inside import INSIDE, way_words
from fabplan.sequence.scene import Scene

WELDING = (
    "Hot work: permit; clear or shield what burns to 10 m; fire watch during and 60 minutes after.",
    "Fume, arc and burns: screens, extraction, welder's dress; weld as the welding procedure of the works says.",
)
REAMER = "Eyes, gloves; a reamer that snatches turns the drill: hold it by both handles."
CHECKS = {
    "bolt": "{words}: nuts tight with the torque that their maker or the job states, and marked",
    "fitted bolt": "{words}: holes reamed through all plies at once, each bolt a push fit by hand or light hammer, "
    "nut tight",
    "tap rivet": "{words}: tapped through the clear plies, screwed home, square cut off, head hammered down all round",
    "dummy head": "{words}: fixed as the job says; they hold nothing",
}
"""What is done with each kind of fastener (common practice)."""


def weld_step(scene: Scene, placed: BoolArray, when: str, *, fitted: bool = False) -> Iterator[Step]:
    """The welds laid "before riveting" or "after riveting" as one step.

    Before riveting, those of pieces formed to template come apart, once these are `fitted`.
    """
    formed = {one.mark for one in scene.body.instances if scene.body.parts[one.part].spec.formed}
    late = when == "before riveting"
    own = [
        weld for weld in scene.job.welds if weld.when == when and (not late or formed.isdisjoint(weld.pieces) != fitted)
    ]
    if own:
        yield Step(
            0,
            "weld",
            f"Weld, {when}: {', '.join(weld.mark for weld in own)}",
            "heat draws plates: what is welded is squared again before its first rivet"
            if when == "before riveting"
            else "by the job file; rivets beside a weld are tried again when it is cold",
            present=tuple(np.nonzero(placed)[0].tolist()),
            checks=tuple(
                f"{weld.mark}: {weld.kind} {weld.size:g} mm, {weld.length:g} mm in all, {' to '.join(weld.pieces)}; "
                "looked at over its whole length"
                for weld in own
            ),
            cautions=WELDING,
        )


def stay_step(scene: Scene, present: BoolArray, fitted: IntArray) -> Iterator[Step]:
    """Fasteners that stay and are not driven, those at the indices `fitted`, as one step when rivets are in."""
    rivets, stacks = scene.job.rivets, scene.stacks
    found: dict[tuple[int, int], list[str]] = {}
    for i in fitted.tolist():
        found.setdefault((int(stacks.seam[i]), int(stacks.rivet[i])), []).append(stacks.number[i])
    if not found:
        return
    lines = []
    for (seam, rivet), numbers in sorted(found.items()):
        spec = rivets[rivet]
        only = "" if len(numbers) == int(np.sum(stacks.seam == seam)) else f" at {', '.join(numbers)}"
        size = f" in holes of {spec.hole:g} mm"
        kind = "bolt" if spec.kind == "rivet" else spec.kind  # a hole on a layer of bolts in a seam of rivets
        lines.append((kind, f"seam {scene.job.seams[seam].mark}: {len(numbers)} of {spec.mark}{only}{size}"))
    kinds, men = dict.fromkeys(kind for kind, _ in lines), bool(scene.men[fitted].any())
    yield Step(
        0,
        "bolt",
        f"Fit what stays beside the rivets: {', '.join(f'{kind}s' for kind in kinds)}",
        "the foreman's order in the job has it so"
        if scene.job.order
        else "when the rivets about them are in, nothing moves any more: holes are drilled, reamed and tapped true",
        present=tuple(np.nonzero(present)[0].tolist()),
        checks=(
            *finish_words(scene, [seam for seam, _ in sorted(found)]),
            *face_words(scene, _alone(scene, {seam for seam, _ in found})),
            *((way_words(scene, present),) if men else ()),
            *(CHECKS[kind].format(words=words) for kind, words in lines),
        ),
        fitted=tuple(fitted.tolist()),
        cautions=(*((INSIDE,) if men else ()), REAMER),
    )


def _alone(scene: Scene, seams: Iterable[int]) -> dict[int, int]:
    """Of some seams those in which nothing is driven, each with its fasteners: their faces are told nowhere else."""
    takes = driven(scene.job, scene.body, scene.stacks)
    own = {seam: scene.stacks.seam == seam for seam in sorted(seams)}
    return {seam: int(mine.sum()) for seam, mine in own.items() if seam >= 0 and not (mine & takes).any()}


def plug_step(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    """Plugs in the holes that the fittings chosen leave open, as one step before water is let in."""
    holes = left_open(scene.job, scene.body, scene.stacks)
    own = [(one, holes[one.mark]) for one in scene.job.locations if one.plug and holes[one.mark]]
    if own:
        yield Step(
            0,
            "bolt",
            "Plug the holes that no fitting takes",
            "the pattern is drilled whole, so that another fitting may go on later",
            present=tuple(np.nonzero(placed)[0].tolist()),
            checks=tuple(
                f"location {one.mark}: {len(open_holes)} of {one.plug} in {names_of(open_holes, scene.body)}: nut "
                "tight, sealed under head and nut where it is to hold water (common practice); both sides "
                "reached then is not proved: sooner where they are not"
                for one, open_holes in own
            ),
        )


def dummy_step(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    """Dummy heads, as one step at the end."""
    counts = sorted(dummy_count(scene.job, scene.body).items())
    if counts:
        yield Step(
            0,
            "bolt",
            "Fix the dummy heads",
            "they hold nothing and stand in nobody's way any more",
            present=tuple(np.nonzero(placed)[0].tolist()),
            checks=tuple(CHECKS["dummy head"].format(words=f"{count} of {mark}") for mark, count in counts),
        )


FINISHED = {
    "pilot": "pilot holes opened to {hole} through all plies",
    "reamed": "holes reamed to {hole} through all plies",
    "mark": "holes of {hole} drilled to the marks",
    "drilled from mate": "holes drilled through from its mates",
}
"""What is done to holes that are not cut full, before the first rivet of their seam."""


def finish_words(scene: Scene, seams: Sequence[int]) -> Iterator[str]:
    """A check for each seam, by index, of which holes are finished in place; what is tapped in its last ply apart."""
    for seam in (scene.job.seams[index] for index in dict.fromkeys(seams) if index >= 0):
        kinds = seam.kinds(scene.job.rivets)
        screws = [(spec, places) for spec, places in kinds if spec.tapped is not None]
        clear, last = (seam.plies[:-1], seam.plies[-1]) if screws else (seam.plies, None)
        sizes = size_words(seam.hole_sizes(scene.job.rivets))
        for state, words in FINISHED.items() if kinds else ():
            pieces = [ply.instance for ply in clear if ply.state == state]
            if pieces:
                done = words.format(hole=sizes).replace("all plies", "all clear plies" if screws else "all plies")
                yield f"seam {seam.mark}, {', '.join(pieces)}: {done} before its first fastener"
        if last is not None and last.state != "full":
            yield from _last_ply(seam, last, kinds)


def _last_ply(seam: SeamSpec, last: PlySpec, kinds: Sequence[tuple[RivetSpec, tuple[int, ...]]]) -> Iterator[str]:
    """What is done in place to the last ply of a seam that has screws: tapped for them, finished for the rest."""
    for spec, places in kinds:
        at = f"at {', '.join(map(str, places))} " if places else ""
        done = FINISHED[last.state].format(hole=f"{spec.hole:g} mm")
        if spec.tapped is not None:
            done = f"drilled {spec.tapped:g} mm, tapped M{spec.diameter:g} in place,"
        yield f"seam {seam.mark}, {last.instance}: {at}{done} before its first fastener"
