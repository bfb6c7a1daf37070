"""Steps for what is no rivet: welds, and the bolts, tap rivets and dummy heads that stay."""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from fabplan.model.arrays import BoolArray
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
        marks = [scene.mark(i) for i in range(len(placed))]
        yield Step(
            0,
            "weld",
            f"Weld, {when}: {', '.join(weld.mark for weld in own)}",
            "heat draws plates: what is welded is squared again before its first rivet"
            if when == "before riveting"
            else "by the job file; rivets beside a weld are tried again when it is cold",
            parts=tuple(sorted({marks.index(mark) for weld in own for mark in weld.pieces})),
            present=tuple(np.nonzero(placed)[0].tolist()),
            checks=tuple(
                f"{weld.mark}: {weld.kind} {weld.size:g} mm, {weld.length:g} mm in all, {' to '.join(weld.pieces)}; "
                "looked at over its whole length"
                for weld in own
            ),
            cautions=WELDING,
        )


def stay_step(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    """Fasteners that stay and are not driven, as one step when all rivets are in."""
    rivets = scene.job.rivets
    found: dict[tuple[int, int], int] = Counter(
        (int(rivet), int(seam))
        for rivet, seam in zip(scene.stacks.rivet, scene.stacks.seam, strict=True)
        if rivet >= 0 and rivets[int(rivet)].kind != "rivet"
    )
    lines = [
        (rivets[rivet].kind, f"seam {scene.job.seams[seam].mark}: {count} of {rivets[rivet].mark}")
        for (rivet, seam), count in sorted(found.items(), key=lambda item: (item[0][1], item[0][0]))
    ]
    lines += [
        ("dummy head", f"{count} of {mark}") for mark, count in sorted(dummy_count(scene.job, scene.body).items())
    ]
    if lines:
        kinds = dict.fromkeys(kind for kind, _ in lines)
        yield Step(
            0,
            "bolt",
            f"Fit what stays beside the rivets: {', '.join(f'{kind}s' for kind in kinds)}",
            "when the rivets are in, nothing moves any more: holes are reamed and tapped true",
            present=tuple(np.nonzero(placed)[0].tolist()),
            checks=tuple(CHECKS[kind].format(words=words) for kind, words in lines),
            cautions=("Eyes, gloves; a reamer that snatches turns the drill: hold it by both handles.",),
        )
