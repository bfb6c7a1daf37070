"""The order of work: an overview of all steps, then one step a sheet, to be read beside the job and signed."""

from collections.abc import Callable, Sequence
from functools import cache, partial
from itertools import chain, repeat

from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.frame import A3, A4, A4_TALL, SIGN, Paper, Sheet, framed, room, signed
from fabplan.sheets.how_it_lies import how_it_lies, orders_weighed
from fabplan.sheets.isometric import scene
from fabplan.sheets.locator import located, pictured
from fabplan.sheets.pen import LEADING, LEAST, Box, balanced, wrap
from fabplan.sheets.row import rows_of
from fabplan.sheets.seam_map import SEEN_FROM, order_in_pictures, seam_maps
from fabplan.sheets.sequence_index import index_pages
from fabplan.sheets.shelves import set_out
from fabplan.sheets.step_tables import BESIDE, marks, pieces_in, step_tables, work_tables
from fabplan.sheets.table import Table, laid, natural, notes, spread

Item = Stroke | Arc | Text
Pictures = Sequence[Callable[[Box], list[Item]]]
SIDE = (86.0, 56.0)  # mm, the picture of where the work is
LITTLE = 30.0  # mm: room below a picture in which no table is begun
PICTURE = 110.0  # mm, least height of each of several pictures of a step
ALONE = 70.0  # mm, least height of the picture of a step without riveting
GAP = 5.0
TITLE, CAUTION, OVERVIEW = 5.0, 2.5, 3.0  # mm, capitals
HEAD = 9.0  # mm, the heading of a further sheet of a step
MANY = 16  # pieces named in the overview
WARNED = 4  # cautions side by side
LABEL = 33.0  # mm, the word in front of the cautions
KEY = "Rows from the driver's side. Bold: number; plain: turn; black: first; ringed: other length; crossed: bolt."
RIVETED = (
    ("riveter, initials", 0.16),
    ("holder-up, initials", 0.18),
    ("date", 0.12),
    ("unfair: which, and what was done", 0.37),
    ("checked, initials", 0.17),
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
    tall = Paper("Order of work", A4_TALL, plan.job, stops)
    view = cache(partial(scene, plan.body))
    steps = plan.sequence.steps
    drawn = {step.number: located(plan, view, step) for step in steps}
    over = small if len(_overview(plan, small)) == 1 else wide
    cover = [(over, Sheet(tuple(items), subject="all steps")) for items in _overview(plan, over)]
    pictures = order_in_pictures(plan, steps, drawn, room(wide))
    maps = seam_maps(plan, [view(corner) for corner in SEEN_FROM], room(small))
    cover += [(wide, Sheet(tuple(items), subject="in pictures")) for items in pictures]
    cover += [(small, Sheet(tuple(items), subject="seam map")) for items in maps]
    bodies: list[tuple[Paper, Sheet]] = []
    first: dict[int, int] = {}
    for step in steps:
        first[step.number] = len(bodies)
        subject = f"step {step.number} of {len(steps)}"
        pages = _step(plan, room(tall), pictured(plan, view, drawn, step), step)
        bodies += [(tall, Sheet(tuple(items), subject=subject)) for items in pages]
    lists = index_pages(plan, first, small)
    before = len(cover) + len(lists)
    lists = index_pages(plan, {number: before + 1 + at for number, at in first.items()}, small)
    sheets = [*cover, *((small, Sheet(tuple(items), subject="index")) for items in lists), *bodies]
    return tuple(
        page
        for number, (paper, sheet) in enumerate(sheets, start=1)
        for page in framed(paper, [sheet], first=number, total=len(sheets))
    )


def _overview(plan: Plan, paper: Paper) -> list[list[Item]]:
    assert plan.sequence is not None
    rows = tuple(
        (
            str(step.number),
            step.title,
            step.reason,
            _few(marks(plan, step.parts)),
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
        stuck = [f"Pieces: {', '.join(marks(plan, core.parts)) or 'none'}.", f"Rivets: {numbers or 'none'}."]
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


def _step(plan: Plan, area: Box, pictures: Pictures, step: Step) -> list[list[Item]]:
    """The items of all sheets of one step, which is signed on the first."""
    floor, after = area[1] + SIGN + 2.0, (*area[:3], area[3] - HEAD)
    head, top = _heading(f"Step {step.number}: {step.title}", step.reason, area)
    warned, top = _cautions(step.cautions, area, top)
    first = (area[0], floor, area[2], top)
    pages = (_working if step.work else _placing)(plan, step, pictures, (first, after))
    pages[0] += [*head, *warned, *signed(area, RIVETED if step.work else PLACED)]
    for number, items in enumerate(pages[1:], start=2):
        items.append(Text((area[0], area[3] - TITLE), f"Step {step.number}, part {number}", 4.0, bold=True))
    return pages


def _working(plan: Plan, step: Step, pictures: Pictures, areas: tuple[Box, Box]) -> list[list[Item]]:
    """A step with riveting: its picture with the pieces beside it, the other tables below, then the rows.

    Where many pieces come in they are set out first, as in a step without riveting.
    """
    first, after = areas
    if len(pictures) > 1:
        pages, y = laid([pieces_in(plan, step, first[2] - first[0])], chain([first], repeat(after)))
        pages, y = _with_pictures(pages, pictures, (*(first if len(pages) == 1 else after)[:3], y), after)
        tables = [*how_it_lies(plan, step), *work_tables(plan, step, first[2] - first[0])]
        more, y = laid(tables, chain([(*after[:3], y)], repeat(after)))
        pages = _joined(pages, more)
        return _joined(pages, _rows(plan, step, (*after[:3], y), after))
    (picture,) = pictures
    low = first[3] - SIDE[1]
    beside = (first[0] + SIDE[0] + GAP, *first[1:])
    full, few = first[2] - first[0], len(step.parts) <= BESIDE
    pieces = pieces_in(plan, step, beside[2] - beside[0] if few else full)
    pages, y = laid([*[pieces] * few, *how_it_lies(plan, step)], chain([beside], repeat(after)))
    pages[0] += picture((first[0], low, first[0] + SIDE[0], first[3]))
    begun = (*first[:3], min(low - 2.0, y)) if len(pages) == 1 else (*after[:3], y)
    if begun[3] - begun[1] < LITTLE:
        pages, begun = [*pages, []], after
    tables = [*[pieces] * (not few), *work_tables(plan, step, full)]
    more, y = laid(tables, chain([begun], repeat(after)))
    pages = _joined(pages, more)
    left = (*(first if len(pages) == 1 else after)[:3], y)
    return _joined(pages, _rows(plan, step, left, after))


def _joined(pages: list[list[Item]], more: list[list[Item]]) -> list[list[Item]]:
    """Pages and others after them, the first of which goes on where the last of these ends."""
    return [*pages[:-1], [*pages[-1], *more[0]], *more[1:]]


def _placing(plan: Plan, step: Step, pictures: Pictures, areas: tuple[Box, Box]) -> list[list[Item]]:
    """A step without riveting: its tables, then its picture in the room that is left, or on a sheet of its own."""
    first, after = areas
    pages, y = laid(step_tables(plan, step, first[2] - first[0]), chain([first], repeat(after)))
    left = (*(first if len(pages) == 1 else after)[:3], y)
    if left[3] - left[1] < ALONE and not (step.parts or (step.off and step.present)):
        return pages
    return _with_pictures(pages, pictures, left, after)[0]


def _with_pictures(
    pages: list[list[Item]], pictures: Pictures, left: Box, after: Box
) -> tuple[list[list[Item]], float]:
    """Pages with pictures below what is there, two on each further page; how far down the last is filled."""
    high = after[3] - after[1]
    y = left[3]
    for number, picture in enumerate(pictures):
        low = left[1]
        deep = (high - GAP) / 2.0
        if number == len(pictures) - 1 == 0:
            deep = min(y - low, high)
        if y - low < (ALONE if number == 0 and len(pictures) == 1 else min(deep, PICTURE)):
            pages.append([])
            left, y = after, after[3]
            deep = high if len(pictures) == 1 else deep
        foot = max(y - deep, left[1])
        pages[-1] += picture((left[0], foot, left[2], y))
        y = foot - GAP
    return pages, y


def _rows(plan: Plan, step: Step, left: Box, area: Box) -> list[list[Item]]:
    """The step's rows below what is there, and on further pages, each page with their key."""
    rows = [row for work in step.work for row in rows_of(plan, work, step.present, area[2] - area[0] - 1.0)]
    key = wrap(KEY, area[2] - area[0])
    deep = len(key) * LEAST * LEADING + 3.0
    tops = left[3], area[3]
    pages = set_out(rows, (*left[:3], tops[0] - deep), (*area[:3], tops[1] - deep))
    for number, page in enumerate(pages):
        room_left = tops[0] - left[1] > 2.0 * LEAST
        words, top = key if page else ["Rows: on the next sheet."] * room_left, tops[min(number, 1)]
        page += [Text((area[0], top - LEAST - k * LEAST * LEADING), line) for k, line in enumerate(words)]
    return pages


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


def _cautions(lines: Sequence[str], area: Box, top: float) -> tuple[list[Item], float]:
    """The cautions side by side in a heavy box across the sheet, and where the room below it begins."""
    if not lines:
        return [], top
    items: list[Item] = [Text((area[0] + 3.0, top - 6.5), "CAUTION", 4.0, bold=True)]
    count = -(-len(lines) // WARNED)
    few = -(-len(lines) // count)
    deep = 0.0
    for low in range(0, len(lines), few):
        row = lines[low : low + few]
        inner = (area[2] - area[0] - LABEL) / len(row)
        columns = [balanced(line, inner - 5.0, CAUTION, bold=True) for line in row]
        for number, words in enumerate(columns):
            for k, line in enumerate(words):
                at = (area[0] + LABEL + number * inner + 2.0, top - 5.5 - deep - k * CAUTION * LEADING)
                items.append(Text(at, line, CAUTION, bold=True))
        deep += max(len(words) for words in columns) * CAUTION * LEADING + 3.0
    foot = top - max(deep, 9.0)
    corners = ((area[0], foot), (area[2], foot), (area[2], top), (area[0], top))
    return [Stroke(corners, 0.8, closed=True), *items], foot - 3.0
