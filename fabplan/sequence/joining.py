"""Steps for what is no rivet: welds, and the bolts, tap rivets and dummy heads that stay."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.dummies import dummy_count
from fabplan.model.sequence import Step
from fabplan.sequence.scene import Scene

WELDING = (
    "Hot work: permit; clear or shield what burns to 10 m; fire watch during and 60 minutes after.",
    "Fume, arc and burns: screens, extraction, welder's dress; weld as the welding procedure of the works says.",
)
CHECKS = {
    "bolt": "{words}: nuts tight with the torque that their maker or the job states, and marked",
    "fitted bolt": "{words}: holes reamed through all plies at once, each bolt a push fit by hand or light hammer, "
    "nut tight",
    "tap rivet": "{words}: tapped through the clear plies, screwed home, square cut off, head hammered down all round",
    "dummy head": "{words}: fixed as the job says; they hold nothing",
}
"""What is done with each kind of fastener (common practice)."""


def weld_step(scene: Scene, placed: BoolArray, when: str) -> Iterator[Step]:
    """The welds laid "before riveting" or "after riveting" as one step."""
    own = [weld for weld in scene.job.welds if weld.when == when]
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
    kinds = dict.fromkeys(kind for kind, _ in lines)
    yield Step(
        0,
        "bolt",
        f"Fit what stays beside the rivets: {', '.join(f'{kind}s' for kind in kinds)}",
        "when the rivets about them are in, nothing moves any more: holes are drilled, reamed and tapped true",
        present=tuple(np.nonzero(present)[0].tolist()),
        checks=(
            *finish_words(scene, [seam for seam, _ in sorted(found)]),
            *(CHECKS[kind].format(words=words) for kind, words in lines),
        ),
        fitted=tuple(fitted.tolist()),
        cautions=("Eyes, gloves; a reamer that snatches turns the drill: hold it by both handles.",),
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
    "pilot": "pilot holes opened to {hole:g} mm through all plies",
    "reamed": "holes reamed to {hole:g} mm through all plies",
    "mark": "holes of {hole:g} mm drilled to the marks",
    "drilled from mate": "holes drilled through from its mates",
}
"""What is done to holes that are not cut full, before the first rivet of their seam."""


def finish_words(scene: Scene, seams: Sequence[int]) -> Iterator[str]:
    """A check for each seam, by index, of which holes are finished in place; a ply to be tapped to its own size."""
    rivets = {rivet.mark: rivet for rivet in scene.job.rivets}
    for seam in (scene.job.seams[index] for index in dict.fromkeys(seams) if index >= 0):
        spec = rivets.get(seam.rivet)
        screwed = spec is not None and spec.tapped is not None
        for state, words in FINISHED.items():
            pieces = [ply.instance for ply in (seam.plies[:-1] if screwed else seam.plies) if ply.state == state]
            if pieces and spec is not None:
                done = words.format(hole=spec.hole).replace("all plies", "all clear plies" if screwed else "all plies")
                yield f"seam {seam.mark}, {', '.join(pieces)}: {done} before its first fastener"
        if spec is not None and spec.tapped is not None and seam.plies[-1].state != "full":
            last = seam.plies[-1].instance
            size = f"drilled {spec.tapped:g} mm, tapped M{spec.diameter:g}"
            yield f"seam {seam.mark}, {last}: {size} in place, before its first fastener"
