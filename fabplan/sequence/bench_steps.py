"""Steps of the bench: what is riveted there, and the body bolted up again from what comes off it."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.sequence import Step
from fabplan.sequence.erect import LIFTING
from fabplan.sequence.footing import GOES_OVER, UNDER, going_over, raised, raised_words
from fabplan.sequence.lifting import turned_back, unit_lifts
from fabplan.sequence.orders import Order
from fabplan.sequence.parting import taken_apart
from fabplan.sequence.riveting import CHECKS, TURNING, before_first, cautions, seam_marks, turned_over
from fabplan.sequence.runs import balanced, works
from fabplan.sequence.scene import Scene, count_of, indices
from fabplan.sequence.shifts import Shift
from fabplan.sequence.stances import ALIKE, AS_DRAWN
from fabplan.sequence.standing import lie_of

FREE = "both sides of every rivet are free there; it joins the body as one piece"
HANGING = "in the body nobody gets at some of these rivets; riveted here it comes on as one piece"


def bench_steps(scene: Scene, order: Order, fitted: Sequence[int]) -> Iterator[Step]:
    """One step for each sub-assembly and way in which it lies, then the body bolted up again where it was parted.

    It goes up in the order in which pieces were `fitted` dry, those of a sub-assembly with its first.
    """
    bench, phase = order.bench, order.shifts[0].phase if order.shifts else None
    turns = 0
    for number, (unit, shifts) in enumerate(zip(bench.units, bench.shifts, strict=True)):
        for shift in shifts:
            turns += shift.turned or (shift.begins and float(shift.stance.down @ AS_DRAWN) <= ALIKE)
            if len(shift.rivets):
                yield _bench_step(scene, shift, unit, turns, HANGING if number < bench.must else FREE)
    if phase is not None and taken_apart(order):
        yield _again(scene, order, fitted)


def _bench_step(scene: Scene, shift: Shift, unit: Sequence[int], turns: int, why: str) -> Step:
    work = balanced(scene, tuple(works(scene, shift.reach, shift.rivets, shift.phase.present)))
    seams = seam_marks(scene, work)
    lie = lie_of(scene, shift, shift.rivets, turns, turned=shift.turned)
    return Step(
        0,
        "rivet",
        f"On the bench, rivet {scene.few(unit[1:])} to {scene.mark(unit[0])}: {count_of(len(shift.rivets), 'rivet')}, "
        f"seam{'s' if len(seams) > 1 else ''} {', '.join(seams)}",
        why,
        parts=tuple(unit),
        present=tuple(sorted(unit)),
        work=work,
        checks=(
            *before_first(scene, shift, shift.rivets, work, lie),
            f"{sum(run.bolts_out for run in work)} service bolts in, finger tight, then from the middle outwards",
            "flat and square on the bench, edges and free rows as in the dry fit, before its first rivet",
            *CHECKS,
        ),
        cautions=cautions(work, lie),
        lift=lie.mass,
        lie=lie,
        lifts=turned_over(scene, shift, lie, np.zeros(len(scene.member), dtype=np.bool_), unit),
    )


def _again(scene: Scene, order: Order, fitted: Sequence[int]) -> Step:
    """The body bolted up again from sub-assemblies and single pieces."""
    phase, bench = order.shifts[0].phase, order.bench
    present = indices(phase.present)
    parts = bench.as_fitted(present, fitted)
    lifts = unit_lifts(scene, bench, parts)
    units = [scene.mark(unit[0]) for unit in bench.units if phase.present[unit[0]]]
    bolts = scene.bolts_through(present, phase.present, bench.driven)
    over, up = going_over(scene, (), bench.groups(parts)), raised(scene, (), bench.groups(parts), bench.driven)
    return Step(
        0,
        "erect",
        f"Bolt up again with what comes off the bench: {', '.join(units)}",
        "as in the dry fit, the datum first; what is riveted goes on as one piece",
        parts=parts,
        present=present,
        bolts=bolts,
        checks=(
            f"{sum(count for _, count in bolts)} service bolts in, finger tight, then from the middle outwards",
            "diagonals and wind measured again, against the figures of the dry fit",
            "holes tried again with a pin: riveting draws plates; reamed through all plies where they are out",
            *raised_words(scene, up),
            *((over,) if over else ()),
        ),
        cautions=(
            *((TURNING,) if turned_back(lifts) else ()),
            *((GOES_OVER,) if over else ()),
            *((UNDER,) if up else ()),
            LIFTING,
        ),
        lift=max((one.mass for one in lifts), default=scene.lift(present)),
        lifts=(*up, *lifts),
    )
