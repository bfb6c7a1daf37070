"""Bolts on the sheet of a step: sizes of those that go in, those that stay in till later, those that stay for good."""

import numpy as np

from fabplan.model.figures import runs
from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.row import numbers_of
from fabplan.sheets.table import Table, natural


def bolt_sizes(plan: Plan, step: Step) -> list[str]:
    """Which service bolts the seams of a step take, a line for those that take the same; a seam may take several.

    On the bench they go in and come out in one step.
    """
    assert plan.stacks is not None
    known = {i: f"{d:g} x {length:g}" for i, d, length in plan.supply.service}
    alike: dict[str, list[str]] = {}
    own = [(seam, np.nonzero(plan.stacks.seam == seam)[0]) for seam, _ in step.bolts]
    for seam, rivets in own or [(run.seam, run.rivets) for run in step.work if step.alone]:
        sizes = sorted({known[i] for i in rivets.tolist() if i in known})
        if sizes:
            alike.setdefault(" or ".join(sizes), []).append(plan.job.seams[seam].mark if seam >= 0 else "(none)")
    if len(alike) == 1:
        return [f"{'All are' if own else 'Service bolts'} {size}, with a nut and two washers each." for size in alike]
    first = "" if own else "Service bolts "
    return [f"{first}{size}, with a nut and two washers each: {', '.join(marks)}." for size, marks in alike.items()]


def waiting(plan: Plan, step: Step) -> list[str]:
    """Service bolts that stay in seams of which a step drives a part, and the steps that drive the others."""
    assert plan.sequence is not None
    assert plan.stacks is not None
    bolted = np.zeros(len(plan.stacks), dtype=np.bool_)
    bolted[list(plan.supply.bolted)] = True
    drives = np.zeros(len(plan.stacks), dtype=np.int64)
    for one in plan.sequence.steps:
        for run in one.work:
            drives[run.rivets] = one.number
        drives[list(one.fitted)] = one.number
    away = ~np.isin(plan.stacks.ply_instance, list(step.present))
    stand = np.add.reduceat(away, plan.stacks.first[:-1]) == 0
    lines = []
    for seam in dict.fromkeys(run.seam for run in step.work):
        left = np.nonzero(bolted & stand & (plan.stacks.seam == seam) & ((drives > step.number) | (drives == 0)))[0]
        if len(left):
            mark = plan.job.seams[seam].mark if seam >= 0 else "(none)"
            steps = [str(number) for number in np.unique(drives[left]).tolist() if number]
            till = f"till step {' and '.join(steps)}" if steps else "no order drives them"
            lines.append(f"{mark}: {len(left)} service bolts stay in, no {runs(numbers_of(plan, left))}, {till}.")
    return lines


def staying(plan: Plan, step: Step, wide: float) -> Table:
    """The bolts, fitted bolts and tap rivets that a step fits: how many of which size, and where."""
    assert plan.stacks is not None
    known = {i: (what, d, length) for i, what, d, length in plan.supply.stay}
    found: dict[tuple[int, str], list[int]] = {}
    for i in step.fitted:
        what, d, length = known.get(i, ("", 0.0, 0.0))
        size = f"{what} {d:g} x {length:g}" if what else "size not known: ask"
        found.setdefault((int(plan.stacks.seam[i]), size), []).append(i)
    rows = []
    for (seam, size), own in sorted(found.items()):
        holes = sorted({round(float(plan.stacks.hole[i]), 1) for i in own})
        mark = plan.job.seams[seam].mark if seam >= 0 else "(none)"
        where = runs(numbers_of(plan, np.array(own)))
        rows.append((mark, str(len(own)), size, " or ".join(f"{hole:g}" for hole in holes), where))
    heads = ("seam", "no", "d x length under the head", "hole", "at")
    return Table("Stays: bolts and tap rivets", heads, natural(heads, rows, wide), tuple(rows), (1, 3), whole=True)
