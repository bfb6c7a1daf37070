"""The sheets of a forecast: the choices side by side, the seams in the order of their easing, and where on the body."""

from collections.abc import Iterator

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.body import Body, Stacks
from fabplan.model.figures import runs
from fabplan.model.forecast import EASED, FAILS, GOES_IN, MIDDLE, NEXT, OPENED, Choice, Forecast
from fabplan.model.job import Job
from fabplan.model.page import Arc, Page, Stroke, Text
from fabplan.sheets.frame import A3, Paper, Sheet, framed, room
from fabplan.sheets.isometric import isometric, places, scene
from fabplan.sheets.locator import label
from fabplan.sheets.pen import Box
from fabplan.sheets.seam_map import SEEN_FROM
from fabplan.sheets.table import Table, notes, spread

Item = Stroke | Arc | Text
TITLE = 5.0  # mm, capitals
HOUR = 60.0  # minutes
STEPS = ((0.01, 0.25, 0.0), (0.1, 0.65, 1.0), (0.5, 1.0, 0.6), (1.1, 1.3, 0.0))
"""Shares of bodies up to which a rivet is drawn with a radius, mm, and a grey."""

WORDS = ("under 1 in 100", "1 to 10 in 100", "10 to 50 in 100", "over half of all bodies")
TOLD = (
    "Goes in: the rivet passes as the holes are cut. Eased: out by up to the limit of reaming, and the reamer of the "
    "hole's own size does. Next size: only the hole of the next rivet clears all plies, by a concession. Fails: weld "
    "and drill again, or make anew.",
    "Likely worst: 95 of 100 bodies keep within it. What is measured on the first body says more than any forecast.",
)


def forecast_sheets(job: Job, body: Body, stacks: Stacks, found: Forecast) -> tuple[Page, ...]:
    """Tables, then the body seen from two corners with every rivet by its share of easing."""
    paper = Paper("Forecast of easing", A3, job, 0)
    choices, costs, middle, *others = forecast_tables(job, stacks, found)
    tables = [choices, notes("", TOLD), costs, middle, *others, notes("Taken for it", found.assumptions)]
    sheets = [Sheet(tuple(items)) for items in spread(tables, room(paper))]
    pictures = [Sheet(tuple(items), subject="where") for items in _pictures(job, body, stacks, found, room(paper))]
    return framed(paper, [*sheets[:1], *pictures, *sheets[1:]])


def forecast_tables(job: Job, stacks: Stacks, found: Forecast) -> list[Table]:
    """The choices, the seams, and which holes to order as pilots where any are."""
    costs, middle = _costs(found), notes("Aligned at the middle instead of at one end", _middle(job, found))
    return [_choices(found), costs, middle, _seams(job, stacks, found), *_pilots(job, stacks, found)]


def _choices(found: Forecast) -> Table:
    """The choices side by side, means over all bodies."""
    rows = []
    for choice in found.choices:
        mean = choice.share[found.asked].sum(axis=0)
        figures = [mean[GOES_IN], mean[OPENED], mean[EASED], mean[NEXT], mean[FAILS]]
        rows.append((choice.title, str(int(choice.pilots.sum())), *(f"{value:.1f}" for value in figures)))
    count = int(found.asked.sum())
    title = f"{count} rivets, mean of {found.bodies} bodies, seed {found.seed}"
    heads = ("ordered and bolted up", "pilots", "go in", "opened as ordered", "eased", "next size", "fail")
    return Table(title, heads, (4.0, 1.0, 1.0, 1.4, 1.0, 1.0, 1.0), tuple(rows), tuple(range(1, 7)))


def _costs(found: Forecast) -> Table:
    """What each choice costs in the time of the gang."""
    rows = []
    drawn = float(found.costs[0].every.sum())
    for choice, cost in zip(found.choices, found.costs, strict=True):
        work, align = float(cost.work.sum()), float(cost.align.sum())
        known = bool(np.isfinite(align))
        whole = (f"{align / HOUR:.1f}", f"{(work + align) / HOUR:.1f}", f"{(work + align - drawn) / HOUR:+.1f}")
        rows.append((choice.title, f"{work / HOUR:.1f}", *(whole if known else ("not known",) * 3)))
    heads = ("ordered and bolted up", "holes, hours", "drawing together, hours", "together", "more than as drawn")
    title = (
        "What it costs: opening, easing, next size and holes made anew; rows drawn together elsewhere than at an end"
    )
    return Table(title, heads, (4.0, 1.2, 1.8, 1.2, 1.6), tuple(rows), (1, 2, 3, 4))


def _time(saved: float) -> str:
    """Minutes saved, in words."""
    whole = round(saved)
    return f"saves {whole} minutes" if whole >= 0 else f"takes {-whole} minutes more"


def _middle(job: Job, found: Forecast) -> Iterator[str]:
    """What it costs to align at the middle instead, in holes and in time, and where it pays; why no pilots."""
    if not any(choice.pilots.any() for choice in found.choices):
        yield "No pilots: in 95 of 100 bodies no row wants more than easing."
    for choice, cost in zip(found.choices, found.costs, strict=True):
        if choice.aligned == MIDDLE:
            first, drawn = found.choices[0], found.costs[0]
            before, after = (float(one.easing[:, 0].sum()) for one in (first, choice))
            saved, more = float(drawn.work.sum() - cost.work.sum()), float(cost.align.sum())
            rows = int(found.rows.sum())
            yield (
                f"{before:.1f} holes that want easing or more become {after:.1f}, which {_time(saved)}; "
                f"drawing {rows} rows together there costs {more:.0f} minutes."
            )
            pays = np.flatnonzero(cost.every < drawn.every)
            gain = float((drawn.every - cost.every)[pays].sum())
            names = ", ".join(job.seams[k].mark for k in pays.tolist())
            yield (
                f"By these rates it pays in {names}: {gain:.0f} minutes there."
                if len(pays)
                else "By these rates it pays in no seam."
            )


def _seams(job: Job, stacks: Stacks, found: Forecast) -> Table:
    """A row a seam, those with most easing as drawn first."""
    first = found.choices[0]
    order = np.lexsort((np.arange(len(job.seams)), -first.easing[:, 0]))
    rows = []
    for seam in order.tolist():
        own = np.flatnonzero((stacks.seam == seam) & found.asked)
        if len(own):
            mean = [f"{value:.1f}" for value in first.share[own].sum(axis=0)[[GOES_IN, EASED, NEXT, FAILS]]]
            others = [_easing(choice, seam) for choice in found.choices]
            far = own[int(first.out[own].argmax())]
            place = f"{first.out[far]:.2f} at {stacks.number[int(far)]}"
            rows.append((job.seams[seam].mark, str(len(own)), *mean, place, *others))
    drawn = ("seam", "rivets", "go in", "eased", "next size", "fail", "out, mm, 95 of 100")
    heads = (*drawn, *(f"{_short(choice)}: mean, likely worst" for choice in found.choices))
    shares = (0.8, 0.8, 0.9, 0.9, 0.9, 0.8, 1.8, *(1.5 for _ in found.choices))
    title = "Seams: as drawn, aligned at one end; and what wants easing or more by each choice"
    return Table(title, heads, shares, tuple(rows), tuple(range(1, len(heads))))


def _short(choice: Choice) -> str:
    return "pilots, one end" if choice.pilots.any() else choice.aligned


def _easing(choice: Choice, seam: int) -> str:
    mean, worst = choice.easing[seam].tolist()
    return f"{mean:.1f}, {worst:.0f}"


def _pilots(job: Job, stacks: Stacks, found: Forecast) -> list[Table]:
    """Which holes to order as pilots, by seam."""
    rows = []
    for choice in found.choices:
        for seam in np.unique(stacks.seam[choice.pilots]).tolist():
            own = np.flatnonzero(choice.pilots & (stacks.seam == seam))
            places = sorted(int(stacks.number[i].rpartition(" ")[2]) for i in own.tolist())
            rows.append((job.seams[seam].mark if seam >= 0 else "-", str(len(own)), runs(places)))
    if not rows:
        return []
    title = "Order these holes as pilots in every ply that is to be made, and open them when the seam is bolted up"
    return [Table(title, ("seam", "holes", "numbers"), (1.0, 1.0, 10.0), tuple(rows), (1,))]


def _pictures(job: Job, body: Body, stacks: Stacks, found: Forecast, area: Box) -> list[list[Item]]:
    """The body from two corners, beside one another or on pages of their own."""
    pages = []
    stuck = found.choices[0].share[:, [EASED, NEXT, FAILS]].sum(axis=1)
    space = (area[0], area[1] + 14.0, area[2], area[3] - TITLE - 6.0)
    for corner in SEEN_FROM[:2]:
        view = scene(body, corner)
        items: list[Item] = [Text((area[0], area[3] - TITLE), "Where holes want easing, as drawn", TITLE, bold=True)]
        items += isometric(view, space, (), range(len(body.instances)))
        faces = [places(view, space, face) for face in (stacks.head_face, stacks.point_face)]
        clear = (faces[0][1] | faces[1][1]) & found.asked
        at = np.where(faces[0][1][:, None], faces[0][0], faces[1][0])
        items += _dots(at[clear], stuck[clear])
        items += _letters(job, stacks, found.choices[0], (at, np.flatnonzero(clear)), space)
        pages.append([*items, *_key(area)])
    return pages


def _dots(at: FloatArray, stuck: FloatArray) -> list[Item]:
    """A dot a rivet, those with most easing above the others."""
    items: list[Item] = []
    for k in np.argsort(stuck, kind="stable").tolist():
        _, radius, grey = next(step for step in STEPS if stuck[k] < step[0])
        items.append(Arc((float(at[k, 0]), float(at[k, 1])), radius, width=0.2, fill=grey))
    return items


def _letters(job: Job, stacks: Stacks, drawn: Choice, seen: tuple[FloatArray, IntArray], room: Box) -> list[Item]:
    """The letter of every seam with holes to ease, and the likely worst count, near its holes that stray most.

    `seen`: where rivets (n, 2) lie on the paper, and which (k,) are seen.
    """
    items: list[Item] = []
    taken: list[Box] = []
    worst = drawn.easing[:, 1]
    for seam in np.argsort(-worst, kind="stable").tolist():
        own = seen[1][stacks.seam[seen[1]] == seam]
        if worst[seam] > 0 and len(own):
            spots = seen[0][own[np.argsort(-drawn.out[own], kind="stable")]]
            items += label(f"{job.seams[seam].mark}: {worst[seam]:.0f}", spots, taken, room)
    return items


def _key(area: Box) -> list[Item]:
    """What the dots mean."""
    items: list[Item] = [Text((area[0], area[1] + 6.0), "Wants easing or more:")]
    x = area[0] + 45.0
    for (_, radius, grey), words in zip(STEPS, WORDS, strict=True):
        items += [Arc((x, area[1] + 7.0), radius, width=0.2, fill=grey), Text((x + 3.0, area[1] + 6.0), words)]
        x += 60.0
    said = "Beside a seam: how many of its holes that is in the likely worst body (95 of 100 keep within it)."
    return [*items, Text((area[0], area[1] + 1.0), said)]
