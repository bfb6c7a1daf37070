"""Findings about reach and order: what cannot be reached, what was tried, men inside, changed sides, weights."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.sequence import Core, Step
from fabplan.model.tables import NearLimits
from fabplan.sequence.bench import Bench, held_by
from fabplan.sequence.causes import Cause, causes
from fabplan.sequence.cures import Case, Cure, cures
from fabplan.sequence.hand_holes import HandHole
from fabplan.sequence.near import Near
from fabplan.sequence.peel import Peeling, in_no_order
from fabplan.sequence.reach import Ways
from fabplan.sequence.scene import Scene, count_of

TOOLS = "tool sizes, assumed unless the shop states them"
SHOWN = 3  # cures told for the whole core where none builds it
RUNS = 8  # runs of rivet numbers printed; the finding holds them all
WHO = {
    "no-driver": "no driving tool gets at",
    "no-hold-up": "nobody can hold up",
    "no-way-in": "no room to put in, shank and tongs before the hole,",
}
HEADS = ("made heads", "points")
OTHERWISE = "another tool, or another place for the row"


def _numbers(scene: Scene, rivets: Sequence[int] | IntArray) -> tuple[str, ...]:
    return tuple(scene.stacks.number[int(i)] for i in rivets)


def _runs(numbers: Sequence[str]) -> str:
    """Rivet numbers in few words: A 1-31, B 2, B 4."""
    runs: list[tuple[str, int, int]] = []
    for seam, place in ((seam, int(place)) for seam, _, place in (number.rpartition(" ") for number in numbers)):
        if runs and runs[-1][0] == seam and place == runs[-1][2] + 1:
            runs[-1] = (seam, runs[-1][1], place)
        else:
            runs.append((seam, place, place))
    words = [f"{seam} {low}".strip() + (f"-{high}" if high > low else "") for seam, low, high in runs]
    more = [f"{len(words) - RUNS} more runs"] if len(words) > RUNS + 1 else []
    return ", ".join([*words[: RUNS if more else RUNS + 1], *more])


def listed(scene: Scene, rivets: IntArray) -> str:
    """Rivets in few words: whole seams by their marks, then runs of numbers."""
    own = scene.stacks.seam[rivets]
    total = np.bincount(scene.stacks.seam[scene.stacks.seam >= 0], minlength=len(scene.job.seams))
    whole = [seam for seam in np.unique(own[own >= 0]).tolist() if np.sum(own == seam) == total[seam] > 1]
    rest = _runs(_numbers(scene, rivets[~np.isin(own, whole)]))
    marks = ", ".join(scene.job.seams[seam].mark for seam in whole)
    return " and ".join([*([f"all of {marks}"] if whole else []), *([rest] if rest else [])])


def where_of(scene: Scene, rivets: IntArray) -> Where:
    """The place of the first of some rivets, and their seam where they have one in common."""
    x, y, z = scene.stacks.point[int(rivets[0])].tolist()
    seams = np.unique(scene.stacks.seam[rivets]).tolist()
    mark = scene.job.seams[seams[0]].mark if len(seams) == 1 and seams[0] >= 0 else ""
    return Where(seam=mark, holes=_numbers(scene, rivets), point=(x, y, z))


def core(
    scene: Scene, placed: BoolArray, peeling: Peeling, spare: Ways | None, bench: Bench
) -> tuple[Core, tuple[Finding, ...]]:
    """The core that cannot be built, a finding for each of its causes, and one for the whole with what was tried.

    Args:
        scene: the scene.
        placed: (m,) pieces that are part of the order.
        peeling: how far the body comes apart.
        spare: the ways with the tools of the table too, where the shop counts its own alone.
        bench: sub-assemblies that were made since no order of the body alone drives their rivets.
    """
    left = np.nonzero(peeling.round < 0)[0]
    if len(left) == 0:
        return Core(left), ()
    present = peeling.present[-1]
    found = tuple(causes(scene.ways, peeling.last, present, left))
    plates = np.array([not scene.body.part_of(i).section for i in range(len(placed))], dtype=np.bool_)
    case = Case(scene.site, scene.member, placed, scene.datum, plates, scene.stacks.point, peeling, spare)
    if bench.units:
        case = replace(case, held=held_by(scene.member, bench.units), done=bench.driven)
    tried = cures(case, found)
    parts = tuple(np.nonzero(scene.member[left].any(axis=0) & present)[0].tolist())
    blockers = tuple(sorted((rivet, cause.parts) for cause in found for rivet in cause.rivets.tolist()))
    shown = [cure for cure in tried if cure.builds(left)] or tried[:SHOWN]
    words = tuple(_cure(scene, cure, left) for cure in shown) or (
        f"{OTHERWISE.capitalize()}: nothing tried frees any of them.",
    )
    what = f"no order builds {count_of(len(left), 'rivet')} of {count_of(len(parts), 'piece')}: {scene.marks(parts)}"
    what += f"; {_at_all(len(left), len(in_no_order(scene.site, scene.member, left, scene.datum)))}"
    if bench.units:
        what += f"; {count_of(int(bench.driven.sum()), 'other')} can on the bench, before their pieces go on"
    whole = _made("shut-in", what, " ".join(words), Where(part=scene.mark(parts[0])))
    return Core(left, parts, blockers, words), (*(_caused(scene, cause, tried) for cause in found), whole)


def _at_all(left: int, never: int) -> str:
    """How many of the core's rivets no order drives at all, in words."""
    if not never:
        return "each could be driven while less stands: they shut one another off"
    can = left - never
    return f"{never} of them can be driven in no order" + (f", {can} while less stands" if can else "")


def _made(check: str, what: str, mend: str, where: Where) -> Finding:
    return Finding(check, CHECKS[check].level, what, where, source=TOOLS, mend=mend)


def _cure(scene: Scene, cure: Cure, left: IntArray) -> str:
    """One sentence on what was tried and how far it helps."""
    freed, own = int(cure.freed.sum()), int(cure.own.sum())
    can = "all of them" if freed == len(left) else f"{freed} of {len(left)}"
    can = "all the others" if cure.tapped and not cure.last and freed + own == len(left) else can
    first = f"{_way(scene, cure)}: {can} can be driven then (tried)"
    rest = len(left) - freed - own
    instead = "tap rivets from the side that is reached (tried)" if cure.tapped else "fitted bolts or tap rivets"
    more = [f"the {count_of(own, 'rivet')} through it want {instead}"] if own and cure.last else []
    more += [f"{count_of(rest, 'rivet')} stay" + ("s" if rest == 1 else "")] if rest else []
    return f"{'; '.join([first[:1].upper() + first[1:], *more])}."


def _way(scene: Scene, cure: Cure) -> str:
    if cure.last:
        return f"{scene.marks(cure.last)} put on last"
    if cure.holes:
        return f"{_hand_holes(scene, cure.holes)} (the plate's strength round it is not checked)"
    if cure.tapped:
        rivets = np.nonzero(cure.own)[0]
        return f"tap rivets from the side that is reached in place of {listed(scene, rivets)}"
    if cure.tools:
        return "the assumed tools of the table beside the shop's own"
    return f"an opening of {scene.job.shop.man_opening:g} mm or more for a man into each shut space"


def _hand_holes(scene: Scene, holes: Sequence[HandHole]) -> str:
    """Hand holes in words: how wide, in which piece, where in the body."""
    at = []
    for hole in holes:
        x, y, z = (round(value) for value in hole.place)
        at.append(f"in {scene.mark(int(scene.site.panels.owner[hole.panel]))} at {x} {y} {z}")
    many = "hand holes" if len(holes) > 1 else "a hand hole"
    return f"{many} of {holes[0].diameter:g} mm {', '.join(at)}"


def _caused(scene: Scene, cause: Cause, tried: Sequence[Cure]) -> Finding:
    """The finding for one cause."""
    who = WHO[cause.check]
    why = (
        f"in the way: {scene.marks(cause.parts)}" if cause.parts else "tools have room, no arm and no man gets to them"
    )
    what = f"{who} {count_of(len(cause.rivets), 'rivet')} on {cause.side}: {listed(scene, cause.rivets)}; {why}"
    return _made(cause.check, what, _mend(scene, cause, tried), where_of(scene, cause.rivets))


def _mend(scene: Scene, cause: Cause, tried: Sequence[Cure]) -> str:
    """The first cure that frees all rivets of a cause, else that which frees most."""
    freed = [int(cure.freed[cause.rivets].sum()) for cure in tried]
    if max(freed, default=0) == 0:
        bolts = "Fitted bolts or tap rivets from the side that is reached, " if cause.other else ""
        return f"{bolts}{OTHERWISE if bolts else OTHERWISE.capitalize()}; nothing tried frees them."
    best = freed.index(max(freed))
    can = "they can all be driven" if freed[best] == len(cause.rivets) else f"{freed[best]} of them can be driven"
    return f"With {_way(scene, tried[best])} {can} (tried)."


def changed_sides(scene: Scene, steps: Sequence[Step]) -> Iterator[Finding]:
    """Seams where made head and point change sides."""
    for step in steps:
        for work in step.work:
            if work.driver_side == "head":
                own = np.sort(work.rivets)
                rivets = f"{count_of(len(own), 'rivet')} driven from the side of the made head"
                what = f"{rivets}: {_runs(_numbers(scene, own))}"
                mend = "Put them in from the other side, or list the plies the other way round."
                where = where_of(scene, own)
                yield _made("heads-change-sides", what, mend, where)


def near(scene: Scene, found: Iterable[Near], limits: NearLimits) -> Iterator[Finding]:
    """Heads that want a special snap or dolly, by side and size, with the least room found."""
    for one in found:
        count = f"{HEADS[one.side]} of {count_of(len(one.rivets), 'rivet')}"
        what = f"{count} nearer to an upstand than ordinary snaps and dollies: {listed(scene, one.rivets)}"
        mend = "Use a special snap and dolly there, or move the row away from the upstand."
        figures = (one.room, one.ordinary, "mm")
        check = "near-upstand"
        yield Finding(check, CHECKS[check].level, what, where_of(scene, one.rivets), *figures, limits.source, mend)


def men_inside(scene: Scene, steps: Sequence[Step]) -> Iterator[Finding]:
    """One note for all rivets that need a man inside."""
    runs = [
        (step.number, work)
        for step in steps
        for work in step.work
        if "man inside" in (work.driver_access, work.holder_access)
    ]
    if runs:
        count = sum(len(work.rivets) for _, work in runs)
        numbers = sorted({number for number, _ in runs})
        at = _runs([f"step {number}" for number in numbers])
        what = f"a man works inside the body at {at}, on runs of {count_of(count, 'rivet')}"
        mend = "Confined space: permit, air test, attendant, rescue plan; see the step's sheet."
        yield _made("man-inside", what, mend, Where())


def heavy(scene: Scene, steps: Sequence[Step]) -> Iterator[Finding]:
    """Pieces, and what is lifted as one, heavier than the hoist lifts; not what the sheets have jacked up."""
    limit = scene.job.shop.hoist
    if limit is None:
        return
    single = [(i, scene.mass(i), scene.mark(i)) for i in range(len(scene.body.instances))]
    several = [one for step in steps for one in step.lifts if len(one.pieces) > 1]
    for i, mass, what in (*single, *((one.pieces[0], one.mass, one.what) for one in several)):
        if not mass <= limit:
            told = f"{what} weighs {mass:.0f} kg, the hoist lifts {limit:g} kg"
            check, mend = "too-heavy", "Hire a lift, or make it in two."
            where = Where(part=scene.mark(i))
            yield Finding(check, CHECKS[check].level, told, where, mass, limit, "kg", "the job file", mend)
