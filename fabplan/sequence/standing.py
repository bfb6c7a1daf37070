"""How what stands at a step lies, in words and figures; rivets that find no room over the floor."""

from collections.abc import Iterator, Sequence

import numpy as np

from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.checks import CHECKS
from fabplan.model.finding import Finding, Where
from fabplan.model.sequence import Lie
from fabplan.sequence.access import MAN
from fabplan.sequence.reach import DRIVE, HOLD, USES
from fabplan.sequence.scene import Scene, count_of
from fabplan.sequence.shifts import HIGH, Shift, driver_heights
from fabplan.sequence.stances import ALIKE, AS_DRAWN, Stance

NAMED = 3  # pieces named on which it lies
AT_WORK = 1200.0  # mm, the highest rivet over the boards that it is worked from, at most (common practice)
BOARDS = 100.0  # mm to which heights of boards are rounded down
STEPS = 50.0  # mm to which heights of trestles are rounded up


def lie_of(scene: Scene, shift: Shift, rivets: IntArray, turns: int, *, turned: bool) -> Lie:
    """How it lies while some rivets of a shift are driven, after so many turn-overs."""
    stance, x_y_z = shift.stance, shift.stance.down.tolist()
    own = rivets[np.isin(rivets, shift.short)]
    high = driver_heights(scene, shift.reach, rivets, shift.floor)
    return Lie(
        (x_y_z[0], x_y_z[1], x_y_z[2]),
        on_words(scene, stance),
        stance.steady,
        turned,
        turns,
        shift.mass,
        stance.over,
        stance.inside,
        (float(high.min()), float(high.max())) if len(rivets) else None,
        tuple(own.tolist()),
        shift.bench and shift.begins and float(stance.down @ AS_DRAWN) <= ALIKE,
        *_staging(shift, rivets, high),
    )


def _staging(shift: Shift, rivets: IntArray, high: FloatArray) -> tuple[int, float]:
    """How many rivets want staging, for who drives them or holds up from outside, and the height of its boards."""
    side = shift.reach.driven_from(1)[rivets].astype(np.int64)
    drives, holds = shift.reach.kind[rivets, side, DRIVE], shift.reach.kind[rivets, 1 - side, HOLD]
    outside = high[(high > HIGH) & ~((drives == MAN) & (holds == MAN))]
    if not len(outside):
        return 0, 0.0
    return len(outside), float(np.floor((outside.max() - AT_WORK) / BOARDS) * BOARDS)


def on_words(scene: Scene, stance: Stance) -> str:
    """As drawn, upside down or on a side, and the heaviest of the pieces that bear."""
    upright = float(stance.down @ AS_DRAWN)
    way = "as drawn" if upright > ALIKE else "upside down" if upright < -ALIKE else "on its side"
    on = sorted(stance.on, key=lambda i: (-scene.mass(i), i))
    more = f" and {count_of(len(on) - NAMED, 'other')}" if len(on) > NAMED else ""
    return f"{way}, on {scene.marks(on[:NAMED])}{more}"


def held_words(lie: Lie) -> Iterator[str]:
    """A check for what does not stand by itself."""
    if not lie.steady:
        yield "blocked and braced as it lies, before anyone works on it: it does not stand by itself"


def staging_words(lie: Lie) -> Iterator[str]:
    """A check for the staging of a step."""
    if lie.high:
        yield (
            f"staging for {count_of(lie.high, 'rivet')} over {HIGH:g} mm: boards {lie.boards:.0f} mm over the floor, "
            "full width, wherever men work from outside, tried before anyone steps on them (common practice)"
        )


def short_words(scene: Scene, shift: Shift, rivets: IntArray) -> Iterator[str]:
    """A check for rivets of a step that find no room over the floor, and the trestles that give it."""
    own = rivets[np.isin(rivets, shift.short)]
    if len(own):
        seams = ", ".join(dict.fromkeys(scene.job.seams[k].mark for k in scene.stacks.seam[own].tolist() if k >= 0))
        yield (
            f"{count_of(len(own), 'rivet')} of {seams}: no room between table and floor; "
            f"trestles of {trestles(scene, shift, own):.0f} mm, or the work turned"
        )


def trestles(scene: Scene, shift: Shift, rivets: IntArray) -> float:
    """How high, mm, over the floor the work must lie for rivets to be driven: room for the tools, or for a man."""
    ways, present = scene.ways, shift.phase.present
    free = ways.blocked.free(present)
    group = (ways.rivet * 2 + ways.side) * len(USES) + ways.use
    least = np.full(int(group.max()) + 1, np.inf)
    np.minimum.at(least, group[free], shift.floor.deep[free] - shift.stance.level)
    side = shift.reach.driven_from(1)[rivets].astype(np.int64)
    asked = np.stack([(rivets * 2 + side) * 3, (rivets * 2 + 1 - side) * 3 + 1, (rivets * 2 + 1 - side) * 3 + 2])
    need = least[asked]
    deepest = float(need[np.isfinite(need)].max(initial=0.0))
    man = scene.site.space.sizes.man + scene.site.space.play
    return float(np.ceil(max(deepest, man) / STEPS) * STEPS)


def no_room(scene: Scene, shifts: Sequence[Shift]) -> Iterator[Finding]:
    """A query for each shift with rivets that find no room over the floor."""
    for shift in shifts:
        if len(shift.short):
            x, y, z = scene.stacks.point[shift.short[0]].tolist()
            where = Where(holes=tuple(scene.stacks.number[int(i)] for i in shift.short), point=(x, y, z))
            room = shift.floor.room
            what = f"{count_of(len(shift.short), 'rivet')} find no room over the floor, {on_words(scene, shift.stance)}"
            needed = trestles(scene, shift, shift.short)
            mend = f"Lay it on trestles of {needed:.0f} mm, or drive them in an order that has it turned."
            source = "[shop] table_height"
            check = "no-room-below"
            yield Finding(check, CHECKS[check].level, what, where, room, needed, "mm", source, mend)
