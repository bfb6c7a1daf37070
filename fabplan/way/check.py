"""The short road: drawings read, checked by themselves and by the rules, one record each."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from fabplan.drawing.check import all_findings, check_drawing
from fabplan.drawing.corners import ASSUMED, corner_limit
from fabplan.drawing.limits import hole_limit, slot_limit, web_limit
from fabplan.drawing.read import read_drawing
from fabplan.drawing.say import failed, unreadable
from fabplan.errors import DrawingError, FabplanError
from fabplan.model import checks
from fabplan.model.checked import Checked
from fabplan.model.drawing import Drawing, Intake
from fabplan.model.finding import Finding
from fabplan.model.holes import Holes
from fabplan.model.job import AcceptSpec, Job, PartSpec, Supplier
from fabplan.model.joints import RivetSpec
from fabplan.model.layout import SpacingFigure
from fabplan.model.ordered import Ordered
from fabplan.model.profile import Profile
from fabplan.model.rules import RuleSet
from fabplan.rules.sets import ALWAYS, read_rule_set
from fabplan.rules.spacing import judged
from fabplan.way.accept import Geometry, accepted, geometry, left_over
from fabplan.way.layouts import Stated, layout, ordered, rivets_by_row, stated
from fabplan.way.many import spread
from fabplan.way.unchecked import not_checked

CORNER = f"inner corner {ASSUMED:g} mm (EN 1090-2, 6.7, from memory)"

Progress = Callable[[str], object]

DRAWING_CHECKS = tuple(
    name for name, check in checks.CHECKS.items() if checks.BODY not in check.needs and checks.TOOLS not in check.needs
)


@dataclass(frozen=True, slots=True)
class Case:
    """One drawing to be looked at, with all that is known of it, and of each part that is drawn in it by its mark."""

    path: Path
    intake: Intake
    supplier: Supplier | None
    known: Stated
    sets: tuple[RuleSet, ...]
    ordered: Ordered
    pieces: tuple[tuple[str, "Case"], ...] = ()


def check_files(
    paths: Sequence[Path],
    known: tuple[float | None, RivetSpec | None],
    rules: str,
    progress: Progress,
    workers: int = 1,
) -> tuple[Checked, ...]:
    """Check drawings without a job.

    Args:
        paths: the DXF files.
        known: thickness, mm, and rivet of all of them, or None.
        rules: name of the rule set for spacing.
        progress: told the name of each drawing.
        workers: processes at most.
    """
    (thickness, rivet), sets = known, rule_sets(rules)
    intake = Intake(hole_diameters=(rivet.hole,) if rivet else (), thickness=thickness)
    plain = Stated(thickness=thickness, rivets=rivets_by_row(rivet))
    told = Ordered(holes=intake.hole_diameters)
    return tuple(_looked_at([Case(path, intake, None, plain, sets, told) for path in paths], progress, workers))


def check_with_job(paths: Iterable[Path], job: Job, progress: Progress = str, workers: int = 1) -> tuple[Checked, ...]:
    """Check drawings with what a job states of them."""
    cases, sets = [], rule_sets(job.rules)
    for path in paths:
        own = [(spec.mark, case_of(job, path, spec, sets)) for spec in job.parts if spec.drawing == path.name]
        whole = case_of(job, path, None, sets)
        intake = intake_of(job, [spec for spec in job.parts if spec.drawing == path.name])
        cases.append(replace(whole, intake=intake, pieces=tuple(own)))
    return answered_for(job, _looked_at(cases, progress, workers))


def case_of(job: Job, path: Path, spec: PartSpec | None, sets: tuple[RuleSet, ...]) -> Case:
    """A drawing with what the job states of a part, or of none."""
    known = stated(job, spec) if spec else Stated(exposed=job.exposed, rivets=rivets_by_row(_only(job)))
    told = ordered(job, spec, job.shop.hoist)
    return Case(path, intake_of(job, [spec] if spec else []), supplier_of(job, spec), known, sets, told)


def _looked_at(cases: Sequence[Case], progress: Progress, workers: int) -> list[Checked]:
    found: list[Checked] = []
    for number, own in enumerate(spread(look_at, cases, [case.path for case in cases], workers), start=1):
        found += own
        progress(f"{number} of {len(cases)}: {cases[number - 1].path.name}")
    return found


def look_at(case: Case) -> tuple[Checked, ...]:
    """Read and judge one drawing; what cannot be opened, or fails in a way that nobody foresaw, is a finding on it."""
    try:
        drawing = read_drawing(case.path, case.intake)
    except DrawingError as error:
        drawing = Drawing(case.path.name, findings=(unreadable(case.path.name, error.what, error.mend),))
    try:
        return _once_each([judge(piece, its) for piece, its in _by_piece(drawing, case)])
    except FabplanError:
        raise
    except Exception as error:
        findings = gravest_first([*drawing.findings, failed(drawing.name, error)])
        return (Checked(drawing, None, findings, (f"for want of an end to the checks: {', '.join(DRAWING_CHECKS)}",)),)


def _by_piece(drawing: Drawing, case: Case) -> Iterator[tuple[Drawing, Case]]:
    """The pieces of a drawing that bear the marks of parts, and what is left; else the drawing, each with its case."""
    if not case.pieces:  # a drawing alone need not wait for what shares it out
        yield drawing, case
        return
    from fabplan.drawing.shares import shared_out

    shares = shared_out(drawing, {mark: its.known.thickness for mark, its in case.pieces})
    yield from ((shares.pieces[mark], its) for mark, its in case.pieces)
    if shares.rest is not None:
        yield shares.rest, case


def _once_each(judged: Sequence[Checked]) -> tuple[Checked, ...]:
    """What was judged, a drawing of several parts once: with what is found for the others beside what all have."""
    found: dict[str, Checked] = {}
    for one in judged:
        first = found.setdefault(one.drawing.name, one)
        told = {(finding.check, finding.level, finding.where, finding.what) for finding in first.findings}
        more = [each for each in one.findings if (each.check, each.level, each.where, each.what) not in told]
        found[one.drawing.name] = replace(first, findings=gravest_first([*first.findings, *more]))
    return tuple(found.values())


def answered_for(job: Job, checked: Sequence[Checked]) -> tuple[Checked, ...]:
    """Drawings with the findings that somebody answers for marked so, and what is left over of acceptances told."""
    shapes = geometry(job, [one.drawing for one in checked])
    named = replace(job, accepted=tuple(_by_drawing(job, one, shapes) for one in job.accepted))
    marked = [replace(one, findings=accepted(named, one.findings, shapes)) for one in checked]
    own = replace(job, accepted=tuple(one for one in job.accepted if one.drawing in shapes.prints))
    told = left_over(own, [finding for one in marked for finding in one.findings], shapes)
    return tuple(
        replace(one, findings=(*one.findings, *(each for each in told if each.where.drawing == one.drawing.name)))
        for one in marked
    )


def _by_drawing(job: Job, one: AcceptSpec, shapes: Geometry) -> AcceptSpec:
    """An acceptance that names a part alone, by the drawing of that part: findings on drawings name no part."""
    drawn = next((spec.drawing for spec in job.parts if spec.mark == one.part and spec.drawing), "")
    if one.drawing or not drawn:
        return one
    piece = f"{drawn} ({one.part})"
    return replace(one, part="", drawing=piece if piece in shapes.prints else drawn)


def _only(job: Job) -> RivetSpec | None:
    return job.rivets[0] if len(job.rivets) == 1 else None


def rule_sets(name: str) -> tuple[RuleSet, ...]:
    """The named set and those that are always read beside it."""
    return tuple(read_rule_set(one) for one in (name, *ALWAYS))


def intake_of(job: Job, specs: Sequence[PartSpec]) -> Intake:
    """What a job tells the reader about a file in which it draws some parts: the size and thickness that all have."""
    diameters = tuple(sorted({rivet.hole for rivet in job.rivets}))
    sizes, thicknesses = {spec.size for spec in specs}, {spec.thickness for spec in specs}
    size = sizes.pop() if len(sizes) == 1 else None
    return Intake(job.roles, size, diameters, thicknesses.pop() if len(thicknesses) == 1 else None)


def supplier_of(job: Job, spec: PartSpec | None) -> Supplier | None:
    """The supplier that a part names."""
    if spec is None:
        return None
    return next((supplier for supplier in job.suppliers if supplier.name == spec.supplier), None)


def _bends(drawing: Drawing, spec: PartSpec | None, thickness: float | None) -> Iterator[Finding]:
    """Bends that the job states; a drawing alone has none, and need not wait for their tables."""
    if spec is not None:
        from fabplan.rules.bends import check_bends

        yield from check_bends(drawing, spec, thickness)


def judge(drawing: Drawing, case: Case) -> Checked:
    """All findings of one drawing, gravest first, with what was used and what was not checked."""
    supplier, known, sets = case.supplier, case.known, case.sets
    own = [
        *check_drawing(drawing, supplier, known.thickness, case.ordered),
        *_bends(drawing, case.ordered.spec, known.thickness),
    ]
    findings: list[Finding] = all_findings(of_piece(case.ordered.spec, own), drawing.findings)
    figures: tuple[SpacingFigure, ...] = ()
    for outline, cutouts, holes in _plates(drawing):
        plate = layout(drawing.name, outline, cutouts, holes, known)
        spaced, table = judged(plate, sets)
        findings += _beyond_geometry(spaced, findings)
        figures += table
    return Checked(
        drawing,
        None,
        gravest_first(findings),
        (*not_checked(available(supplier, known, case.ordered), DRAWING_CHECKS), *of_old(case.ordered.spec)),
        used(sets, supplier, known, made=case.ordered.spec is None or case.ordered.spec.made),
        figures,
    )


def of_piece(spec: PartSpec | None, found: Iterable[Finding]) -> list[Finding]:
    """Findings but, of a piece that is there already, those of how it would be made."""
    return [one for one in found if spec is None or spec.made or one.check not in checks.MAKING]


def of_old(spec: PartSpec | None) -> tuple[str, ...]:
    """What is not asked of a piece that is there already."""
    if spec is None or spec.made:
        return ()
    return (f"since it is there already: {', '.join(name for name in checks.MAKING if name in DRAWING_CHECKS)}",)


def _plates(drawing: Drawing) -> Iterator[tuple[Profile, tuple[Profile, ...], Holes]]:
    """The pieces of metal of a drawing that bear holes, as a rule one."""
    for shape in drawing.shapes:
        if len(shape.holes):
            yield shape.outline, shape.cutouts, shape.holes
    if not drawing.shapes and drawing.outline is not None and len(drawing.holes):
        yield drawing.outline, drawing.cutouts, drawing.holes


def _beyond_geometry(spacing: Iterable[Finding], found: Sequence[Finding]) -> list[Finding]:
    """Spacing findings less those that only follow from a hole already found misplaced or doubled."""
    geometric = ("hole-outside", "holes-overlap", "doubled-line")
    spoilt = {hole for finding in found if finding.check in geometric for hole in finding.where.holes}
    return [finding for finding in spacing if not spoilt & set(finding.where.holes)]


def gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Findings by level, then in the order of the table of checks, then by place."""
    order = {name: number for number, name in enumerate(checks.CHECKS)}

    def key(finding: Finding) -> tuple[int, int, str, str, tuple[str, ...]]:
        where = finding.where
        return finding.level, order[finding.check], where.drawing or where.part, where.seam, where.holes

    return tuple(sorted(findings, key=key))


def available(supplier: Supplier | None, known: Stated, told: Ordered) -> set[str]:
    """What is known of one drawing, in the words of the table of checks."""
    pairs = (
        (checks.THICKNESS, known.thickness is not None),
        (checks.RIVET, bool(known.rivets)),
        (checks.SEAMS, bool(known.rows)),
        (checks.PART, told.spec is not None),
        (checks.SIZE, told.spec is not None and told.spec.size is not None),
        (checks.HOIST, told.hoist is not None),
    )
    return {checks.DRAWING, checks.RULES, *_of_supplier(supplier), *(word for word, there in pairs if there)}


def _of_supplier(one: Supplier | None) -> set[str]:
    """Which of a supplier's limits are stated."""
    if one is None:
        return set()
    pairs = (
        (checks.BED, one.bed or one.sheet),
        (checks.LEAST_PART, one.smallest_part),
        (checks.GREATEST, one.greatest_thickness),
        (checks.VERSIONS, one.dxf_versions),
        (checks.UNIT, one.units),
        (checks.LAYERS, one.layers),
        (checks.MARKING, one.marking),
        (checks.PROCESS, one.process),
    )
    return {checks.SUPPLIER, *(word for word, there in pairs if there)}


def used(sets: Sequence[RuleSet], supplier: Supplier | None, known: Stated, *, made: bool = True) -> tuple[str, ...]:
    """What the checks went by: rule sets with their cautions, the supplier's limits, what was assumed.

    `made`: False for a piece that is there already, of which no supplier's limits are asked.
    """
    lines = [f"{one.title}: {one.caution}" for one in sets]
    if not made:
        lines.append("it is there already: no supplier's limits asked")
    elif supplier is not None and known.thickness is not None:
        lines.append(_limits_used(supplier, known.thickness))
    elif supplier is not None:
        lines.append(f"limits of {supplier.name}, {supplier.limits_dated or 'undated'}")
    else:
        lines.append(f"supplier's limits assumed: smallest hole, web and slot 1.0 t (common practice); {CORNER}")
    if known.exposed is None:
        lines.append("exposure to weather not stated: exposed assumed")
    return tuple(lines)


def _limits_used(supplier: Supplier, thickness: float) -> str:
    """The limits of one supplier at a thickness, each assumed one said so."""
    pairs = (("hole", hole_limit), ("web", web_limit), ("slot", slot_limit))
    limits = [(name, limit(supplier, thickness)) for name, limit in pairs]
    corner = corner_limit(supplier, thickness)
    limits += [("inner corner", corner)] if corner is not None else []
    own = [f"{name} {one.least:g} mm" for name, one in limits if not one.assumed]
    assumed = [f"{name} {one.least:g} mm" for name, one in limits if one.assumed]
    words = f"limits of {supplier.name}, {supplier.limits_dated or 'undated'}"
    words += f": smallest {', '.join(own)}" if own else ""
    return words + (f"; not stated by him, assumed: smallest {', '.join(assumed)}" if assumed else "")
