"""Findings about reach and order: what cannot be reached, what was tried, men inside, changed sides, weights."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.arrays import IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.sequence import Core, Step
from fabplan.sequence.access import Access, Site, access
from fabplan.sequence.peel import Peeling
from fabplan.sequence.steps import Scene

TOOLS = "tool sizes, assumed unless the shop states them"


def _numbers(scene: Scene, rivets: Sequence[int] | IntArray) -> tuple[str, ...]:
    return tuple(scene.stacks.number[int(i)] for i in rivets)


def _some(numbers: Sequence[str]) -> str:
    return ", ".join(numbers[:6]) + (f" and {len(numbers) - 6} more" if len(numbers) > 6 else "")


def _where(scene: Scene, seam: int, rivets: IntArray) -> Where:
    x, y, z = scene.stacks.point[int(rivets[0])].tolist()
    mark = scene.job.seams[seam].mark if seam >= 0 else ""
    return Where(seam=mark, holes=_numbers(scene, rivets), point=(x, y, z))


def core(scene: Scene, site: Site, peeling: Peeling) -> tuple[Core, tuple[Finding, ...]]:
    """The core that cannot be built, and a finding for each seam of it: which side fails, what is in the way."""
    left = np.nonzero(peeling.round < 0)[0]
    if len(left) == 0:
        return Core(left), ()
    present = peeling.present[-1]
    parts = tuple(np.nonzero(scene.member[left].any(axis=0) & present)[0].tolist())
    blockers = tuple((int(i), _blockers(site, int(i), present)) for i in left)
    found: list[Finding] = []
    cures: list[str] = []
    for check, seam, own in _failing(scene, peeling.last, left):
        cure = _cure(scene, site, peeling, own)
        cures.append(cure)
        found.append(_finding(scene, check, seam, own, (dict(blockers), cure)))
    if len(parts) > 1:
        marks = scene.marks(parts)
        what = f"no order builds {len(left)} rivets of {len(parts)} pieces: {marks}"
        mend = "See the cures tried for each seam."
        figures = (float(len(left)), 0.0, "rivets")
        found.append(_made("shut-in", what, mend, Where(part=scene.mark(parts[0])), figures))
    return Core(left, parts, blockers, tuple(dict.fromkeys(cures))), tuple(found)


def _made(check: str, what: str, mend: str, where: Where, figures: tuple[float, float, str]) -> Finding:
    return Finding(check, CHECKS[check].level, what, where, *figures, TOOLS, mend)


def _failing(scene: Scene, last: Access, left: IntArray) -> Iterator[tuple[str, int, IntArray]]:
    """Rivets of the core by check and seam: no driver on either side, or nobody to hold up."""
    driver = (last.kind[left][:, :, 0] > 0).any(axis=1)
    for check, chosen in (("no-driver", ~driver), ("no-hold-up", driver)):
        own = left[chosen]
        for seam in np.unique(scene.stacks.seam[own]).tolist():
            yield check, seam, own[scene.stacks.seam[own] == seam]


def _blockers(site: Site, rivet: int, present: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> tuple[int, ...]:
    """Instances in the room of the least blocked way of each side and use."""
    ways = site.ways
    found: set[int] = set()
    for side in (0, 1):
        for use in (0, 1):
            own = np.nonzero((ways.rivet == rivet) & (ways.side == side) & (ways.use == use))[0]
            if len(own):
                blocked = ways.blocked[own] & present
                found |= set(np.nonzero(blocked[int(blocked.sum(axis=1).argmin())])[0].tolist())
    return tuple(sorted(found))


def _cure(scene: Scene, site: Site, peeling: Peeling, own: IntArray) -> str:
    """A first cure that helps all these rivets, of those tried: a piece left off, a tap rivet or bolt, a hand hole."""
    present = peeling.present[-1]
    hold = scene.member[own].any(axis=0)
    for part in np.nonzero(present & ~hold)[0].tolist():
        without = present.copy()
        without[part] = False
        if access(site, len(scene.stacks), without).reached[own].all():
            return f"leave {scene.mark(part)} off until they are driven (tried: both sides are reached then)"
    tool_clear = _tool_clear(site, own, present)
    if tool_clear.all():
        return "a hand hole, or an opening for a man: tools have room on both sides, nobody can get to them (tried)"
    one_side = (peeling.last.kind[own] > 0).any(axis=(1, 2))
    if one_side.all():
        return "tap rivets or fitted bolts: one side is reached (tried)"
    return "another tool, another place for the row, or fitted bolts put in before the piece in the way"


def _tool_clear(site: Site, own: IntArray, present: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> IntArray:
    """(k,) True where tools have room on both sides, whoever may hold them."""
    ways = site.ways
    free = ~(ways.blocked & present).any(axis=1)
    clear = np.zeros(len(own), dtype=np.int64)
    for k, rivet in enumerate(own.tolist()):
        mine = free & (ways.rivet == rivet)
        sides = [{int(s) for s in ways.side[mine & (ways.use == use)]} for use in (0, 1)]
        clear[k] = any(side in sides[0] and 1 - side in sides[1] for side in (0, 1))
    return clear


def _finding(
    scene: Scene, check: str, seam: int, own: IntArray, told: tuple[dict[int, tuple[int, ...]], str]
) -> Finding:
    blockers, cure = told
    numbers = _numbers(scene, own)
    way = sorted({b for i in own.tolist() for b in blockers.get(i, ())})
    standing = f"; in the way: {scene.marks(way)}" if way else "; no hand and no man gets to the tool"
    side = "no driving tool gets at" if check == "no-driver" else "nobody can hold up"
    what = f"{side} {len(own)} rivet(s): {_some(numbers)}{standing}"
    return _made(check, what, f"Cure: {cure}.", _where(scene, seam, own), (float(len(own)), 0.0, "rivets"))


def changed_sides(scene: Scene, steps: Sequence[Step]) -> Iterator[Finding]:
    """Seams where made head and point change sides."""
    for step in steps:
        for work in step.work:
            if work.driver_side == "head":
                own = np.sort(work.rivets)
                what = f"{len(own)} rivet(s) are driven from the side of the made head: {_some(_numbers(scene, own))}"
                mend = "Put them in from the other side, or list the plies the other way round."
                where = _where(scene, work.seam, own)
                yield _made("heads-change-sides", what, mend, where, (float(len(own)), 0.0, "rivets"))


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
        numbers = ", ".join(str(number) for number in dict.fromkeys(number for number, _ in runs))
        what = f"runs with {count} rivets need a man inside the body: step(s) {numbers}"
        mend = "Confined space: permit, air test, attendant, rescue plan; see the step's sheet."
        yield _made("man-inside", what, mend, Where(), (float(count), 0.0, "rivets"))


def heavy(scene: Scene) -> Iterator[Finding]:
    """Pieces heavier than the hoist lifts."""
    limit = scene.job.shop.hoist
    for i in range(len(scene.body.instances)) if limit is not None else ():
        if not scene.mass(i) <= (limit or 0.0):
            what = f"{scene.mark(i)} weighs {scene.mass(i):.0f} kg, the hoist lifts {limit:g} kg"
            where = Where(part=scene.mark(i))
            figures = (scene.mass(i), float(limit or 0.0), "kg")
            check = "too-heavy"
            yield Finding(
                check, CHECKS[check].level, what, where, *figures, "the job file", "Hire a lift, or make it in two."
            )
