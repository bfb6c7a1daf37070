"""Whether a tool goes in by the opening that the arm takes which works it: held lengthwise, by its section alone."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding
from fabplan.model.tool import Tool
from fabplan.sequence.access import ARM, ways_in
from fabplan.sequence.phases import Phase
from fabplan.sequence.reach import DRIVE, ENTER, HOLD
from fabplan.sequence.scene import Scene, count_of
from fabplan.sequence.tell import listed, where_of
from fabplan.sequence.tools import Seat

SOURCE = "the tool held lengthwise, its widest round section against the ball that passes the opening (geometry)"


@dataclass(frozen=True, slots=True, eq=False)
class Wide:
    """Rivets (k,) at which an arm works a tool that need not pass its opening; that; its size and the tool's, mm."""

    tool: Tool
    gate: int
    rivets: IntArray
    size: float
    section: float


def sections(tool: Tool, seat: Seat) -> FloatArray:
    """(n,) diameter of the round hole that a tool passes lengthwise, mm; of a hammer and its snap the wider."""
    over = seat.head + tool.nose_over_head if tool.assumed else np.full(len(seat.head), tool.nose_over_head)
    if tool.throat > 0.0:  # drawn along its throat: both dies, both arms, and the plies between
        tall = seat.through + 2.0 * (tool.nose_length + tool.body_length)
        return np.asarray(np.hypot(tall, np.maximum(over, tool.body_diameter)))
    if tool.crank > 0.0:  # drawn along its arm
        tall = tool.nose_length + tool.body_diameter + tool.body_length + np.zeros_like(over)
        return np.asarray(np.hypot(tall, np.maximum(over, tool.body_diameter)))
    wide = float(np.hypot(tool.body_length, tool.body_diameter)) if tool.handle > 0.0 else tool.body_diameter
    return np.maximum(over, wide)


def too_wide(scene: Scene, seats: tuple[Seat, Seat], phases: Sequence[Phase]) -> Iterator[Wide]:
    """Tools of arms that need not pass, by tool and opening, in their order."""
    wide = np.array([[sections(tool, seat) for seat in seats] for tool in scene.ways.tools])
    found = [np.zeros((0, 5))]
    for phase in phases:
        side = phase.reach.driven_from(1)[phase.rivets].astype(np.int64)
        for use, at in ((DRIVE, side), (HOLD, 1 - side), (ENTER, 1 - side)):
            place = phase.rivets, at, use
            own = phase.reach.kind[place] == ARM
            tool, gate = scene.ways.tool[phase.reach.way[place][own]], phase.reach.gate[place][own]
            section = wide[tool, at[own], phase.rivets[own]]
            found.append(np.column_stack([tool, gate, phase.rivets[own], section, _room(scene, gate, phase)]))
    rows = np.vstack(found)
    rows = rows[~(rows[:, 3] <= rows[:, 4] + FIGURE)]
    for t, g in np.unique(rows[:, :2], axis=0).astype(np.int64).tolist():
        own = rows[(rows[:, 0] == t) & (rows[:, 1] == g)]
        rivets = np.unique(own[:, 2]).astype(np.int64)
        yield Wide(scene.ways.tools[t], g, rivets, float(own[0, 4]), float(own[:, 3].max()))


def _room(scene: Scene, gate: IntArray, phase: Phase) -> FloatArray:
    """(k,) diameter of a ball that passes some openings: an arm does in any case, a man where he gets in by it, mm."""
    site, sizes = scene.site, scene.site.space.sizes
    known = np.array([*(max(one.size, sizes.arm) for one in site.openings), sizes.arm])
    room = known[np.minimum(gate, len(site.openings))]
    if not len(gate):
        return room
    return np.where(np.isin(gate, ways_in(site, phase.present)), np.maximum(room, sizes.man), room)


def told(scene: Scene, found: Iterator[Wide]) -> Iterator[Finding]:
    """A query for each tool and opening."""
    for one in found:
        what = f"{one.tool.name} is not proved to go in by {scene.gate(one.gate)}, as the arm does that works it at "
        what += f"{count_of(len(one.rivets), 'rivet')}: {listed(scene, one.rivets)}"
        mend = "Try it in before the day, take it in in parts or before the opening is shut, or use a slimmer one."
        figures, check = (one.size, one.section, "mm"), "tool-through-opening"
        where = where_of(scene, one.rivets)
        yield Finding(check, CHECKS[check].level, what, where, *figures, SOURCE, mend)
