"""The seam map, by the letters that are chalked on the steel; and the order of work in small pictures."""

from collections.abc import Sequence

import numpy as np

from fabplan.model.arrays import FloatArray
from fabplan.model.page import Arc, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.isometric import USUAL, Corner, Scene, isometric, places
from fabplan.sheets.locator import fitted, label, middle_first
from fabplan.sheets.pen import LEADING, LEAST, Box, short, wrap
from fabplan.sheets.stand import told

Item = Stroke | Arc | Text
SEEN_FROM: tuple[Corner, ...] = (USUAL, (-1.0, 1.0, 1.0), (1.0, -1.0, -1.0), (-1.0, 1.0, -1.0))
"""Corners from which together all six sides of a body are seen."""

DOT = 0.35  # mm, radius of a rivet on the map
CELL = (64.0, 58.0)  # mm, a small picture of the order with its words
TITLE = 5.0  # mm, capitals


def seam_maps(plan: Plan, views: Sequence[Scene], area: Box) -> list[list[Item]]:
    """A page a view, those that show no further seam left out; the last tells what is seen from no side.

    Args:
        plan: with its stacks.
        views: the body from the corners of `SEEN_FROM`.
        area: of each page, mm.
    """
    assert plan.body is not None
    everything = range(len(plan.body.instances))
    room = (area[0], area[1] + 8.0, area[2], area[3] - TITLE - 6.0)
    pages: list[list[Item]] = []
    shown: set[int] = set()
    for corner, view in zip(SEEN_FROM, views, strict=True):
        found = _seen(plan, view, room)
        if set(found) - shown:
            shown |= set(found)
            title = f"Seam map: chalk these letters on the steel. {told(plan, corner)}"
            items: list[Item] = [Text((area[0], area[3] - TITLE), short(title, area[2] - area[0], TITLE), TITLE)]
            items += isometric(view, room, (), everything)
            pages.append([*items, *_lettered(plan, found, (room[0], room[1] - 6.0, room[2], room[3] + 2.0))])
    left = [seam.mark for k, seam in enumerate(plan.job.seams) if k not in shown]
    if left and pages:
        lines = wrap(f"Seen from none of these sides: {', '.join(left)}.", area[2] - area[0])[:2]
        pages[-1] += [Text((area[0], area[1] + 5.0 - k * LEAST * LEADING), line) for k, line in enumerate(lines)]
    return pages


def _seen(plan: Plan, view: Scene, room: Box) -> dict[int, FloatArray]:
    """The rivets (k, 2) on the paper of each seam of which most are seen, on either face."""
    assert plan.stacks is not None
    stacks = plan.stacks
    faces = [places(view, room, face) for face in (stacks.head_face, stacks.point_face)]
    clear = faces[0][1] | faces[1][1]
    at = np.where(faces[0][1][:, None], faces[0][0], faces[1][0])
    found = {}
    for k in range(len(plan.job.seams)):
        own = stacks.seam == k
        if own.any() and float(clear[own].mean()) > 0.5:
            found[k] = at[own & clear]
    return found


def _lettered(plan: Plan, found: dict[int, FloatArray], room: Box) -> list[Item]:
    """The rivets of each seam as dots, and its letter beside them where it lies over no other."""
    items: list[Item] = [Arc((float(x), float(y)), DOT, width=0.0, fill=0.0) for own in found.values() for x, y in own]
    taken: list[Box] = []
    for k, own in found.items():
        items += label(plan.job.seams[k].mark, middle_first(own), taken, room)
    return items


def order_in_pictures(plan: Plan, steps: Sequence[Step], drawn: dict[int, list[Stroke]], area: Box) -> list[list[Item]]:
    """The order of work as small pictures, each with its seams or pieces, on as many pages as they ask for."""
    columns = int((area[2] - area[0]) // CELL[0])
    rows = int((area[3] - area[1] - TITLE - 4.0) // CELL[1])
    pages: list[list[Item]] = []
    for place, step in enumerate(steps):
        at = place % (columns * rows)
        if at == 0:
            pages.append([Text((area[0], area[3] - TITLE), "The order in pictures", TITLE, bold=True)])
        x = area[0] + (at % columns) * CELL[0]
        y = area[3] - TITLE - 4.0 - (at // columns + 1) * CELL[1]
        pages[-1] += fitted(drawn[step.number], (x, y + 12.0, x + CELL[0] - 4.0, y + CELL[1] - 2.0), 0.6)
        lines = wrap(f"{step.number}: {_words(plan, step)}", CELL[0] - 5.0)
        lines = lines if len(lines) < 3 else [lines[0], short(" ".join(lines[1:]), CELL[0] - 5.0)]
        pages[-1] += [Text((x, y + 8.0 - k * LEAST * LEADING), line) for k, line in enumerate(lines)]
    return pages


def _words(plan: Plan, step: Step) -> str:
    """The seams that are riveted, or the pieces that come in, else the step's title."""
    assert plan.body is not None
    seams = dict.fromkeys(plan.job.seams[work.seam].mark for work in step.work if work.seam >= 0)
    marks = [plan.body.instances[i].mark for i in step.parts]
    words = [f"rivet {', '.join(seams)}"] if seams else []
    if marks:
        bench = step.work and step.alone
        words.insert(0, f"{'bench' if bench else 'in'}: {', '.join(marks)}")
    return "; ".join(words) or step.title
