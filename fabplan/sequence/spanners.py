"""Spanners at bolts: service bolts while the dry fit stands, bolts that stay when they are fitted; nut, head and hands.

A service bolt that cannot be tightened goes into a hole nearby where one can. Bolts may be put in either way round.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import BoolArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding
from fabplan.model.tables import Tables
from fabplan.model.tool import Tool
from fabplan.sequence.access import MAN, Access, Site, access
from fabplan.sequence.causes import Cause, causes
from fabplan.sequence.phases import Phase
from fabplan.sequence.reach import DRIVE, ENTER, HOLD, ways
from fabplan.sequence.scene import Scene, count_of
from fabplan.sequence.tell import listed, where_of

NEARBY = 160.0
"""mm from a hole at which a service bolt does nearly as well: four pitches of 40 mm (assumed)."""

LACKS = {
    "no-driver": "no spanner turns the nuts of",
    "no-hold-up": "nothing keeps the heads of",
    "no-way-in": "nobody puts in",
}
SERVICE, STAYS = "service bolt", "staying bolt"
SOURCE = "spanner sizes, assumed unless the shop states them; finger tight till the last plate is in (common practice)"


@dataclass(frozen=True, slots=True, eq=False)
class Missed:
    """Bolts that nobody tightens: `SERVICE` or `STAYS`, and why."""

    what: str
    cause: Cause


@dataclass(frozen=True, slots=True, eq=False)
class Tightened:
    """What is proved of bolts.

    Attributes:
        bolted: (n,) True where a service bolt stands in the dry fit.
        moved: pairs of holes: a service bolt stands in the second in place of the first.
        men: (n,) True for bolts at which a man inside turns the nut or keeps the head.
        missed: those that nobody tightens.
        tools: the spanners that are used.
    """

    bolted: BoolArray
    moved: tuple[tuple[int, int], ...]
    men: BoolArray
    missed: tuple[Missed, ...]
    tools: tuple[Tool, ...]


def tightened(scene: Scene, tables: Tables, standing: BoolArray, phases: Sequence[Phase]) -> Tightened:
    """Whether the bolts of a body can be tightened.

    Args:
        scene: the scene, with the service bolts that were chosen.
        tables: tools.
        standing: (m,) instances that stand in the dry fit.
        phases: states of the body, with what is fitted for good in each.
    """
    stays = np.zeros_like(scene.bolted)
    stays[[i for phase in phases for i in phase.fitted.tolist()]] = True
    stays &= ~scene.site.screwed
    if not (stays | scene.bolted).any():
        return Tightened(scene.bolted, (), stays, (), ())
    ground = _of_bolts(scene, tables, scene.bolted | stays)
    dry = access(ground, len(stays), standing)
    bolted, moved, men = _service(scene, tables, standing, dry)
    lost = np.nonzero(scene.bolted & bolted & ~dry.reached)[0]
    missed = [Missed(SERVICE, one) for one in _causes(ground, dry, standing, lost)]
    used = _used(ground, dry, scene.bolted)
    for phase in phases:
        own = phase.fitted[stays[phase.fitted]]
        if len(own):
            reach = access(ground, len(stays), phase.present)
            missed += [Missed(STAYS, one) for one in _causes(ground, reach, phase.present, own[~reach.reached[own]])]
            men[own] = _men(reach)[own]
            used |= _used(ground, reach, stays)
    return Tightened(bolted, moved, men, tuple(missed), tuple(ground.ways.tools[k] for k in sorted(used)))


def _of_bolts(scene: Scene, tables: Tables, bolts: BoolArray) -> Site:
    """The site of some bolts (n,), with all ways of tightening them."""
    found = ways(scene.job, scene.body, scene.stacks, scene.site.panels, tables, bolts)
    none = np.zeros_like(bolts)
    return replace(scene.site, ways=found, nutted=none, screwed=none, either=none, answers={}, entries={})


def _service(
    scene: Scene, tables: Tables, standing: BoolArray, dry: Access
) -> tuple[BoolArray, tuple[tuple[int, int], ...], BoolArray]:
    """(n,) the service bolts, those moved that could not be tightened; the moves; (n,) those that want a man inside."""
    bolted, men = scene.bolted.copy(), scene.bolted & _men(dry)
    wrong, moved = np.nonzero(scene.bolted & ~dry.reached)[0], []
    near = _nearby(scene, wrong)
    asked = np.asarray(near.any(axis=0), dtype=np.bool_)
    if not asked.any():
        return bolted, (), men
    other = access(_of_bolts(scene, tables, asked), len(bolted), standing)
    for one, holes in zip(wrong.tolist(), near & other.reached, strict=True):
        holes = np.nonzero(holes & ~bolted)[0]
        if len(holes):
            away = np.linalg.norm(scene.stacks.point[holes] - scene.stacks.point[one], axis=1)
            to = int(holes[away.argmin()])
            bolted[one], bolted[to], men[to] = False, True, _men(other)[to]
            moved.append((one, to))
    return bolted, tuple(moved), men


def _nearby(scene: Scene, wrong: IntArray) -> BoolArray:
    """(k, n) for some bolts the open holes of their seams that lie so near that one may stand there instead."""
    stacks = scene.stacks
    free = (stacks.seam >= 0) & (stacks.clear > 0.0) & ~scene.site.screwed & ~scene.bolted
    away = np.linalg.norm(stacks.point[None] - stacks.point[wrong, None], axis=2)
    return np.asarray(free & (stacks.seam[wrong, None] == stacks.seam) & (away <= NEARBY + FIGURE))


def _causes(ground: Site, reach: Access, present: BoolArray, left: IntArray) -> Iterator[Cause]:
    if len(left):
        yield from causes(ground.ways, reach, present, left)


def _men(reach: Access) -> BoolArray:
    """(n,) True where a man inside is wanted, the bolt put in from the side that asks for less of it."""
    men = np.stack(
        [(reach.kind[:, side, DRIVE] == MAN) | (reach.kind[:, 1 - side][:, [HOLD, ENTER]] == MAN).any(axis=1)
         for side in (0, 1)]
    )  # fmt: skip
    can = np.stack([reach.driven_from(0), reach.driven_from(1)])
    return np.asarray(can.any(axis=0) & ~(can & ~men).any(axis=0))


def _used(ground: Site, reach: Access, bolts: BoolArray) -> set[int]:
    """Numbers of the tools that are taken for some bolts (n,)."""
    way = reach.way[bolts & reach.reached][:, :, [DRIVE, HOLD]]
    return set(np.unique(ground.ways.tool[way[way >= 0]]).tolist())


def told(scene: Scene, found: Tightened) -> Iterator[Finding]:
    """A query for each cause for which bolts cannot be tightened."""
    for one in found.missed:
        cause, check = one.cause, "no-spanner"
        in_way = scene.marks(cause.parts)
        why = f"in the way: {in_way}" if in_way else "spanners have room, no arm and no man gets to them"
        when = "in the dry fit, no hole nearby is better" if one.what == SERVICE else "when they are fitted"
        what = f"{LACKS[cause.check]} {count_of(len(cause.rivets), one.what)} on {cause.side}: "
        what += f"{listed(scene, cause.rivets)}; {when}; {why}"
        mend = (
            "Clamp it there, or tighten it before what is in the way goes on; a spanner made for the place: [[tool]]."
        )
        where = where_of(scene, cause.rivets)
        yield Finding(check, CHECKS[check].level, what, where, source=SOURCE, mend=mend)
