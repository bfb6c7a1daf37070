"""The order of work: an overview of all steps, then one step a sheet, to be read beside the job and signed."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.model.finding import Level
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork, Step
from fabplan.sheets.elevation import Block, drawn, moved, rivet_words, row_of, usual_scale
from fabplan.sheets.frame import A3, Paper, Sheet, framed, room, with_name
from fabplan.sheets.isometric import Scene, isometric, scene
from fabplan.sheets.pen import LEADING, LEAST, Box, short, wrap
from fabplan.sheets.table import Table, laid, notes

Item = Stroke | Arc | Text
SIDE = (118.0, 82.0)  # mm, the picture of where the step is
SIGN = 17.0  # mm, the boxes to sign at the foot
GAP = 5.0
KEY = (
    "Rows: true view from the driver's side; edges behind another ply dashed. Bold above (round rows: outside): rivet "
    "number from the marked end. Below (inside): its turn. Black: driven first."
)
DRIVER_SIDES = {"point": "point side", "head": "made-head side (heads change sides)"}


def sequence_sheets(plan: Plan) -> tuple[Page, ...]:
    """The overview and one sheet or more a step; none where no order was made."""
    if plan.sequence is None or plan.body is None or plan.stacks is None:
        return ()
    stops = sum(finding.level is Level.STOP for finding in plan.findings)
    paper = Paper("Order of work", A3, plan.job, stops)
    view = scene(plan.body)
    pages = list(_overview(plan, paper))
    for step in plan.sequence.steps:
        own = with_name(paper, f"Order of work, step {step.number}")
        pages += framed(own, [Sheet(tuple(items), subject=step.title) for items in _step(plan, own, view, step)])
    return tuple(pages)


def _overview(plan: Plan, paper: Paper) -> tuple[Page, ...]:
    assert plan.sequence is not None
    rows = tuple(
        (
            str(step.number),
            step.title,
            step.reason,
            ", ".join(_marks(plan, step.parts)) or "-",
            str(sum(len(work.rivets) for work in step.work)) if step.work else "-",
            f"{step.lift:.0f} kg" if step.lift > 0.0 else "-",
        )
        for step in plan.sequence.steps
    )
    heads = ("step", "what", "why here", "pieces that come in", "rivets", "lift")
    table = Table(f"Order of work: {len(rows)} steps", heads, (0.5, 2.4, 4.6, 3.4, 0.6, 0.7), rows, (0, 4, 5))
    core = plan.sequence.core
    numbers = ", ".join(plan.stacks.number[i] for i in core.rivets.tolist()) if plan.stacks else ""
    stuck = []
    if len(core.rivets) or core.parts:
        stuck = [f"Pieces: {', '.join(_marks(plan, core.parts)) or 'none'}.", f"Rivets: {numbers or 'none'}."]
        stuck += core.help
    tables = [table, notes("What no order can build", stuck), notes("Assumed", plan.sequence.assumptions)]
    pages, _ = laid(tables, _same(room(paper)))
    return framed(paper, [Sheet(tuple(items), subject="all steps") for items in pages])


def _same(area: Box) -> Iterator[Box]:
    while True:
        yield area


def _marks(plan: Plan, instances: Sequence[int]) -> list[str]:
    assert plan.body is not None
    return [plan.body.instances[i].mark for i in instances]


@dataclass(slots=True)
class Filling:
    """Pages being filled from the top: items by page, and how far down the last is filled."""

    pages: list[list[Item]]
    y: float


def _step(plan: Plan, paper: Paper, view: Scene, step: Step) -> list[list[Item]]:
    """The items of all sheets of one step."""
    area = room(paper)
    head, top = _heading(step, area)
    floor = area[1] + SIGN + 2.0
    left = (area[0], floor, area[0] + SIDE[0], top)
    picture, low = _picture(plan, view, step, left)
    cautions, low, rest = _cautions(step.cautions, (left[0], floor, left[2], low - 3.0))
    first = (left[2] + GAP, floor, area[2], top)
    tables, y = laid(_tables(plan, step, rest), _boxes(first, area))
    tables[0] = [*head, *picture, *cautions, *_sign(area), *tables[0]]
    filling = Filling(tables, min(low - 3.0, y) if len(tables) == 1 else y)
    _rows(plan, step, filling, area, floor if len(tables) == 1 else area[1])
    return filling.pages


def _boxes(first: Box, area: Box) -> Iterator[Box]:
    yield first
    yield from _same(area)


def _heading(step: Step, area: Box) -> tuple[list[Item], float]:
    words = short(f"Step {step.number}: {step.title}", area[2] - area[0], 4.5, bold=True)
    items: list[Item] = [Text((area[0], area[3] - 5.5), words, 4.5, bold=True)]
    y = area[3] - 11.5
    for line in wrap(step.reason, area[2] - area[0], 3.0)[:2]:
        items.append(Text((area[0], y), line, 3.0))
        y -= 3.0 * LEADING
    return items, y + 1.0


def _picture(plan: Plan, view: Scene, step: Step, area: Box) -> tuple[list[Item], float]:
    """Where the step is: its pieces heavy, or, where none come in, those that are riveted."""
    low = area[3] - SIDE[1]
    chosen = step.parts or _worked(plan, step)
    items: list[Item] = list(isometric(view, (area[0], low + 5.0, area[2], area[3]), chosen, step.present))
    marks = ", ".join(_marks(plan, chosen))
    words = f"heavy: {marks}" if marks else "nothing new comes in"
    return [*items, Text((area[0], low + 0.8), short(words, area[2] - area[0]), LEAST)], low


def _worked(plan: Plan, step: Step) -> tuple[int, ...]:
    assert plan.stacks is not None
    stacks = plan.stacks
    rivets = [int(i) for work in step.work for i in work.rivets]
    plies = [stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]] for i in rivets]
    return tuple(np.unique(np.concatenate(plies)).tolist()) if plies else ()


def _cautions(lines: Sequence[str], area: Box) -> tuple[list[Item], float, list[str]]:
    """The cautions in a heavy box; where its foot is; and those that found no room."""
    if not lines:
        return [], area[3], []
    inner = area[2] - area[0] - 6.0
    y, items, taken = area[3] - 6.0, list[Item](), 0
    items.append(Text((area[0] + 3.0, y), "CAUTION", 3.5, bold=True))
    y -= 1.5
    for caution in lines:
        words = wrap(caution, inner, bold=True)
        if y - len(words) * LEAST * LEADING - 2.5 < area[1]:
            break
        for line in words:
            y -= LEAST * LEADING
            items.append(Text((area[0] + 3.0, y), line, LEAST, bold=True))
        y -= 1.0
        taken += 1
    if not taken:
        return [], area[3], list(lines)
    foot = y - 1.5
    corners = ((area[0], foot), (area[2], foot), (area[2], area[3]), (area[0], area[3]))
    return [Stroke(corners, 0.8, closed=True), *items], foot, list(lines[taken:])


def _sign(area: Box) -> list[Item]:
    """Boxes to sign: who, when, and what was found unfair."""
    heads = (
        ("riveter, initials", 0.13),
        ("holder-up, initials", 0.13),
        ("date", 0.12),
        ("found unfair: which rivets, and what was done", 0.48),
        ("checked, initials", 0.14),
    )
    x, top = area[0], area[1] + SIGN
    items: list[Item] = []
    for head, share in heads:
        far = x + share * (area[2] - area[0])
        items.append(Stroke(((x, area[1] + 1.0), (far, area[1] + 1.0), (far, top), (x, top)), 0.35, closed=True))
        items.append(Text((x + 1.5, top - 4.0), short(head, far - x - 3.0), LEAST))
        x = far
    return items


def _tables(plan: Plan, step: Step, cautions: Sequence[str]) -> list[Table]:
    seams = plan.job.seams
    bolts = tuple((f"seam {seams[seam].mark}" if seam >= 0 else "no seam", str(count)) for seam, count in step.bolts)
    checks = tuple((f"{number}", line, "", "") for number, line in enumerate(step.checks, start=1))
    heads = ("", "check before signing", "value found", "initials")
    return [
        notes("Caution", cautions),
        _pieces(plan, step),
        _riveting(plan, step),
        _pairs("Service bolts put in at this step", bolts),
        Table("Checks", heads, (0.35, 6.0, 1.8, 0.9), checks, boxed=(2, 3)),
        notes("", [KEY] if step.work else []),
    ]


def _pairs(title: str, pairs: Sequence[tuple[str, str]]) -> Table:
    """Short pairs set four abreast."""
    filled = [*pairs, *[("", "")] * (-len(pairs) % 4)]
    rows = tuple(tuple(cell for pair in filled[k : k + 4] for cell in pair) for k in range(0, len(filled), 4))
    return Table(title, ("seam", "no") * 4 if rows else ("",) * 8, (1.5, 0.7) * 4, rows, (1, 3, 5, 7))


def _pieces(plan: Plan, step: Step) -> Table:
    assert plan.body is not None
    rows = []
    for i in step.parts:
        part = plan.body.part_of(i)
        what = part.section.name if part.section else f"plate {part.thickness:g}"
        if part.blank is not None:
            what += f", {part.blank.name} {part.blank.fingerprint[:8]}"
        elif part.spec.length is not None:
            what += f", {part.spec.length:g} long"
        mass = f"{part.mass:.1f}" if np.isfinite(part.mass) else "not known"
        rows.append((plan.body.instances[i].mark, what, mass, plan.body.reasons[i]))
    return Table("Pieces that come in", ("mark", "what", "kg", "held by"), (0.8, 3.0, 0.8, 4.0), tuple(rows), (2,))


def _riveting(plan: Plan, step: Step) -> Table:
    bolted = dict(plan.supply.seam_bolts)
    rows = tuple(_work_row(plan, work, bolted) for work in step.work)
    heads = ("seam", "rivets: d x length, head", "drive from, with", "hold up from, with", "bolts out", "note")
    shares = (0.7, 2.2, 2.6, 2.6, 0.7, 3.0)
    total = sum(len(work.rivets) for work in step.work)
    return Table(f"Riveting: {total} rivets", heads, shares, rows, (4,))


def _work_row(plan: Plan, work: SeamWork, bolted: dict[str, int]) -> tuple[str, ...]:
    mark = plan.job.seams[work.seam].mark if work.seam >= 0 else ""
    holder = "head" if work.driver_side == "point" else "point"
    drive = f"{DRIVER_SIDES.get(work.driver_side, work.driver_side)}, {_access(work.driver_access)}; {work.driver_tool}"
    hold = f"{holder} side, {_access(work.holder_access)}; {work.holder_tool}"
    return (mark or "-", rivet_words(plan, work.rivets), drive, hold, str(bolted.get(mark, "-")), work.note)


def _access(word: str) -> str:
    return {"none": "no access", "man inside": "MAN INSIDE"}.get(word, word)


def _rows(plan: Plan, step: Step, filling: Filling, area: Box, floor: float) -> None:
    """The step's rows set on shelves below what is there, and on further pages."""
    if not step.work:
        return
    rows = [row_of(plan, work) for work in step.work]
    scale = usual_scale(rows, area[2] - area[0] - 1.0, area[3] - area[1])
    blocks = [drawn(row, scale) for row in rows]
    for shelf in _shelves(blocks, area[2] - area[0]):
        high = max(block.high for block in shelf)
        if filling.y - high < floor:
            filling.pages.append([])
            filling.y, floor = area[3], area[1]
        x = area[0]
        for block in shelf:
            filling.pages[-1] += moved(block.items, x, filling.y - block.high)
            x += block.wide + GAP
        filling.y -= high + GAP


def _shelves(blocks: Sequence[Block], wide: float) -> list[list[Block]]:
    """Blocks side by side while they fit, in their order."""
    shelves: list[list[Block]] = []
    used = wide
    for block in blocks:
        if used + GAP + block.wide > wide or not shelves:
            shelves.append([])
            used = -GAP
        shelves[-1].append(block)
        used += GAP + block.wide
    return shelves
