"""The driving of rivets through pieces formed to template: after their fit, and without proof of reach."""

from collections.abc import Iterator

import numpy as np

from fabplan.model.arrays import BoolArray
from fabplan.model.sequence import Step
from fabplan.sequence.erect import LIFTING
from fabplan.sequence.gates import face_words
from fabplan.sequence.joining import finish_words
from fabplan.sequence.riveting import CHECKS, HOT
from fabplan.sequence.scene import Scene, count_of, indices

UNPROVED = (
    "not proved: its form is not known, so neither driver nor holder-up nor the way in of a rivet was followed; tried "
    "with their tools in place before the first rivet, fitted bolts or tap rivets where they do not reach"
)


def formed_step(scene: Scene, placed: BoolArray) -> Iterator[Step]:
    """The rivets of seams that pieces formed to template alone close, as one step; others go in with their stacks."""
    formed = [i for i, one in enumerate(scene.body.instances) if scene.body.parts[one.part].spec.formed]
    many = _alone(scene, {scene.mark(i) for i in formed})
    if not many:
        return
    marks = [scene.job.seams[seam].mark for seam in many]
    seams = f"seam{'s' if len(marks) > 1 else ''} {', '.join(marks)}"
    yield Step(
        0,
        "rivet",
        f"Rivet {scene.marks(formed)}, formed to template: {count_of(sum(many.values()), 'rivet')}, {seams}",
        "its holes were taken from its mates and it is on again; reach is not proved",
        present=tuple(sorted({*indices(placed), *formed})),
        checks=(UNPROVED, *finish_words(scene, list(many)), *face_words(scene, many), *CHECKS),
        cautions=(*HOT, LIFTING),
        unproved=tuple(many.items()),
    )


def _alone(scene: Scene, formed: set[str]) -> dict[int, int]:
    """How many holes of each seam have no other mate than a piece of these marks; of the first other ply."""
    stacked = set(zip(scene.stacks.ply_instance.tolist(), scene.stacks.ply_hole.tolist(), strict=True))
    index = {one.mark: i for i, one in enumerate(scene.body.instances)}
    found = {}
    for number, seam in enumerate(scene.job.seams):
        others = [ply for ply in seam.plies if ply.instance not in formed]
        if len(others) in (0, len(seam.plies)):
            continue
        mate = index[others[0].instance]
        rows = np.array(scene.body.part_of(mate).holes.holes.row, dtype=np.str_)
        own = [k for k in np.nonzero(rows == others[0].row)[0].tolist() if (mate, k) not in stacked]
        if own and scene.body.poses[mate] is not None:
            found[number] = len(own)
    return found
