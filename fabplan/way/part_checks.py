"""The drawings of a body with all that is found on them, spacing judged with the stacks as they are."""

from collections.abc import Sequence
from dataclasses import replace

from fabplan.drawing.check import all_findings, check_drawing
from fabplan.model import checks
from fabplan.model.body import Body, Stacks
from fabplan.model.checked import Checked
from fabplan.model.finding import Finding
from fabplan.model.job import Job, PartSpec
from fabplan.model.layout import SpacingFigure
from fabplan.model.part import Part
from fabplan.model.rules import RuleSet
from fabplan.model.tables import Tables
from fabplan.rules.bends import check_bends
from fabplan.rules.spacing import judged
from fabplan.way.body_layouts import body_layouts
from fabplan.way.check import DRAWING_CHECKS, available, gravest_first, of_old, of_piece, supplier_of, used
from fabplan.way.layouts import ordered, stated
from fabplan.way.unchecked import not_checked


def check_parts(
    job: Job, body: Body, stacks: Stacks, tables: Tables, sets: Sequence[RuleSet]
) -> tuple[tuple[Checked, ...], tuple[Finding, ...]]:
    """The drawings with all findings on them, spacing judged with the true stacks; and the findings on bars."""
    spacing: dict[str, list[Finding]] = {}
    figures = {}
    for plate in body_layouts(job, body, stacks, tables):
        found, figures[plate.part] = judged(plate, sets)
        spacing.setdefault(plate.part, []).extend(found)
    checked = []
    for part in body.kinds():
        if part.blank is not None:
            own = [*all_findings(_own(job, part), part.blank.findings), *spacing.pop(part.mark, [])]
            checked.append(_checked(job, part, own, sets, figures.get(part.mark, ())))
    return tuple(checked), tuple(finding for found in spacing.values() for finding in found)


def _own(job: Job, part: Part) -> tuple[Finding, ...]:
    assert part.blank is not None
    known = ordered(job, part.spec)
    thickness = part.spec.thickness
    own = check_drawing(part.blank, supplier_of(job, part.spec), thickness, known)
    return tuple(of_piece(part.spec, (*own, *check_bends(part.blank, part.spec, thickness))))


def _checked(
    job: Job, part: Part, own: Sequence[Finding], sets: Sequence[RuleSet], figures: tuple[SpacingFigure, ...]
) -> Checked:
    assert part.blank is not None
    supplier = supplier_of(job, part.spec)
    named = [replace(finding, where=replace(finding.where, part=finding.where.part or part.mark)) for finding in own]
    return Checked(
        part.blank,
        part,
        gravest_first(named),
        (*not_checked(known_of(job, part.spec), DRAWING_CHECKS), *of_old(part.spec)),
        used(sets, supplier, stated(job, part.spec), made=part.spec.made),
        figures,
    )


def known_of(job: Job, spec: PartSpec) -> set[str]:
    """What is known of a piece in a body: rivets and seams always."""
    told = ordered(job, spec, job.shop.hoist)
    return {checks.RIVET, checks.SEAMS, *available(supplier_of(job, spec), stated(job, spec), told)}
