"""The tables of a step's sheet: pieces, lifts, riveting, bolts, checks."""

from collections.abc import Callable, Sequence

import numpy as np

from fabplan.model.figures import runs
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork, Step
from fabplan.sheets.how_it_lies import how_it_lies, lifts
from fabplan.sheets.inspection import holds, sizes
from fabplan.sheets.row import numbers_of, rivet_words
from fabplan.sheets.step_bolts import bolt_sizes, staying, waiting
from fabplan.sheets.table import Table, abreast, natural, notes

BESIDE = 6  # pieces that are listed beside the picture of a step
UNFAIR = 8  # lines for unfair holes
EXCEPTIONS = 40.0  # mm, least width of the boxes for rivets that are not driven
DRIVER_SIDES = {"point": "point side", "head": "made-head side, heads change sides"}


def marks(plan: Plan, instances: Sequence[int]) -> list[str]:
    """The marks of instances."""
    assert plan.body is not None
    return [plan.body.instances[i].mark for i in instances]


def step_tables(plan: Plan, step: Step, wide: float) -> list[Table]:
    """All tables of a step, at most `wide` mm."""
    return [pieces_in(plan, step, wide), _off(plan, step), *how_it_lies(plan, step), *work_tables(plan, step, wide)]


def work_tables(plan: Plan, step: Step, wide: float) -> list[Table]:
    """What a step lifts, rivets, bolts and checks."""
    seams = plan.job.seams
    bolts = tuple((seams[seam].mark if seam >= 0 else "-", str(count)) for seam, count in step.bolts)
    put = "Service bolts that stand now" if step.kind == "dry-fit" else "Service bolts put in at this step"
    put += f": {sum(count for _, count in step.bolts)}"
    lines = [*step.checks, *(f"{what}: {target}" for what, target in sizes(plan, step))]
    checks = tuple((f"{number}", line, "", "") for number, line in enumerate(lines, start=1))
    checks += tuple(("HOLD", f"work stops till {by} has signed: {what}", "", "") for what, by in holds(plan, step))
    heads = ("", "check before signing", "value found", "initials")
    return [
        *lifts(step, wide),
        *_riveting(plan, step, wide),
        abreast(put, ("seam", "no"), bolts),
        notes("", bolt_sizes(plan, step)),
        notes("", _bolts(plan) if bolts and step.kind == "dry-fit" else []),
        notes("", waiting(plan, step)),
        staying(plan, step, wide),
        _unfair() if step.kind == "dry-fit" else notes("", ()),
        Table("Checks", heads, (0.5, 6.0, 1.8, 0.9), checks, boxed=(2, 3), whole=True),
    ]


def _unfair() -> Table:
    """Lines for the holes that a pin does not pass."""
    heads = ("seam", "numbers", "how far out", "reamed to, or what was done", "initials")
    return Table("Unfair holes", heads, (0.8, 2.4, 1.2, 3.2, 1.0), (("",) * len(heads),) * UNFAIR,
                 boxed=tuple(range(len(heads))), whole=True)  # fmt: skip


def _bolts(plan: Plan) -> list[str]:
    """The bolts and drifts of the dry fit, by size."""
    lines = [
        f"{line.count} {line.what}{'' if line.count == 1 else 's'} {line.diameter:g}"
        + (f" x {line.length:g}" if line.length else "")
        for line in plan.supply.bolts
        if line.what in ("service bolt", "drift")
    ]
    return [f"{', '.join(lines)}; where they stand: holes crossed in the rows of the riveting steps."] if lines else []


def _off(plan: Plan, step: Step) -> Table:
    """What comes off, in order, how it is lifted and where it is laid."""
    assert plan.body is not None
    rows = []
    for number, one in enumerate(step.off, start=1):
        mass = plan.body.part_of(one.instance).mass
        kg = f"{mass:.1f}" if np.isfinite(mass) else "?"
        rows.append((str(number), *marks(plan, [one.instance]), kg, _lifted(plan, step, one.instance), one.where))
    heads = ("no", "mark", "kg", "lifted", "laid")
    return Table("Off in this order", heads, (0.4, 1.0, 0.7, 0.9, 4.5), tuple(rows), (0, 2))


def _lifted(plan: Plan, step: Step, instance: int) -> str:
    """How a piece is lifted: by the crane, alone or with what it is riveted to, or by hand."""
    lift = next((one for one in step.lifts if instance in one.pieces), None)
    if lift is None:
        return "by hand"
    return "crane" if instance == lift.pieces[0] else f"with {marks(plan, lift.pieces)[0]}"


def pieces_in(plan: Plan, step: Step, wide: float) -> Table:
    """The pieces that come in, as they come."""
    assert plan.body is not None
    rows = []
    for i in step.parts:
        part = plan.body.part_of(i)
        what = part.section.name if part.section else f"plate {part.thickness:g}"
        if part.blank is not None:
            what += f", {part.blank.name} {part.blank.fingerprint[:8]}"
        elif part.spec.length is not None:
            what += f", {round(part.spec.length, 1):g} long"
        mass = f"{part.mass:.1f}" if np.isfinite(part.mass) else "not known"
        rows.append([plan.body.instances[i].mark, what, mass, _lifted(plan, step, i), plan.body.reasons[i]])
    lift = f"; heaviest lift {step.lift:.1f} kg" if step.lift > 0.0 else ""
    heads = ["mark", "what", "kg", "lifted", "place"]
    if step.alone and step.work:  # on the bench they lie already
        for row in (heads, *rows):
            del row[3]
    many = f", in the order in which they come: {len(step.parts)}" if len(step.parts) > BESIDE else ""
    return Table(f"Pieces{many}{lift}", tuple(heads), natural(heads, rows, wide), tuple(map(tuple, rows)), (2,))


def _riveting(plan: Plan, step: Step, wide: float) -> list[Table]:
    """A row a run, with a box for what is not driven; then how they are driven and held up."""
    heads = ("seam", "rivets: d x length, head", "bolts out")
    rows = tuple(
        (_run(plan, step, work), rivet_words(plan, work.rivets, numbered=False), str(work.bolts_out))
        for work in step.work
    )
    total = sum(len(work.rivets) for work in step.work)
    shares = natural(heads, rows, wide - EXCEPTIONS)
    title = f"Riveting: {total} rivets; when a seam is done, enter what is not"
    entered = tuple((*row, "") for row in rows)
    table = Table(
        title, (*heads, "all driven but"), (*shares, wide - sum(shares)), entered, (2,), boxed=(3,), whole=True
    )
    ways = _said(plan, step, _way)
    return [table, notes("", [*ways, *_said(plan, step, lambda work: work.note), *_in_turn(plan, step)])]


def _said(plan: Plan, step: Step, words: Callable[[SeamWork], str]) -> list[str]:
    """What holds for the runs of a step, said once for those of which the same is true, these named where not all."""
    said: dict[str, list[str]] = {}
    for work in step.work:
        if words(work):
            said.setdefault(words(work), []).append(_run(plan, step, work))
    if len(said) == 1:
        return [f"{line[:1].upper()}{line[1:]}." for line in said]
    return [f"{', '.join(dict.fromkeys(seams))}: {line}." for line, seams in said.items()]


def _way(work: SeamWork) -> str:
    holder = "head" if work.driver_side == "point" else "point"
    from_side = DRIVER_SIDES.get(work.driver_side, work.driver_side)
    drive = f"{_access(work.driver_access, work.driver_by)}, {from_side}, with {work.driver_tool}"
    hold = f"{_access(work.holder_access, work.holder_by)}, {holder} side, with {work.holder_tool}"
    return f"drive from {drive}; hold up from {hold}"


def _in_turn(plan: Plan, step: Step) -> list[str]:
    """Which seams are driven in turn, so that the body draws neither way."""
    pairs = dict.fromkeys(tuple(sorted((_seam(plan, work), work.partner))) for work in step.work if work.partner)
    turns = ", ".join(" with ".join(pair) for pair in pairs)
    return [f"In turn, as far on either side: {turns}."] if turns else []


def _run(plan: Plan, step: Step, work: SeamWork) -> str:
    """The mark of a run's seam; with its numbers where the step drives other rivets of that seam otherwise."""
    if sum(other.seam == work.seam for other in step.work) < 2:
        return _seam(plan, work)
    return f"{_seam(plan, work)} {runs(numbers_of(plan, work.rivets))}"


def _seam(plan: Plan, work: SeamWork) -> str:
    return plan.job.seams[work.seam].mark if work.seam >= 0 else "-"


def _access(word: str, by: str) -> str:
    if word == "arm":
        return f"arm through {by}"
    return {"none": "no access", "man inside": "MAN INSIDE"}.get(word, word)
