"""The whole road: from a job file to everything that goes onto the papers."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from fabplan.body.causes import Cause, accused, causes, tell
from fabplan.body.change import Shop
from fabplan.body.check import check_body
from fabplan.body.head_room import check_head_room
from fabplan.body.levels import check_levels
from fabplan.body.loops import loops
from fabplan.body.marks import check_marks
from fabplan.body.overlay import overlays
from fabplan.body.parts import make_parts
from fabplan.body.place import Placing
from fabplan.body.residuals import residuals
from fabplan.body.stacks import BodyHoles
from fabplan.body.template import to_be_taken
from fabplan.drawing.hand import other_hand
from fabplan.model import checks
from fabplan.model.body import Body, Stacks
from fabplan.model.checked import Checked
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding
from fabplan.model.job import Job, PartSpec
from fabplan.model.joints import FROM_MATE
from fabplan.model.lookup import find_section
from fabplan.model.part import Part
from fabplan.model.plan import Account, Plan
from fabplan.model.plugs import left_open
from fabplan.model.rules import RuleSet
from fabplan.model.tables import Tables
from fabplan.rules.as_built import check_as_built
from fabplan.rules.bearing import check_bearing
from fabplan.rules.fasteners import check_fasteners
from fabplan.rules.legs import check_legs, without_gauge
from fabplan.rules.tolerances import read_tolerances
from fabplan.sequence.order import order
from fabplan.way.accept import KIT, accepted, geometry, left_over
from fabplan.way.assembly import assembled
from fabplan.way.check import (
    Progress,
    case_of,
    gravest_first,
    judge,
    of_old,
    rule_sets,
)
from fabplan.way.dry_fit import as_fitted
from fabplan.way.fold import folded
from fabplan.way.formed import forming, supplied
from fabplan.way.options import check_options
from fabplan.way.part_checks import check_parts, known_of
from fabplan.way.unchecked import named, not_checked


def plan(path: Path | str, progress: Progress = str) -> Plan:
    """Everything about one job.

    Args:
        path: the job file.
        progress: told each stage in a few words.

    Raises:
        FabplanError: the job file or a table cannot be used.
    """
    made = assembled(path, progress)
    job, tables, placing, holes, stacks = made.job, made.tables, made.placing, made.holes, made.stacks
    sets = rule_sets(job.rules)
    progress("checking")
    records, formed = forming(job, placing.body, holes, stacks, tables)
    why = _causes(job, placing, tables)
    body_findings = (*made.row_findings, *formed, *check_body(job, placing, holes, stacks, accused(why)))
    checked, bar_findings = check_parts(job, placing.body, stacks, tables, sets)
    checked += tuple(judge(rest, case_of(job, job.drawings / rest.name, None, sets)) for rest in made.rests)
    leg_findings = (
        *check_legs(job, placing.body, stacks, tables),
        *check_bearing(job, placing.body, stacks, tables),
    )
    joint_findings = (
        *check_fasteners(job, placing.body, stacks, tables),
        *check_marks(job, placing.body),
        *check_levels(job, placing.body, holes, stacks),
        *check_as_built(job, read_tolerances()),
    )
    room_findings = check_head_room(job, placing.body, stacks, tables, body_findings)
    progress("counting")
    kit = placing.body, holes, stacks
    supply, supply_findings = supplied(job, kit, tables)
    progress("reach and order")
    sequence, order_findings = order(job, placing.body, stacks, tables, supply.bolted)
    if sequence.moved:
        supply, supply_findings = supplied(job, kit, tables, dict(sequence.moved))
    of_rules = (*bar_findings, *leg_findings, *joint_findings)
    of_work = (*room_findings, *supply_findings, *order_findings)
    told = (*of_rules, *tell(job, why), *body_findings, *of_work)
    option_findings = tuple(check_options(made, told, progress))
    dry_fit, closings, fit_findings = as_fitted(job, placing.body, stacks, sequence)
    shapes = geometry(job, [*made.drawings.values(), *made.rests])
    checked = tuple(replace(one, findings=accepted(job, one.findings, shapes)) for one in checked)
    own = [finding for one in checked for finding in one.findings]
    others = accepted(job, (*told, *option_findings, *fit_findings), shapes)
    checked = tuple(replace(one, of_body=_about(one, placing.body, others)) for one in checked)
    elsewhere = _elsewhere(job, placing.body, holes, stacks)
    return Plan(
        job=job,
        tables=tables,
        checked=checked,
        body=placing.body,
        stacks=stacks,
        sequence=sequence,
        supply=supply,
        findings=folded(gravest_first([*own, *others, *left_over(job, [*own, *others], shapes)])),
        not_checked=_not_checked(job, placing, tables),
        used=_used(job, placing, sets),
        accounts=_accounts(checked, placing.body, (holes, stacks), elsewhere),
        fingerprint=shapes.prints[KIT],
        forming=records,
        overlays=overlays(job, placing),
        loops=loops(job, placing),
        measured=tuple(made.measured),
        dry_fit=dry_fit,
        closings=closings,
        out=residuals(placing.body, stacks),
    )


def _about(one: Checked, body: Body, others: Sequence[Finding]) -> tuple[Finding, ...]:
    """The findings of the body on the pieces of one drawing."""
    marks = {body.instances[i].mark for i in range(len(body.instances)) if body.part_of(i) is one.part}
    marks |= {one.part.mark} if one.part is not None else set()
    return folded(gravest_first(finding for finding in others if finding.where.part in marks))


def _causes(job: Job, placing: Placing, tables: Tables) -> tuple[Cause, ...]:
    """Why the kit does not close, where it does not."""

    def remake(spec: PartSpec, drawing: Drawing | None) -> tuple[Part, ...]:
        drawings = {} if drawing is None else {spec.mark: drawing}
        alone = replace(job, parts=(spec,))
        return make_parts(alone, drawings, tables, lambda name: find_section(tables, name), other_hand)[0]

    return causes(job, placing, Shop(remake, other_hand))


def _not_checked(job: Job, placing: Placing, tables: Tables) -> tuple[str, ...]:
    always = {checks.DRAWING, checks.RULES, checks.RIVET, checks.SEAMS, checks.BODY, checks.TOOLS}
    drawn = [spec for spec in job.parts if spec.drawing]
    told = [(spec.mark, (*not_checked(always | known_of(job, spec)), *of_old(spec))) for spec in drawn]
    lines = named(told or [("", not_checked(always))])
    parts = placing.body.kinds()
    to_template = [part.mark for part in parts if part.spec.formed]
    if to_template:
        shut = "no misfit, clash or reach of them and their rivets"
        lines.append(f"formed to template, so {shut}: {', '.join(to_template)}")
    marks = {ply.instance for seam in job.seams for ply in seam.plies if ply.state == FROM_MATE}
    own = [one.mark for one in placing.body.instances if one.mark in marks]
    bent = [mark for mark, part in zip(own, _parts_of(placing.body, own), strict=True) if len(part.panels) > 1]
    if any(part.blank is not None for part in _parts_of(placing.body, bent)):
        lines.append(f"edge distance of holes drilled through formed plates from their mates: {', '.join(bent)}")
    bare = [words for part in parts for words in without_gauge(part, tables)]
    if bare:
        lines.append(f"back mark and largest hole, for legs without a gauge in the table: {'; '.join(bare)}")
    formless = [part.mark for part in parts if not part.panels and not part.spec.formed]
    if formless:
        lines.append(f"form not known, so nothing about the body: {', '.join(formless)}")
    lines.append("strength of seams, springback: not part of the tool yet")
    lines.append("easing of holes by the spread of making: see fabplan forecast JOB")
    lines.append("anything under pressure beyond static head: outside the tool")
    return tuple(lines)


def _parts_of(body: Body, marks: Sequence[str]) -> list[Part]:
    """The parts of some pieces."""
    index = {instance.mark: i for i, instance in enumerate(body.instances)}
    return [body.part_of(index[mark]) for mark in marks]


def _used(job: Job, placing: Placing, sets: Sequence[RuleSet]) -> tuple[str, ...]:
    lines = [f"{one.title}: {one.caution}" for one in sets]
    lines.append(
        f"usable clearance: hole less {job.shop.cutting_deviation:g} mm (ISO 9013 class 1) less the rivet, hot ones "
        f"fatter by {100 * job.shop.hot_growth:g} % (from memory)"
    )
    if job.exposed is None:
        lines.append("exposure to weather not stated: exposed assumed")
    return tuple(lines)


def _elsewhere(job: Job, body: Body, holes: BodyHoles, stacks: Stacks) -> tuple[tuple[str, int], ...]:
    """Holes in no stack, by design: how many, and why; only reasons that there are."""
    through = len(to_be_taken(job, body, holes, stacks))
    spare = sum(map(len, left_open(job, body, stacks).values()))
    reasons = (("to be taken into pieces formed to template", through), ("left open by the fittings chosen", spare))
    return tuple(one for one in reasons if one[1])


def _accounts(
    checked: Sequence[Checked], body: Body, found: tuple[BodyHoles, Stacks], elsewhere: tuple[tuple[str, int], ...]
) -> tuple[Account, ...]:
    """Counts that must add up: entities, holes, pieces; `elsewhere` are holes in no stack by design."""
    holes, stacks = found
    drawings = {one.drawing.name: one.drawing for one in checked}.values()  # one may be that of several parts
    fates = [entry.fate for one in drawings for entry in one.account]
    entities = Account(
        "entities of the drawings",
        sum(max(one.scanned, 0) for one in drawings),
        tuple((fate, fates.count(fate)) for fate in ("used", "set aside", "reported")),
    )
    mated, free = len(stacks.ply_hole), int(np.sum(holes.open))
    formed = [bool(body.part_of(i).panels) for i in range(len(body.instances))]
    placed = [one and pose is not None for one, pose in zip(formed, body.poses, strict=True)]
    total = sum(len(body.part_of(i).holes.holes) for i in range(len(placed)))
    hole_account = Account(
        "holes of all pieces",
        total,
        (
            ("in a stack", mated),
            ("open by purpose", free),
            *elsewhere,
            ("without a mate", len(holes.hole) - mated - free - sum(count for _, count in elsewhere)),
            ("of pieces not placed", total - len(holes.hole)),
        ),
    )
    pieces = Account(
        "pieces",
        len(placed),
        (
            ("placed", sum(placed)),
            ("not placed", sum(formed) - sum(placed)),
            ("without a known form", len(formed) - sum(formed)),
        ),
    )
    return entities, hole_account, pieces
