"""Where a step is: the body from where the gang stands, new pieces heavy, marks and letters beside what they name."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

import numpy as np

from fabplan.geom.pose import to_outer
from fabplan.model.arrays import FloatArray
from fabplan.model.body import Body
from fabplan.model.page import Arc, Stroke, Text
from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.isometric import Corner, Scene, isometric, places
from fabplan.sheets.pen import LEADING, LEAST, Box, box, overlap, wrap
from fabplan.sheets.stand import corner_of, told

Item = Stroke | Arc | Text
View = Callable[[Corner], Scene]
Drawn = Mapping[int, list[Stroke]]
Fit = tuple[float, float, float]
UNIT = (0.0, 0.0, 100.0, 76.0)  # mm, the room that a step's picture is drawn for, wherever it is set
LETTER = 3.0  # mm, capitals of a letter on a picture
SHOWN = 12  # pieces that come in on one picture
MOST = 24  # letters of one picture
RIM = 0.06  # of the size of a picture


def located(plan: Plan, view: View, step: Step) -> list[Stroke]:
    """Where a step is: the pieces that come in or off heavy, or, where none do, those that are riveted."""
    return isometric(view(corner_of(plan, step)), UNIT, heavy(plan, step), stands(step))


def stands(step: Step) -> tuple[int, ...]:
    """The instances that a step's picture shows: those that stand, and those that come off."""
    return (*step.present, *(one.instance for one in step.off))


def heavy(plan: Plan, step: Step) -> tuple[int, ...]:
    """The instances that are drawn heavy; none where all come off."""
    off = tuple(one.instance for one in step.off) if step.present else ()
    return step.parts or off or worked(plan, step)


def pictured(plan: Plan, view: View, drawn: Drawn, step: Step) -> list[Callable[[Box], list[Item]]]:
    """The pictures of a step: one, or, where many pieces come in, one for each few of them, as they come."""
    if len(step.parts) <= SHOWN or step.alone:
        return [partial(picture, plan, view, drawn[step.number], step)]
    count = -(-len(step.parts) // SHOWN)
    few = -(-len(step.parts) // count)
    found: list[Callable[[Box], list[Item]]] = []
    for low in range(0, len(step.parts), few):
        later = step.parts[low + few :]
        there = tuple(i for i in step.present if i not in later)
        part = replace(step, parts=step.parts[low : low + few], present=there, work=())
        found.append(partial(picture, plan, view, located(plan, view, part), part))
    return found


def picture(plan: Plan, view: View, strokes: Sequence[Stroke], step: Step, area: Box) -> list[Item]:
    """A picture of a step with its letters, and its words below it, in an area of the paper."""
    marks = ", ".join(named(plan, i) for i in heavy(plan, step))
    told_heavy = f"Heavy: {marks}." if marks else "Nothing new comes in; drawings: see sheet 1."
    told_heavy = "As it stands before it is parted." if step.off and not marks else told_heavy
    words = wrap(f"{told(plan, corner_of(plan, step))} {told_heavy}", area[2] - area[0])
    foot = area[1] + len(words) * LEAST * LEADING + 1.0
    room = (area[0], foot, area[2], area[3])
    own = _around(strokes) if step.alone else UNIT  # what stands on the bench alone is drawn large
    items: list[Item] = [*fitted(strokes, room, own=own)]
    items += _letters(plan, view(corner_of(plan, step)), step, _fit(room, own), room)
    items += [Text((area[0], foot - (k + 1) * LEAST * LEADING), line) for k, line in enumerate(words)]
    return items


def named(plan: Plan, instance: int) -> str:
    """The mark of a piece, with the first signs of its drawing's fingerprint."""
    assert plan.body is not None
    blank = plan.body.part_of(instance).blank
    mark = plan.body.instances[instance].mark
    return f"{mark} ({blank.fingerprint[:8]})" if blank is not None else mark


def worked(plan: Plan, step: Step) -> tuple[int, ...]:
    """The pieces that a step rivets together."""
    assert plan.stacks is not None
    stacks = plan.stacks
    rivets = [int(i) for work in step.work for i in work.rivets]
    plies = [stacks.ply_instance[stacks.first[i] : stacks.first[i + 1]] for i in rivets]
    return tuple(np.unique(np.concatenate(plies)).tolist()) if plies else ()


def fitted(strokes: Sequence[Stroke], area: Box, pen: float = 1.0, own: Box = UNIT) -> list[Stroke]:
    """A picture drawn for `UNIT`, or the part of it in the box `own`, set into another area.

    `pen`: how much thinner or thicker its lines become.
    """
    scale, dx, dy = _fit(area, own)
    return [
        replace(one, points=tuple((x * scale + dx, y * scale + dy) for x, y in one.points), width=one.width * pen)
        for one in strokes
    ]


def _fit(area: Box, own: Box) -> Fit:
    """Scale and shift that set the box `own` into the middle of an area."""
    scale = min((area[2] - area[0]) / (own[2] - own[0]), (area[3] - area[1]) / (own[3] - own[1]))
    dx = (area[0] + area[2] - scale * (own[0] + own[2])) / 2.0
    return scale, dx, (area[1] + area[3] - scale * (own[1] + own[3])) / 2.0


def _around(strokes: Sequence[Stroke]) -> Box:
    """The box round a picture with a rim for its letters; `UNIT` where nothing is drawn."""
    if not strokes:
        return UNIT
    xy = np.array([point for one in strokes for point in one.points])
    rim = RIM * float(np.ptp(xy, axis=0).max())
    (x0, y0), (x1, y1) = (xy.min(axis=0) - rim).tolist(), (xy.max(axis=0) + rim).tolist()
    return x0, y0, x1, y1


def _letters(plan: Plan, view: Scene, step: Step, fit: Fit, room: Box) -> list[Item]:
    """The letters of the seams in bold, then the marks of the pieces that come in, each where it lies over no other."""
    assert plan.stacks is not None
    assert plan.body is not None
    faces = [
        (plan.job.seams[work.seam].mark, plan.stacks.head_face[work.rivets], True)
        for work in step.work
        if work.seam >= 0
    ]
    faces += [(plan.body.instances[i].mark, along(plan.body, i), False) for i in step.parts]
    scale, dx, dy = fit
    taken: list[Box] = []
    items: list[Item] = []
    for mark, points, bold in faces[:MOST]:
        if len(points):
            at = places(view, UNIT, points)[0] * scale + (dx, dy)
            items += label(mark, middle_first(at), taken, room, bold=bold)
    return items


def along(body: Body, instance: int) -> FloatArray:
    """Points (k, 3) on a placed piece, those of its largest panel: its middle, and places towards its corners."""
    pose, panels = body.poses[instance], body.part_of(instance).panels
    if pose is None or not panels:
        return np.zeros((0, 3))
    panel = max(panels, key=lambda one: float(np.ptp(one.outline.vertices, axis=0).prod()))
    corners = panel.outline.vertices
    centre = corners.mean(axis=0)
    flat = np.vstack([centre + share * (corners - centre) for share in (0.0, 0.4, 0.8)])
    return to_outer(pose, to_outer(panel.frame, np.column_stack([flat, np.zeros(len(flat))])))


def middle_first(spots: FloatArray) -> FloatArray:
    """Half of some spots (k, 2), those next to their middle, the nearest first."""
    ranked = spots[np.argsort(np.linalg.norm(spots - spots.mean(axis=0), axis=1), kind="stable")]
    return ranked[: max(len(ranked) // 2, 1)]


def label(words: str, spots: FloatArray, taken: list[Box], room: Box, *, bold: bool = True) -> list[Text]:
    """Words beside the first of some spots (k, 2) where they lie over no other, which they then are: none or one."""
    beside = ((0.0, 2.0), (0.0, -2.0 - LETTER), (4.5, -LETTER / 2.0), (-4.5, -LETTER / 2.0))
    for x, y in spots.tolist():
        for dx, dy in beside:
            one = Text((x + dx, y + dy), words, LETTER, "middle", bold=bold, halo=True)
            if _within(box(one), room) and not any(overlap(box(one), other) for other in taken):
                taken.append(box(one))
                return [one]
    return []


def _within(own: Box, room: Box) -> bool:
    return own[0] >= room[0] and own[1] >= room[1] and own[2] <= room[2] and own[3] <= room[3]
