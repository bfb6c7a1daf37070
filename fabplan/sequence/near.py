"""Rivets nearer to an upstand than an ordinary snap or dolly needs, by the published rule."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.envelope import Metal, Rods, metal, pairs_near, rods_hit
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.tables import Tables
from fabplan.sequence.phases import Phase
from fabplan.sequence.reach import DRIVE, HOLD, Panels, own_panels
from fabplan.sequence.scene import Scene
from fabplan.sequence.tools import seats

HALVINGS = 20  # of the doubt about a room, which is known to a micrometre then

DECIMALS = 1  # of rooms, mm: the rule is in fractions of an inch


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """Rivets (k,) with less than the ordinary room on one side; the least room found and the ordinary one, mm."""

    side: int
    rivets: IntArray
    room: float
    ordinary: float


def near_upstands(scene: Scene, panels: Panels, tables: Tables, phases: Sequence[Phase]) -> Iterator[Near]:
    """Rivets that want a special snap or dolly while the pieces of their phase stand; only where tools are assumed."""
    blocks, own = metal(panels.solids), own_panels(scene.stacks, panels)
    present, noses = _asked(scene, phases)
    for side, seat in enumerate(seats(scene.job, scene.stacks, tables)):
        index = np.nonzero(noses[side] > 0.0)[0]
        ordinary = np.round(tables.near.ordinary * seat.head[index] + tables.near.plus, DECIMALS)
        none = np.zeros((len(index), 3))
        rods = Rods(seat.foot[index], seat.out[index], noses[side, index], ordinary, none)
        rod, panel = pairs_near(*rods.boxes(), blocks)
        counts = present[index[rod], panels.owner[panel]] & ~own[index[rod], panel]
        room = np.round(_room(blocks, rods, rod[counts], panel[counts]), DECIMALS)
        for asked in np.unique(ordinary[room < ordinary]).tolist():
            chosen = (room < ordinary) & (ordinary == asked)
            yield Near(side, index[chosen], float(room[chosen].min()), asked)


def _asked(scene: Scene, phases: Sequence[Phase]) -> tuple[BoolArray, FloatArray]:
    """What stands (n, m) when each rivet is driven; (2, n) length of the assumed nose on each side, mm, or 0."""
    assumed = np.array([one.nose_length if one.assumed else 0.0 for one in scene.ways.tools])
    present, noses = np.zeros_like(scene.member), np.zeros((2, len(scene.member)))
    for phase in phases:
        present[phase.rivets] = phase.present
        from_point = phase.reach.driven_from(1)[phase.rivets]
        for side in (0, 1):
            use = np.where(from_point == (side == 1), DRIVE, HOLD)
            way = phase.reach.way[phase.rivets, side, use]
            noses[side, phase.rivets] = np.where(way >= 0, assumed[scene.ways.tool[way]], 0.0)
    return present, noses


def _room(blocks: Metal, rods: Rods, rod: IntArray, panel: IntArray) -> FloatArray:
    """(k,) how thick each rod may be before it meets one of its panels, mm; its own radius where it meets none."""
    free, met = np.zeros(len(rods.radius)), rods.radius.copy()
    tried = met
    for _ in range(HALVINGS):
        hit = np.zeros(len(free), dtype=np.bool_)
        hit[rods_hit(blocks, panel, replace(rods, radius=tried).take(rod), rod)] = True
        free, met = np.where(hit, free, tried), np.where(hit, tried, met)
        rod, panel = rod[met[rod] > free[rod]], panel[met[rod] > free[rod]]
        tried = (free + met) / 2.0
    return free
