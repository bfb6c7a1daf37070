"""The order of work: an overview of all steps, then one step a sheet, to be read beside the job and signed."""

from collections.abc import Callable, Sequence
from functools import cache, partial
from itertools import chain, repeat

import numpy as np

from fabplan.model.figures import runs
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import SeamWork, Step
from fabplan.sheets.frame import A3, A4, A4_TALL, SIGN, Paper, Sheet, framed, room, signed
from fabplan.sheets.how_it_lies import how_it_lies, lifts, orders_weighed
from fabplan.sheets.inspection import holds, sizes
from fabplan.sheets.isometric import scene
from fabplan.sheets.locator import located, picture
from fabplan.sheets.pen import LEADING, LEAST, Box, balanced, wrap
from fabplan.sheets.row import numbers_of, rivet_words, rows_of
from fabplan.sheets.seam_map import SEEN_FROM, order_in_pictures, seam_maps
from fabplan.sheets.sequence_index import index_pages
from fabplan.sheets.shelves import set_out
from fabplan.sheets.table import Table, abreast, laid, natural, notes, spread

Item = Stroke | Arc | Text
SIDE = (86.0, 56.0)  # mm, the picture of where the work is
BESIDE = 6  # pieces that are listed beside the picture of a step
LITTLE = 30.0  # mm: room below a picture in which no table is begun
ALONE = 70.0  # mm, least height of the picture of a step without riveting
GAP = 5.0
TITLE, CAUTION, OVERVIEW = 5.0, 2.5, 3.0  # mm, capitals
HEAD = 9.0  # mm, the heading of a further sheet of a step
MANY = 16  # pieces named in the overview
UNFAIR = 8  # lines for unfair holes
EXCEPTIONS = 40.0  # mm, least width of the boxes for rivets that are not driven
LABEL = 33.0  # mm, the word in front of the cautions
KEY = "Rows from the driver's side. Bold: number; plain: turn; black: first; ringed: other length; crossed: bolt."
DRIVER_SIDES = {"point": "point side", "head": "made-head side, heads change sides"}
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
        pages = _step(plan, room(tall), partial(picture, plan, view, drawn, step), step)
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


def _marks(plan: Plan, instances: Sequence[int]) -> list[str]:
    assert plan.body is not None
    return [plan.body.instances[i].mark for i in instances]


def _step(plan: Plan, area: Box, picture: Callable[[Box], list[Item]], step: Step) -> list[list[Item]]:
    """The items of all sheets of one step, which is signed on the first."""
    floor, after = area[1] + SIGN + 2.0, (*area[:3], area[3] - HEAD)
    head, top = _heading(f"Step {step.number}: {step.title}", step.reason, area)
    warned, top = _cautions(step.cautions, area, top)
    first = (area[0], floor, area[2], top)
    pages = (_working if step.work else _placing)(plan, step, picture, (first, after))
    pages[0] += [*head, *warned, *signed(area, RIVETED if step.work else PLACED)]
    for number, items in enumerate(pages[1:], start=2):
        items.append(Text((area[0], area[3] - TITLE), f"Step {step.number}, part {number}", 4.0, bold=True))
    return pages


def _working(plan: Plan, step: Step, picture: Callable[[Box], list[Item]], areas: tuple[Box, Box]) -> list[list[Item]]:
    """A step with riveting: its picture with the pieces beside it, the other tables below, then the rows."""
    first, after = areas
    low = first[3] - SIDE[1]
    beside = (first[0] + SIDE[0] + GAP, *first[1:])
    full, few = first[2] - first[0], len(step.parts) <= BESIDE
    pieces = _pieces(plan, step, beside[2] - beside[0] if few else full)
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


def _placing(plan: Plan, step: Step, picture: Callable[[Box], list[Item]], areas: tuple[Box, Box]) -> list[list[Item]]:
    """A step without riveting: its tables, then its picture in the room that is left, or on a sheet of its own."""
    first, after = areas
    pages, y = laid(step_tables(plan, step, first[2] - first[0]), chain([first], repeat(after)))
    left = (*(first if len(pages) == 1 else after)[:3], y)
    if left[3] - left[1] < ALONE:
        if not step.parts:
            return pages
        pages.append([])
        left = after
    pages[-1] += picture(left)
    return pages


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
    """All tables of a step, at most `wide` mm."""
    return [_pieces(plan, step, wide), *how_it_lies(plan, step), *work_tables(plan, step, wide)]


def work_tables(plan: Plan, step: Step, wide: float) -> list[Table]:
    """What a step lifts, rivets, bolts and checks."""
    seams = plan.job.seams
    bolts = tuple((seams[seam].mark if seam >= 0 else "-", str(count)) for seam, count in step.bolts)
    lines = [*step.checks, *(f"{what}: {target}" for what, target in sizes(plan, step))]
    checks = tuple((f"{number}", line, "", "") for number, line in enumerate(lines, start=1))
    checks += tuple(("HOLD", f"work stops till {by} has signed: {what}", "", "") for what, by in holds(plan, step))
    heads = ("", "check before signing", "value found", "initials")
    return [
        *lifts(step, wide),
        *_riveting(plan, step, wide),
        abreast("Service bolts put in at this step", ("seam", "no"), bolts),
        notes("", _bolts(plan) if bolts and step.kind == "dry-fit" else []),
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


def _pieces(plan: Plan, step: Step, wide: float) -> Table:
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
    lift = f"; heaviest lift {step.lift:.1f} kg" if step.lift > 0.0 else ""
    heads = ("mark", "what", "kg", "place")
    return Table(f"Pieces{lift}", heads, natural(heads, rows, wide), tuple(rows), (2,))


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
