"""The inspection and test plan: every check and hold point with its target, the record of rivets, their balance."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from fabplan.geom.corners import corners
from fabplan.geom.outermost import outermost
from fabplan.geom.square_off import square_off
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.page import Page
from fabplan.model.plan import Plan
from fabplan.model.sequence import Step
from fabplan.sheets.frame import A3, Paper, Sheet, framed, room
from fabplan.sheets.pen import short
from fabplan.sheets.row import size_words
from fabplan.sheets.table import Table, notes, spread

STEEP = 3.0  # how much more a rivet's height counts than its place outwards when corners of foot and top are looked for
APART = 3.0  # mm, greatest difference of diagonals, and of wind, before riveting (common practice)
MEASURED = 2  # plates that close a body in one step and are measured; more were only parted, and fitted before
STEP_WIDE = 44.0  # mm, the words of a step
SECOND = ("dry-fit", "square", "close", "test")  # kinds of step whose checks a second person makes
TOLD = (
    "HOLD: work stops until the one who is named has signed; who it is stands in the job file ([[hold]]). "
    "Second person: not the one who did the work.",
    "Figures to measure are centre to centre of holes on the outside of the body, worked out from the drawings as "
    "placed.",
    "Service bolts: finger tight until the last plate is in, then by hand with an ordinary spanner, plies in contact; "
    "no torque is asked of them (common practice).",
)


@dataclass(frozen=True, slots=True)
class Point:
    """One line of the plan: the step, what is looked at, what is wanted, and who answers for it."""

    step: str
    what: str
    target: str
    by: str


def inspection_sheets(plan: Plan) -> tuple[Page, ...]:
    """The plan, the record of rivets and their balance; none where no order was made."""
    if plan.sequence is None or plan.body is None or plan.stacks is None:
        return ()
    stops = sum(finding.blocks for finding in plan.findings)
    paper = Paper("Inspection and test plan", A3, plan.job, stops)
    tables = [_points(plan), notes("", TOLD), _record(plan), _balance(plan)]
    return framed(paper, [Sheet(tuple(items)) for items in spread(tables, room(paper))])


def _points(plan: Plan) -> Table:
    every = enumerate(points(plan), start=1)
    told = [(str(number), short(one.step, STEP_WIDE), one.what, one.target, one.by) for number, one in every]
    rows = tuple((*line, "", "", "", "") for line in told)
    heads = ("no", "step", "what", "target", "who", "found", "initials", "date", "second person")
    shares = (0.5, 2.0, 5.2, 2.4, 1.7, 1.5, 0.9, 1.0, 1.3)
    return Table("Inspection and test plan", heads, shares, rows, (0,), boxed=(5, 6, 7, 8))


def points(plan: Plan) -> Iterator[Point]:
    """All checks and hold points, in the order of the work."""
    assert plan.body is not None
    assert plan.sequence is not None
    count = f"{len(plan.body.instances)} pieces"
    what = "pieces counted; mark, hand, thickness and fingerprint read off against cut list, bar list and order"
    yield Point("goods in", what, count, "storeman, second person")
    for part in plan.job.parts:
        if part.provenance is not None and not part.made:
            yield Point(
                "goods in", f"old piece {part.mark}: {part.provenance.words}", "tag and evidence seen", "storeman"
            )
    if any(rivet.closing == "hot" for rivet in plan.job.rivets):
        what = "paint and zinc off round every hole that is riveted hot (common practice)"
        yield Point("before riveting", what, "100 mm bare round each hole", "gang")
    for step in plan.sequence.steps:
        yield from _of_step(plan, step)
    if np.isfinite(plan.supply.total_mass):
        weight = f"{plan.supply.total_mass:.0f} kg by the drawings"
        yield Point("when all is done", "weighed, before paint and fittings", weight, _who(plan, "", "second person"))


def _of_step(plan: Plan, step: Step) -> Iterator[Point]:
    """The checks of one step; of squaring and of closing pieces the sizes too."""
    name = _name(step)
    who = _who(plan, step.kind, "second person" if step.kind in SECOND else "gang")
    rivets = sum(len(work.rivets) for work in step.work)
    for line in step.checks:
        tried = "by a second person" in line
        yield Point(name, line, f"{rivets} rivets" if tried else "", "second person" if tried else who)
    for what, target in sizes(plan, step):
        yield Point(name, what, target, who)
    for what, by in holds(plan, step):
        yield Point(name, what, "", f"HOLD: {by}")


def sizes(plan: Plan, step: Step) -> Iterator[tuple[str, str]]:
    """What is measured at a step beside its checks, and the figure: diagonals and wind, or openings that are closed."""
    if step.kind == "square" or (step.kind == "erect" and step.alone):  # bolted up again
        yield from squares(plan, step.present)
    if step.kind == "close":
        yield from closing_sizes(plan, step.parts)


def holds(plan: Plan, step: Step) -> Iterator[tuple[str, str]]:
    """The hold points of a step: what is released, and by whom."""
    for hold in plan.job.holds:
        if hold.step == step.kind:
            yield hold.what or "released for the next step", hold.by


def _name(step: Step) -> str:
    return f"{step.number} {step.title.split(':')[0]}"


def _who(plan: Plan, kind: str, usual: str) -> str:
    named = [hold.by for hold in plan.job.holds if kind and hold.step == kind]
    return f"{usual}; {', '.join(named)}" if named else usual


def _outside(plan: Plan) -> FloatArray:
    """(n, 3) where the axis of each rivet leaves the metal on the side away from the middle of the body."""
    assert plan.stacks is not None
    faces = np.stack([plan.stacks.head_face, plan.stacks.point_face], axis=1)
    return outermost(faces, plan.stacks.point.mean(axis=0))


def squares(plan: Plan, present: Sequence[int]) -> Iterator[tuple[str, str]]:
    """Diagonals and wind of what stands at its foot and at its top, from hole to hole: what, and the figure."""
    assert plan.stacks is not None
    away = ~np.isin(plan.stacks.ply_instance, list(present))
    stand = np.nonzero(np.add.reduceat(away, plan.stacks.first[:-1]) == 0)[0] if len(plan.stacks) else ()
    if not len(stand):
        return
    places = _outside(plan)
    for name, way in (("foot", -STEEP), ("top", STEEP)):
        found = stand[corners(places[stand, :2], way * places[stand, 2])]
        if len(found) == 4:
            a, b, c, d = found.tolist()
            for one, other in ((a, c), (b, d)):
                yield f"{name}: diagonal, {_pair(plan, one, other)}", f"{_apart(places, one, other):.0f} mm"
            yield f"{name}: both diagonals against their figures", f"out alike within {APART:g} mm (common practice)"
            marks = ", ".join(plan.stacks.number[k] for k in (a, b, c, d))
            target = f"{_wind(places[found]):.1f} mm, within {APART:g} mm (common practice)"
            yield f"{name}: wind, how far {plan.stacks.number[d]} lies off the plane of the others of {marks}", target


def _wind(four: FloatArray) -> float:
    """How far the last of four points lies off the plane of the others, mm."""
    normal = np.cross(four[1] - four[0], four[2] - four[0])
    return abs(float((four[3] - four[0]) @ normal)) / max(float(np.linalg.norm(normal)), 1e-9)


def closing_sizes(plan: Plan, parts: Sequence[int]) -> Iterator[tuple[str, str]]:
    """Sizes to take from the body before closing plates are cut or go in: between holes of their mates."""
    assert plan.body is not None
    assert plan.stacks is not None
    plates = sorted((i for i in parts if plan.body.part_of(i).blank is not None),
                    key=lambda i: (-plan.body.part_of(i).mass, i))  # type: ignore[union-attr]  # fmt: skip
    stack = np.repeat(np.arange(len(plan.stacks)), np.diff(plan.stacks.first))
    comes = np.isin(plan.stacks.ply_instance, list(parts))
    joins = np.zeros(len(plan.stacks), dtype=np.bool_)
    joins[np.intersect1d(stack[comes], stack[~comes])] = True  # the others hold what comes in to itself
    around = _extreme(plan.stacks.point, np.nonzero(joins)[0])
    held = [i for i in plates if (joins[stack] & (plan.stacks.ply_instance == i)).any()] or plates[:1]
    for i in held if len(plates) <= MEASURED else ():
        blank = plan.body.part_of(i).blank
        assert blank is not None
        own = np.nonzero((plan.stacks.ply_instance == i) & joins[stack])[0]
        found: IntArray = stack[own][corners(blank.holes.xy[plan.stacks.ply_hole[own]])] if len(own) else around
        for one, other in combinations(found.tolist(), 2):
            what = f"opening for {plan.body.instances[i].mark}, on its mates: {_pair(plan, one, other)}"
            yield what, f"{_apart(plan.stacks.point, one, other):.1f} mm"
        if len(found) == 2:
            yield from _square_to_row(plan, i, (int(found[0]), int(found[1])))


def _square_to_row(plan: Plan, piece: int, ends: tuple[int, int]) -> Iterator[tuple[str, str]]:
    """Of a piece with one row: from both ends of the row square to it, to the edge of the mate that has it."""
    assert plan.body is not None
    assert plan.stacks is not None
    stack = np.repeat(np.arange(len(plan.stacks)), np.diff(plan.stacks.first))
    mates = [plan.stacks.ply_instance[(stack == one) & (plan.stacks.ply_instance != piece)] for one in ends]
    for mate in np.intersect1d(*mates).tolist()[:1]:
        plies = [int(np.flatnonzero((stack == one) & (plan.stacks.ply_instance == mate))[0]) for one in ends]
        panels, part = plan.stacks.ply_panel[plies], plan.body.part_of(mate)
        xy = part.holes.holes.xy[plan.stacks.ply_hole[plies]]
        if panels[0] == panels[1] and np.any(xy[0] != xy[1]):
            for one, point in zip(ends, xy, strict=True):
                what = (
                    f"opening for {plan.body.instances[piece].mark}: hole {plan.stacks.number[one]} square to its row, "
                )
                off = square_off(part.panels[int(panels[0])].outline, point, xy[1] - xy[0])
                yield f"{what}to the edge of {plan.body.instances[mate].mark}", f"{off:.1f} mm"


def _extreme(points: FloatArray, some: IntArray) -> IntArray:
    """Of some of points (n, 3) those in the corners, seen square to the plane that they lie in most nearly."""
    if len(some) < 3:
        return some
    off = points[some] - points[some].mean(axis=0)
    return some[corners(off @ np.linalg.svd(off, full_matrices=False)[2][:2].T)]


def _pair(plan: Plan, one: int, other: int) -> str:
    assert plan.stacks is not None
    return f"hole {plan.stacks.number[one]} to {plan.stacks.number[other]}"


def _apart(places: FloatArray, one: int, other: int) -> float:
    return float(np.linalg.norm(places[one] - places[other]))


def _record(plan: Plan) -> Table:
    """A line a seam for who tries the rivets."""
    assert plan.sequence is not None
    assert plan.stacks is not None
    steps: dict[int, list[str]] = {}
    for step in plan.sequence.steps:
        for work in step.work:
            steps.setdefault(work.seam, []).append(str(step.number))
    count = np.bincount(plan.stacks.seam[plan.stacks.seam >= 0], minlength=len(plan.job.seams))
    rows = tuple(
        (seam.mark, str(count[k]), ", ".join(dict.fromkeys(steps.get(k, ()))) or "-", "water" if seam.tight else "-",
         "", "", "", "", "")
        for k, seam in enumerate(plan.job.seams)
    )  # fmt: skip
    heads = ("seam", "rivets", "step", "tight", "driven: all but", "loose, or cut out", "replaced",
             "tried by, second person", "date")  # fmt: skip
    title = "Rivets, seam by seam: hammer on one end, finger on the other feels no jar; heads full, concentric, down"
    return Table(title, heads, (0.8, 0.8, 1.0, 0.8, 3.0, 2.0, 2.0, 2.0, 1.2), rows, (1,), boxed=(4, 5, 6, 7, 8))


def _balance(plan: Plan) -> Table:
    """Rivets of each size, what is left of the order after each step that drives some."""
    assert plan.sequence is not None
    lines = plan.supply.rivets
    of_stack = np.array(plan.supply.rivet_line, dtype=np.int64)
    left = [line.count + line.spares for line in lines]
    rows = [("ordered", size_words(line), "-", str(left[k]), "", "", "") for k, line in enumerate(lines)]
    for step in plan.sequence.steps:
        driven = [of_stack[work.rivets] for work in step.work if len(of_stack)]
        for k, count in zip(*np.unique(np.concatenate(driven), return_counts=True), strict=True) if driven else ():
            if k >= 0:
                left[k] -= int(count)
                name = short(_name(step), STEP_WIDE)
                rows.append((name, size_words(lines[k]), str(count), str(left[k]), "", "", ""))
    heads = ("step", "d x length, head", "driven", "left of the order", "counted in the box", "scrapped", "initials")
    return Table("Rivet balance", heads, (2.4, 2.0, 0.8, 1.2, 1.6, 1.6, 1.2), tuple(rows), (2, 3), boxed=(4, 5, 6))
