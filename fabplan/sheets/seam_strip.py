"""Seam strips: the holes of all plies of a seam full size, to be laid on the steel as a strip or drilled through."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import FloatArray
from fabplan.model.clearance import CLEARANCE, usable_clearance
from fabplan.model.figures import runs
from fabplan.model.joints import FROM_MATE, size_words
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.sheets.clip import clipped
from fabplan.sheets.flat_row import FlatRow, flat_rows, passing
from fabplan.sheets.frame import A4, Paper, Sheet, framed, room, rooms
from fabplan.sheets.pen import LEADING, LEAST, Box, short, wrap
from fabplan.sheets.table import Table, laid, notes

Item = Stroke | Arc | Text
TITLE, FIGURE = 4.0, 2.5  # mm, capitals
BAR = 100.0  # mm, to be measured
LABEL = 6.0  # mm over each ply: its words
BESIDE, LEAST_BESIDE = 23.0, 12.0  # mm of plate shown beside the outermost holes
BEYOND = 24.0  # mm of plate shown beyond an end hole
FARTHEST = 200.0  # mm: holes farther apart than this get no join, a figure instead
ROUND = np.column_stack([np.cos(np.linspace(0.0, 2.0 * np.pi, 49)), np.sin(np.linspace(0.0, 2.0 * np.pi, 49))])
CROSS = 2.5  # mm, arms of a witness mark beyond the edge of its hole
GAP = 3.0  # mm between plies
STRAIGHT = 0.05  # mm by which the way along the holes may be longer than that across them
OVERLAP = 6.0  # mm of paper beyond a join
WITNESS, ARM = 9.0, 8.0  # mm: how far a join's crosses lie off the row, and how wide they are
CAUTIONS = (
    "Print at 100 %, never fitted to the page; the bar must measure 100.0 mm. Paper moves with damp: prove each strip "
    "by the length printed on it, with a steel rule, before a punch touches steel.",
)
KEY = (
    "Each ply as it lies in the flat, seen from the made heads: lay its strip, print up, on the face named over it. "
    "Cut at the dash-dot join lines and bring lines and crosses of like letters together. Figures under holes: "
    "rivets of the seam; over holes: the ply's own numbers where they differ. Full line: edge; "
    "dashed: holes of other seams."
)


@dataclass(frozen=True, slots=True)
class Stretch:
    """Rivets from `first` up to but not including `end` on one page; the letters of the joins at either end, or ""."""

    first: int
    end: int
    before: str
    after: str


def seam_strips(plan: Plan) -> tuple[Page, ...]:
    """A list of all seams with their sheets, then the strips seam by seam; none where nothing could be put together."""
    if plan.body is None or plan.stacks is None:
        return ()
    stops = sum(finding.blocks for finding in plan.findings)
    paper = Paper("Seam strips", A4, plan.job, stops, CAUTIONS)
    strips = [(number, list(_strips(plan, number, room(paper)))) for number in range(len(plan.job.seams))]
    strips = [(number, own) for number, own in strips if own]
    if not strips:
        return ()
    index = _index(plan, strips, 1, paper)
    while len(index) != len(again := _index(plan, strips, len(index) + 1, paper)):
        index = again  # the list tells sheets that come after it, and may itself grow by that
    index = again
    sheets = [Sheet(tuple(items), subject="list of seams") for items in index]
    sheets += [Sheet(items, subject=f"seam {plan.job.seams[k].mark}") for k, own in strips for items in own]
    return framed(paper, sheets)


def _index(
    plan: Plan, strips: Sequence[tuple[int, list[tuple[Item, ...]]]], first: int, paper: Paper
) -> list[list[Item]]:
    rows = []
    for number, own in strips:
        seam = plan.job.seams[number]
        plies = ", ".join(f"{ply.instance}/{ply.row}" for ply in seam.plies)
        sheets = f"{first}" if len(own) == 1 else f"{first} to {first + len(own) - 1}"
        rows.append((seam.mark, plies, state_words(plan, number)[0], sheets))
        first += len(own)
    heads = ("seam", "plies from the made heads", "holes", "sheets")
    shown = {number for number, _ in strips}
    left = [seam.mark for k, seam in enumerate(plan.job.seams) if k not in shown]
    without = f"No strip, for no hole of theirs is known to meet another: {', '.join(left)}."
    tables = [
        Table("Seam strips", heads, (0.8, 4.0, 2.4, 1.0), tuple(rows)),
        notes("", (KEY, *((without,) if left else ()))),
    ]
    return laid(tables, rooms(paper))[0]


def state_words(plan: Plan, number: int) -> tuple[str, str]:
    """In what state the holes of a seam come to the bench, in few words, and who is drilled from whom."""
    seam = plan.job.seams[number]
    size = size_words(seam.hole_sizes(plan.job.rivets)).removesuffix(" mm") or "?"
    of_state: dict[str, list[str]] = {}
    for ply in seam.plies:
        of_state.setdefault(ply.state, []).append(ply.instance)
    mate = next((ply.instance for ply in seam.plies if ply.state != FROM_MATE), seam.plies[0].instance)
    short_words, done = [], []
    for state, marks in of_state.items():
        own = ", ".join(marks)
        words = {
            "full": ("full size as cut", _drilling(plan, marks)),
            "pilot": ("PILOTS as cut", f"bolt up, ream {own} to {size} through all plies together"),
            "reamed": ("cut small, reamed", f"bolt up, then ream {own} to {size} through all plies together"),
            "mark": ("CENTRE MARKS only", f"no hole is cut: drill {own} to its marks"),
            FROM_MATE: ("NOT CUT", f"no hole is cut: drill {own} through {mate}"),
        }[state]
        short_words.append(words[0] if len(of_state) == 1 else f"{own} {words[0]}")
        done.append(words[1])
    return "; ".join(short_words), "; ".join(done)


def _drilling(plan: Plan, marks: Sequence[str]) -> str:
    """Of full-size holes: a bar is drilled from the plate that it lies on."""
    assert plan.body is not None
    section = {one.mark: plan.body.parts[one.part].section for one in plan.body.instances}
    plates = [mark for mark in marks if mark in section and section[mark] is None]
    bars = [mark for mark in marks if mark in section and section[mark] is not None]
    if plates and bars:
        return f"{', '.join(bars)} drilled from {plates[0]} where it is to hand (common practice), else to this strip"
    return "each ply by its own drawing, none from another"


def _strips(plan: Plan, number: int, area: Box) -> Iterator[tuple[Item, ...]]:
    """The items of each page of one seam."""
    rows = flat_rows(plan, number)
    if not rows:
        return
    told = _told(plan, number, rows)
    lines = [line for one in told for line in wrap(one, area[2] - area[0])]
    top = area[3] - TITLE - 3.0 - len(lines) * LEAST * LEADING - 1.0
    field = (area[0], area[1] + 9.0, area[2], top)
    stretches = list(_stretches(rows, field))
    for page, one in enumerate(stretches, start=1):
        title = f"Seam {plan.job.seams[number].mark}, strip {page} of {len(stretches)}: {_span(one)}"
        items: list[Item] = [Text((area[0], area[3] - TITLE), short(title, area[2] - area[0], TITLE, bold=True), TITLE,
                                  bold=True)]  # fmt: skip
        for k, line in enumerate(lines):
            items.append(Text((area[0], area[3] - TITLE - 5.0 - k * LEAST * LEADING), line))
        yield (*items, *_bar(area), *_plies(rows, one, field))


def _span(one: Stretch) -> str:
    return f"rivet {one.first + 1}" if one.end - one.first == 1 else f"rivets {one.first + 1} to {one.end}"


def _told(plan: Plan, number: int, rows: Sequence[FlatRow]) -> list[str]:
    """What stands above the strips of a seam."""
    seam = plan.job.seams[number]
    kind = next((k for k, rivet in enumerate(plan.job.rivets) if rivet.mark == seam.rivet), None)
    state, drilled = state_words(plan, number)
    others = [(spec, places) for spec, places in seam.kinds(plan.job.rivets) if places]
    tapped = {spec.tapped for spec, _ in others}
    clear = [size for row in rows for size in row.diameter.tolist() if np.isfinite(size) and size not in tapped]
    smallest = min(clear) if clear else min(float(np.nanmin(row.diameter)) for row in rows)
    sized = f"hole {smallest:g}"
    if kind is not None:
        rivet = plan.job.rivets[kind]
        final = smallest if all(ply.state == "full" for ply in seam.plies) else rivet.hole
        sized = f"{rivet.kind} {rivet.diameter:g} in hole {final:g}"
        if rivet.kind == "rivet":
            play = usable_clearance(plan.job, kind, final)
            sized += f": usable clearance {play:.2f} mm ({CLEARANCE})"
        elif rivet.tapped is not None:
            sized = f"tap rivet {rivet.diameter:g} in hole {rivet.hole:g}, last ply tapped from {rivet.tapped:g}"
    for spec, places in others:
        sized += f"; at {runs(sorted(places))} {spec.kind} {spec.diameter:g} in hole {spec.hole:g}"
        sized += f", last ply tapped from {spec.tapped:g}" if spec.tapped is not None else ""
    ends = ", ".join(f"{row.mark} hole {row.number[0]}" for row in rows if row.number[0])
    also = "; ".join(f"{mark} at {runs(places.tolist())}" for mark, places in passing(plan, number))
    return [
        f"Datum: rivet 1 ({ends}). Holes: {state}; {drilled}.",
        f"{sized[:1].upper()}{sized[1:]}." + (f" Also through {also}." if also else ""),
    ]


def _bar(area: Box) -> list[Item]:
    """The bar to measure, at the foot of the page."""
    x, y = area[0] + 2.0, area[1] + 3.5
    ticks = [Stroke(((x + k, y - 1.5), (x + k, y + (3.0 if k % 50 == 0 else 1.5))), 0.2) for k in range(0, 101, 10)]
    words = "<- measures 100.0 mm when printed at 100 %. Found: ............ mm"
    return [Stroke(((x, y), (x + BAR, y)), 0.35), *ticks, Text((x + BAR + 4.0, y - 1.0), words, 3.0, bold=True)]


def _stretches(rows: Sequence[FlatRow], field: Box) -> Iterator[Stretch]:
    """As many rivets a page as fit it on every ply."""
    count, first, before, joins = len(rows[0].xy), 0, "", 0
    while first < count:
        end = first + 1
        while end < count and not _parted(rows, end) and _fits(rows, first, end + 1, field):
            end += 1
        joined = end < count and not _parted(rows, end)
        after = _letter(joins) if joined else ""
        joins += joined
        yield Stretch(first, end, before, after)
        first, before = end, after


def _letter(number: int) -> str:
    """A, B, ... Z, AA, AB, ..."""
    return (_letter(number // 26 - 1) if number >= 26 else "") + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[number % 26]


def _step(row: FlatRow, end: int) -> FloatArray:
    """From the hole before `end` to that at `end`."""
    step: FloatArray = row.xy[end] - row.xy[end - 1]
    return step


def _parted(rows: Sequence[FlatRow], end: int) -> bool:
    """True where no ply has both holes of a join, or they are too far apart for one."""
    size = [float(np.linalg.norm(_step(row, end))) for row in rows]
    known = [one for one in size if np.isfinite(one)]
    return not known or not max(known) <= FARTHEST


def _fits(rows: Sequence[FlatRow], first: int, end: int, field: Box) -> bool:
    places = [_laid(row, first, end)[0] for row in _there(rows, first, end)]
    wide = max(float(np.nanmax(xy[:, 0]) - np.nanmin(xy[:, 0])) for xy in places)
    left, right = _margin(rows, first), _margin(rows, end)
    return wide + left + right <= field[2] - field[0] and _beside(places, field) >= LEAST_BESIDE


def _there(rows: Sequence[FlatRow], first: int, end: int) -> list[FlatRow]:
    """The plies that have holes in a stretch."""
    return [row for row in rows if np.isfinite(row.xy[first:end, 0]).any()]


def _margin(rows: Sequence[FlatRow], end: int) -> float:
    """Room beyond the outermost hole: to the join and the paper's overlap, or to the end of the plate."""
    if end in (0, len(rows[0].xy)) or _parted(rows, end):
        return BEYOND
    return max(float(np.nan_to_num(np.linalg.norm(_step(row, end)))) for row in rows) / 2.0 + OVERLAP


def _beside(places: Sequence[FloatArray], field: Box) -> float:
    """How much plate can be shown beside the outermost holes, mm."""
    deep = sum(float(np.nanmax(xy[:, 1]) - np.nanmin(xy[:, 1])) for xy in places)
    left = field[3] - field[1] - len(places) * (LABEL + GAP) - deep
    return min(left / (2.0 * len(places)), BESIDE)


def _laid(row: FlatRow, first: int, end: int) -> tuple[FloatArray, FloatArray]:
    """The holes of a stretch laid level, the first to the left, and the turn (2, 2) that lays them so."""
    own = row.xy[first:end]
    known = own[np.isfinite(own[:, 0])]
    way = known[-1] - known[0] if len(known) > 1 else _direction(row, first)
    size = float(np.linalg.norm(way))
    cos, sin = (way / size).tolist() if size > 0.0 else (1.0, 0.0)
    turn = np.array([[cos, sin], [-sin, cos]])
    return own @ turn.T, turn


def _direction(row: FlatRow, place: int) -> FloatArray:
    """The way of the row at a lone hole: towards its neighbours."""
    low, high = max(place - 1, 0), min(place + 1, len(row.xy) - 1)
    way: FloatArray = row.xy[high] - row.xy[low]
    return way if np.isfinite(way).all() else np.array([1.0, 0.0])


def _plies(rows: Sequence[FlatRow], one: Stretch, field: Box) -> Iterator[Item]:
    """All plies of a stretch one under the other, their first holes in line."""
    there = _there(rows, one.first, one.end)
    places = [_laid(row, one.first, one.end)[0] for row in there]
    beside, y = _beside(places, field), field[3]
    left = field[0] + _margin(rows, one.first)
    for row, xy in zip(there, places, strict=True):
        low, high = float(np.nanmin(xy[:, 1])), float(np.nanmax(xy[:, 1]))
        foot = y - LABEL - (high - low) - 2.0 * beside
        start = left - float(np.nanmin(xy[:, 0])), foot + beside - low
        yield from _ply(row, one, start, (field[0], foot, field[2], y - LABEL))
        y = foot - GAP


def _ply(row: FlatRow, one: Stretch, start: tuple[float, float], window: Box) -> Iterator[Item]:
    """One ply within its window of the paper; `start`: where the turned blank's origin lies on the paper."""
    xy, turn = _laid(row, one.first, one.end)
    shift = np.array(start)
    yield Text((window[0], window[3] + 1.5), _label(row, one, xy, window[2] - window[0]), FIGURE, bold=True)
    for ring in row.edges:
        yield from (Stroke(run, 0.35) for run in _within(ring @ turn.T + shift, window))
    for x, y, size in row.others.tolist():
        ring = turn @ [x, y] + shift + size / 2.0 * ROUND
        yield from (Stroke(run, 0.13, (1.5, 1.0)) for run in _within(ring, window))
    known = np.nonzero(np.isfinite(xy[:, 0]))[0].tolist()
    line = _within(_extended(xy[known] + shift), window)
    yield from (Stroke(run, 0.1, (4.0, 1.0)) for run in line)
    for k in known:
        yield from _hole(row, one.first + k, (xy[k] + shift).tolist())
    for end, letter in ((one.first, one.before), (one.end, one.after)):
        if letter:
            yield from _join(row, end, (turn, shift), letter, window)


def _within(line: FloatArray, window: Box) -> Sequence[tuple[tuple[float, float], ...]]:
    """The runs of a line (n, 2) within a window; most lie nowhere near it."""
    low, high = line.min(axis=0), line.max(axis=0)
    if low[0] > window[2] or low[1] > window[3] or high[0] < window[0] or high[1] < window[1]:
        return ()
    return clipped(_points(line), window)


def _label(row: FlatRow, one: Stretch, xy: FloatArray, wide: float) -> str:
    known = np.nonzero(np.isfinite(xy[:, 0]))[0]
    words = f"{row.mark} ({row.what}): on {row.face}"
    if len(known) > 1:
        long = float(np.linalg.norm(xy[known[-1]] - xy[known[0]]))
        words += f"; {one.first + known[0] + 1} to {one.first + known[-1] + 1} measures {long:.2f}"
    if not one.first and known[0] == 0:
        words += f", datum {_off_edge(row):.1f} from the nearest edge"
    elif _straight(row, one.end):
        words += f", 1 to {one.end} {float(np.linalg.norm(row.xy[one.end - 1] - row.xy[0])):.2f}"
    return short(words, wide, FIGURE, bold=True)


def _off_edge(row: FlatRow) -> float:
    """How far the datum hole lies from the nearest edge, mm."""
    lines = [(line[:-1], np.diff(line, axis=0)) for line in row.edges]
    away = np.inf
    for start, way in lines:
        share = np.einsum("kx,kx->k", row.xy[0] - start, way) / np.maximum(np.einsum("kx,kx->k", way, way), 1e-12)
        foot = start + np.clip(share, 0.0, 1.0)[:, None] * way
        away = min(away, float(np.linalg.norm(foot - row.xy[0], axis=1).min()))
    return away


def _straight(row: FlatRow, end: int) -> bool:
    """True where a steel rule measures from the datum hole to the last one before `end`."""
    run = np.linalg.norm(np.diff(row.xy[:end], axis=0), axis=1).sum()
    return bool(abs(run - np.linalg.norm(row.xy[end - 1] - row.xy[0])) < STRAIGHT)


def _extended(points: FloatArray) -> FloatArray:
    """The line of a row's holes, carried on beyond both ends."""
    line: FloatArray
    if len(points) < 2:
        line = points + np.array([[-BEYOND, 0.0], [BEYOND, 0.0]])
        return line
    ways = [(points[0] - points[1]), (points[-1] - points[-2])]
    first, last = (end + BEYOND * way / max(float(np.linalg.norm(way)), 1e-9)
                   for end, way in zip((points[0], points[-1]), ways, strict=True))  # fmt: skip
    line = np.vstack([first, points, last])
    return line


def _hole(row: FlatRow, place: int, centre: Sequence[float]) -> Iterator[Item]:
    """A hole with its witness cross and its figures; the datum hole with its word."""
    x, y = centre
    radius = float(row.diameter[place]) / 2.0
    arm = radius + CROSS
    yield Arc((x, y), radius, width=0.2)
    yield Stroke(((x, y - arm), (x, y + arm)), 0.1)
    yield Stroke(((x - arm, y), (x + arm, y)), 0.1)
    yield Text((x, y - arm - FIGURE - 0.6), str(place + 1), FIGURE, "middle", bold=True)
    own = row.number[place].rsplit(" ", 1)[-1]
    words = [own] if own != str(place + 1) else []
    if place == 0:
        yield Arc((x, y), radius + 1.2, width=0.5)
        words.insert(0, "DATUM")
    if words:
        yield Text((x, y + arm + 0.8), " ".join(words), FIGURE, "middle")


def _join(row: FlatRow, end: int, laid_by: tuple[FloatArray, FloatArray], letter: str, window: Box) -> Iterator[Item]:
    """The line at which two strips of one ply are brought together, half way between two holes and square to them."""
    turn, shift = laid_by
    pair = row.xy[end - 1 : end + 1] @ turn.T + shift
    if not np.isfinite(pair).all():
        return
    way = pair[1] - pair[0]
    across = np.array([-way[1], way[0]]) / max(float(np.linalg.norm(way)), 1e-9)
    middle, arm = pair.mean(axis=0), 0.5 * ARM * way / max(float(np.linalg.norm(way)), 1e-9)
    for run in _within(np.array([middle - 500.0 * across, middle + 500.0 * across]), window):
        yield Stroke(run, 0.25, (5.0, 1.5))
    for side in (-1.0, 1.0):
        at = middle + side * WITNESS * across
        yield from (Stroke(run, 0.2) for run in _within(np.array([at - arm, at + arm]), window))
    x, y = (middle + WITNESS * across).tolist()
    yield Text((x, y + 1.0), letter, 3.0, "middle", bold=True, halo=True)


def _points(points: FloatArray) -> tuple[tuple[float, float], ...]:
    return tuple((float(x), float(y)) for x, y in points)
