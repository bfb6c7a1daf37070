"""The index of the order of work: for each seam and each piece the step and the sheet where it is handled."""

from collections.abc import Mapping, Sequence

import numpy as np

from fabplan.model.dummies import dummies_of
from fabplan.model.page import Arc, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.sheets.frame import Paper, rooms
from fabplan.sheets.table import Table, laid

Item = Stroke | Arc | Text
ABREAST = 3  # pieces side by side


def index_pages(plan: Plan, sheet: Mapping[int, int], paper: Paper) -> list[list[Item]]:
    """The pages.

    Args:
        plan: with an order of work.
        sheet: number of the first sheet of each step.
        paper: that they are set on.
    """
    return laid([_seams(plan, sheet), _pieces(plan, sheet)], rooms(paper))[0]


def _seams(plan: Plan, sheet: Mapping[int, int]) -> Table:
    assert plan.sequence is not None
    assert plan.stacks is not None
    assert plan.body is not None
    steps: dict[int, list[int]] = {}
    for step in plan.sequence.steps:
        for seam in [*(work.seam for work in step.work), *plan.stacks.seam[list(step.fitted)].tolist()]:
            steps.setdefault(seam, []).append(step.number)
        for seam, _ in step.unproved:
            steps.setdefault(seam, []).append(step.number)
    count = np.bincount(plan.stacks.seam[plan.stacks.seam >= 0], minlength=len(plan.job.seams))
    count += dummies_of(plan.job, plan.body)
    for seam, many in (pair for step in plan.sequence.steps for pair in step.unproved):
        count[seam] += many
    last = [step.number for step in plan.sequence.steps if step.kind == "bolt" and not step.fitted]
    rows = []
    for k, seam in enumerate(plan.job.seams):
        dummy = any(rivet.mark == seam.rivet and rivet.kind == "dummy head" for rivet in plan.job.rivets)
        own = last[-1:] if dummy else list(dict.fromkeys(steps.get(k, ())))
        plies = ", ".join(dict.fromkeys(ply.instance for ply in seam.plies))
        kinds = ", ".join(seam.fasteners)
        rows.append((seam.mark, plies, str(count[k]), kinds, "water" if seam.tight else "-", *_at(own, sheet)))
    heads = ("seam", "plies from the made heads", "count", "rivet", "tight", "step", "sheet")
    return Table("Index of seams", heads, (0.8, 3.0, 0.8, 0.9, 0.8, 1.0, 1.0), tuple(rows), (2,))


def _at(steps: Sequence[int], sheet: Mapping[int, int]) -> tuple[str, str]:
    if not steps:
        return "-", "-"
    return ", ".join(map(str, steps)), ", ".join(str(sheet[number]) for number in steps)


def _pieces(plan: Plan, sheet: Mapping[int, int]) -> Table:
    """Where each piece comes in, several side by side."""
    assert plan.body is not None
    assert plan.sequence is not None
    steps: dict[int, list[int]] = {}
    for step in plan.sequence.steps:
        for part in step.parts:
            steps.setdefault(part, []).append(step.number)
    cells = [(one.mark, *_at(steps.get(k, []), sheet)) for k, one in enumerate(plan.body.instances)]
    cells += [("", "", "")] * (-len(cells) % ABREAST)
    rows = tuple(tuple(word for cell in cells[k : k + ABREAST] for word in cell) for k in range(0, len(cells), ABREAST))
    heads, shares = ("piece", "step", "sheet") * ABREAST, (1.2, 1.0, 1.0) * ABREAST
    return Table("Index of pieces: where each comes in", heads, shares, rows)
