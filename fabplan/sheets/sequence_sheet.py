"""The order of work: an overview of all steps, then one step a sheet, to be read beside the job and signed."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import cache, partial

import numpy as np

from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork, Step
from fabplan.sheets.frame import A3, A4, SIGN, Paper, Sheet, framed, room, signed
from fabplan.sheets.how_it_lies import how_it_lies, orders_weighed
from fabplan.sheets.isometric import Corner, Scene, isometric, scene
from fabplan.sheets.pen import LEADING, LEAST, Box, balanced, wrap
from fabplan.sheets.row import rivet_words, rows_of
from fabplan.sheets.seam_map import SEEN_FROM, UNIT, fitted, order_in_pictures, seam_maps
from fabplan.sheets.sequence_index import index_pages
from fabplan.sheets.shelves import set_out
from fabplan.sheets.stand import corner_of, told
from fabplan.sheets.table import Table, abreast, laid, natural, notes, spread

Item = Stroke | Arc | Text
View = Callable[[Corner], Scene]
Drawn = Mapping[int, list[Stroke]]
SIDE = (100.0, 76.0)  # mm, the picture of where the step is
GAP = 5.0
TITLE, CAUTION, OVERVIEW = 6.0, 3.0, 3.0  # mm, capitals
HEAD = 9.0  # mm, the heading of a further sheet of a step
MANY = 16  # pieces named in the overview
UNFAIR = 8  # lines for unfair holes
EXCEPTIONS = 40.0  # mm, least width of the boxes for rivets that are not driven
LABEL = 33.0  # mm, the word in front of the cautions
KEY = (
    "Rows: seen from the driver's side; edges behind another ply dashed. Bold: number; plain: turn; black: driven "
    "first; double ring: another length; crossed: service bolt."
)
DRIVER_SIDES = {"point": "point side", "head": "made-head side, heads change sides"}
RIVETED = (
    ("riveter, initials", 0.13),
    ("holder-up, initials", 0.13),
    ("date", 0.12),
    ("found unfair: which rivets, and what was done", 0.48),
    ("checked, initials", 0.14),
)
PLACED = (("done, initials", 0.16), ("date", 0.16), ("what did not fit, and what was done", 0.5),
          ("checked, initials", 0.18))  # fmt: skip


def sequence_sheets(plan: Plan) -> tuple[Page, ...]:
    """Overview, pictures, seam map, index and one sheet or more a step, numbered through; none without an order."""
    if plan.sequence is None or plan.body is None or plan.stacks is None:
        return ()
    stops = sum(finding.blocks for finding in plan.findings)
    wide = Paper("Order of work", A3, plan.job, stops)
    small = Paper("Order of work", A4, plan.job, stops)
    view = cache(partial(scene, plan.body))
    steps = plan.sequence.steps
    drawn = {step.number: _located(plan, view, step) for step in steps}
    over = small if len(_overview(plan, small)) == 1 else wide
    cover = [(over, Sheet(tuple(items), subject="all steps")) for items in _overview(plan, over)]
    pictures = order_in_pictures(plan, steps, drawn, room(wide))
    maps = seam_maps(plan, [view(corner) for corner in SEEN_FROM], room(small))
    cover += [(wide, Sheet(tuple(items), subject="in pictures")) for items in pictures]
    cover += [(small, Sheet(tuple(items), subject="seam map")) for items in maps]
    bodies: list[tuple[Paper, Sheet]] = []
    first: dict[int, int] = {}
    for step in steps:
        paper = wide if step.work or len(_step(plan, small, drawn, step)) > 1 else small
        first[step.number] = len(bodies)
        subject = f"step {step.number} of {len(steps)}"
        bodies += [(paper, Sheet(tuple(items), subject=subject)) for items in _step(plan, paper, drawn, step)]
    lists = index_pages(plan, first, small)
    before = len(cover) + len(lists)
    lists = index_pages(plan, {number: before + 1 + at for number, at in first.items()}, small)
    sheets = [*cover, *((small, Sheet(tuple(items), subject="index")) for items in lists), *bodies]
    return tuple(
        page
        for number, (paper, sheet) in enumerate(sheets, start=1)
        for page in framed(paper, [sheet], first=number, total=len(sheets))
    )


def _located(plan: Plan, view: View, step: Step) -> list[Stroke]:
    """Where a step is: its pieces heavy, or, where none come in, those that are riveted."""
    return isometric(view(corner_of(plan, step)), UNIT, step.parts or _worked(plan, step), step.present)


def _overview(plan: Plan, paper: Paper) -> list[list[Item]]:
    assert plan.sequence is not None
    rows = tuple(
        (
            str(step.number),
            step.title,
            step.reason,
            _few(_marks(plan, step.parts)),
            _rivets(step),
            f"{step.lift:.0f} kg" if step.lift > 0.0 else "-",
        )
        for step in plan.sequence.steps
    )
    heads = ("step", "what", "why here", "pieces that come in", "rivets", "lift")
    area = room(paper)
    size = OVERVIEW if paper.size == A3 else LEAST
    table = Table("", heads, natural(heads, rows, area[2] - area[0], size), rows, (0, 4, 5), size=size)
    core = plan.sequence.core
    numbers = ", ".join(plan.stacks.number[i] for i in core.rivets.tolist()) if plan.stacks else ""
    stuck = []
    if len(core.rivets) or core.parts:
        stuck = [f"Pieces: {', '.join(_marks(plan, core.parts)) or 'none'}.", f"Rivets: {numbers or 'none'}."]
        stuck += core.help
    tables = [
        table,
        notes("What no order can build", stuck),
        orders_weighed(plan.sequence.orders, area[2] - area[0]),
        notes("Assumed", plan.sequence.assumptions),
        _drawings(plan),
    ]
    pages = spread(tables, area, (*area[:3], area[3] - HEAD - 2.0))
    title = Text((area[0], area[3] - TITLE - 1.0), f"Order of work: {len(rows)} steps", TITLE, bold=True)
    pages[0].append(title)
    return pages


def _rivets(step: Step) -> str:
    """How many rivets a step drives, those through pieces formed to template too."""
    many = sum(len(work.rivets) for work in step.work) + sum(count for _, count in step.unproved)
    return str(many) if many else "-"


def _few(marks: Sequence[str]) -> str:
    """Marks of the pieces that come in, or how many they are where those would fill several lines."""
    return ", ".join(marks) or "-" if len(marks) <= MANY else f"{len(marks)} pieces"


def _drawings(plan: Plan) -> Table:
    names = [f"{one.drawing.name} {one.drawing.fingerprint[:8]}" for one in plan.checked]
    return notes("Drawings", [", ".join(names)] if names else [])


def _same(area: Box) -> Iterator[Box]:
    while True:
        yield area


def _marks(plan: Plan, instances: Sequence[int]) -> list[str]:
    assert plan.body is not None
    return [plan.body.instances[i].mark for i in instances]


def _step(plan: Plan, paper: Paper, drawn: Drawn, step: Step) -> list[list[Item]]:
    """The items of all sheets of one step."""
    area = room(paper)
    floor = area[1] + SIGN + 2.0
    head, top = _heading(f"Step {step.number}: {step.title}", step.reason, area)
    warned, top = _cautions(step.cautions, area, top)
    deep = SIDE[1] if step.work else top - floor
    picture, low = _picture(plan, drawn, step, (area[0], top - deep, area[0] + SIDE[0], top))
    first = (area[0] + SIDE[0] + GAP, floor, area[2], top)
    tables, y = laid(step_tables(plan, step, first[2] - first[0]), _boxes(first, area))
    tables[0] += [*head, *warned, *picture, *signed(area, RIVETED if step.work else PLACED)]
    if step.work:
        left = (area[0], floor, area[2], min(low - 2.0, y)) if len(tables) == 1 else (*area[:3], y)
        rows = _rows(plan, step, left, area)
        tables[-1] += rows[0]
        tables += rows[1:]
    for number, items in enumerate(tables[1:], start=2):
        items.append(Text((area[0], area[3] - TITLE), f"Step {step.number}, part {number}", 4.0, bold=True))
    return tables


def _rows(plan: Plan, step: Step, left: Box, area: Box) -> list[list[Item]]:
    """The step's rows below what is there, and on further pages, each page with their key."""
    rows = [row for work in step.work for row in rows_of(plan, work, step.present, area[2] - area[0] - 1.0)]
    key = wrap(KEY, area[2] - area[0])
    deep = len(key) * LEAST * LEADING + 3.0
    tops = left[3], area[3] - HEAD
    pages = set_out(rows, (*left[:3], tops[0] - deep), (*area[:3], tops[1] - deep))
    for number, page in enumerate(pages):
        room_left = tops[0] - left[1] > 2.0 * LEAST
        words, top = key if page else ["Rows: on the next sheet."] * room_left, tops[min(number, 1)]
        page += [Text((area[0], top - LEAST - k * LEAST * LEADING), line) for k, line in enumerate(words)]
    return pages


def _boxes(first: Box, area: Box) -> Iterator[Box]:
    yield first
    yield from _same((*area[:3], area[3] - HEAD))


def _heading(title: str, reason: str, area: Box) -> tuple[list[Item], float]:
    words = wrap(title, area[2] - area[0], TITLE, bold=True)
    y = area[3] - TITLE - 1.0
    items: list[Item] = []
    for line in words:
        items.append(Text((area[0], y), line, TITLE, bold=True))
        y -= TITLE * 1.5
    y += TITLE * 1.5 - 6.5
    for line in wrap(reason, area[2] - area[0], 3.0):
        items.append(Text((area[0], y), line, 3.0))
        y -= 3.0 * LEADING
    return items, y + 1.0


def _picture(plan: Plan, drawn: Drawn, step: Step, area: Box) -> tuple[list[Item], float]:
    """The step's picture with its words below it."""
    marks = ", ".join(_named(plan, i) for i in step.parts or _worked(plan, step))
    heavy = f"Heavy: {marks}." if marks else "Nothing new comes in; drawings: see sheet 1."
    words = wrap(f"{told(plan, corner_of(plan, step))} {heavy}", area[2] - area[0])
    foot = area[1] + len(words) * LEAST * LEADING + 1.0
    items = fitted(drawn[step.number], (area[0], foot, area[2], area[3]))
    items += [Text((area[0], foot - (k + 1) * LEAST * LEADING), line) for k, line in enumerate(words)]
    return items, area[1]


def _named(plan: Plan, instance: int) -> str:
    """The mark of a piece, with the first signs of its drawing's fingerprint."""
    assert plan.body is not None
    blank = plan.body.part_of(instance).blank
    mark = plan.body.instances[instance].mark
    return f"{mark} ({blank.fingerprint[:8]})" if blank is not None else mark


def _worked(plan: Plan, step: Step) -> tuple[int, ...]:
    assert plan.stacks is not None
    stacks = plan.stacks
    rivets = [int(i) for work in step.work for i in work.rivets]
    plies = [stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]] for i in rivets]
    return tuple(np.unique(np.concatenate(plies)).tolist()) if plies else ()


def _cautions(lines: Sequence[str], area: Box, top: float) -> tuple[list[Item], float]:
    """The cautions side by side in a heavy box across the sheet, and where the room below it begins."""
    if not lines:
        return [], top
    inner = (area[2] - area[0] - LABEL) / len(lines)
    columns = [balanced(line, inner - 5.0, CAUTION, bold=True) for line in lines]
    deep = max(len(words) for words in columns) * CAUTION * LEADING + 3.0
    items: list[Item] = [Text((area[0] + 3.0, top - 6.5), "CAUTION", 4.0, bold=True)]
    for number, words in enumerate(columns):
        for k, line in enumerate(words):
            at = (area[0] + LABEL + number * inner + 2.0, top - 5.5 - k * CAUTION * LEADING)
            items.append(Text(at, line, CAUTION, bold=True))
    foot = top - max(deep, 9.0)
    corners = ((area[0], foot), (area[2], foot), (area[2], top), (area[0], top))
    return [Stroke(corners, 0.8, closed=True), *items], foot - 3.0


def step_tables(plan: Plan, step: Step, wide: float) -> list[Table]:
    """What a step brings in, rivets, bolts and checks, as tables of at most `wide` mm."""
    seams = plan.job.seams
    bolts = tuple((seams[seam].mark if seam >= 0 else "-", str(count)) for seam, count in step.bolts)
    checks = tuple((f"{number}", line, "", "") for number, line in enumerate(step.checks, start=1))
    heads = ("", "check before signing", "value found", "initials")
    return [
        _pieces(plan, step),
        *how_it_lies(plan, step, wide),
        _riveting(plan, step, wide),
        notes("", _driving(plan, step)),
        abreast("Service bolts put in at this step", ("seam", "no"), bolts),
        notes("", _bolts(plan) if bolts and step.kind == "dry-fit" else []),
        _unfair() if step.kind == "dry-fit" else notes("", ()),
        Table("Checks", heads, (0.35, 6.0, 1.8, 0.9), checks, boxed=(2, 3)),
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


def _pieces(plan: Plan, step: Step) -> Table:
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
        rows.append((plan.body.instances[i].mark, what, mass, plan.body.reasons[i]))
    lift = f": heaviest lift {step.lift:.1f} kg" if step.lift > 0.0 else ""
    return Table(f"Pieces that come in{lift}", ("mark", "what", "kg", "place"), (0.8, 3.0, 0.8, 4.0), tuple(rows), (2,))


def _riveting(plan: Plan, step: Step, wide: float) -> Table:
    rows = tuple(_work_row(plan, work) for work in step.work)
    heads = ("seam", "rivets: d x length, head", "drive from: with", "hold up from: with", "bolts out")
    shares = natural(heads, rows, wide - EXCEPTIONS)
    total = sum(len(work.rivets) for work in step.work)
    entered = tuple((*row, "") for row in rows)
    title = f"Riveting: {total} rivets; when a seam is done, enter the numbers that are not, or none"
    return Table(title, (*heads, "all driven but"), (*shares, wide - sum(shares)), entered, (4,), boxed=(5,))


def _driving(plan: Plan, step: Step) -> list[str]:
    """The notes on the driving order, said once where all seams share one."""
    said: dict[str, list[str]] = {}
    for work in step.work:
        if work.note:
            said.setdefault(work.note, []).append(_seam(plan, work))
    if len(said) == 1:
        return [f"{note[:1].upper()}{note[1:]}." for note in said]
    return [f"{', '.join(seams)}: {note}." for note, seams in said.items()]


def _seam(plan: Plan, work: SeamWork) -> str:
    return plan.job.seams[work.seam].mark if work.seam >= 0 else "-"


def _work_row(plan: Plan, work: SeamWork) -> tuple[str, ...]:
    mark = _seam(plan, work)
    holder = "head" if work.driver_side == "point" else "point"
    from_side = DRIVER_SIDES.get(work.driver_side, work.driver_side)
    drive = f"{_access(work.driver_access, work.driver_by)}, {from_side}: {work.driver_tool}"
    hold = f"{_access(work.holder_access, work.holder_by)}, {holder} side: {work.holder_tool}"
    return (mark, rivet_words(plan, work.rivets, numbered=False), drive, hold, str(work.bolts_out))


def _access(word: str, by: str) -> str:
    if word == "arm":
        return f"arm through {by}"
    return {"none": "no access", "man inside": "MAN INSIDE"}.get(word, word)
