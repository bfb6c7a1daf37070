"""What stands while pieces come on or off: whether by itself, and how far it is raised for those under it."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from fabplan.model.arrays import BoolArray
from fabplan.model.sequence import Lift
from fabplan.sequence.lifting import BY_HAND, lift_of
from fabplan.sequence.scene import Scene
from fabplan.sequence.stances import AS_DRAWN, Load, as_drawn, load

PACKED = 20.0  # mm that pieces may reach under what stands: its packing makes room for them (common practice)
GOES_OVER = "It goes over by itself: blocked and braced on both sides before anyone lets go of it or works on it."
JACKED = "jacked up at both ends, not by the hoist"
UNDER = "No man, no hand under what hangs or stands on jacks: on props first."


def going_over(scene: Scene, before: Sequence[int], groups: Sequence[Sequence[int]]) -> str:
    """From when to when it must be held while groups of pieces come on to what stood before; "" where it stands."""
    states = [list(before), *(list(before) + [i for own in groups[:k] for i in own] for k in range(1, len(groups) + 1))]
    falls = [_falls(scene, state) for state in states]
    if not any(falls[1:] if groups else falls):
        return ""
    start = falls.index(True)
    back = len(falls) - falls[::-1].index(True)  # the state in which it stands again
    since = f" once {scene.mark(groups[start - 1][0])} is on" if start else ""
    until = f", till {scene.mark(groups[back - 1][0])} is on" if back < len(falls) else ""
    return f"blocked and braced{until}: as drawn it does not stand by itself{since}"


def left_over(scene: Scene, stood: Sequence[int], off: Sequence[int]) -> str:
    """From which piece on what is left must be held while pieces come off in order; "" where it stands."""
    for k, instance in enumerate(off):
        gone = set(off[: k + 1])
        if not _falls(scene, stood) and _falls(scene, [i for i in stood if i not in gone]):
            return f"blocked and braced before {scene.mark(instance)} comes off: what is left does not stand by itself"
    return ""


def raised(scene: Scene, before: Sequence[int], groups: Sequence[Sequence[int]], filled: BoolArray) -> tuple[Lift, ...]:
    """The lift of what stands when the first of the groups that reach under it comes; rivets `filled` (n,) are in."""
    standing, lowest = list(before), -np.inf
    up: list[int] = []
    under: list[tuple[float, int]] = []
    for own in groups:
        weights = [(i, _load(scene, [i])) for i in own]
        levels = [(_level(one), i) for i, one in weights if one is not None]
        if standing and not under:
            stood = _load(scene, standing)
            lowest, up = _level(stood) if stood is not None else np.inf, list(standing)
        under += [(down - lowest, i) for down, i in levels if standing and down > lowest + PACKED]
        standing += own
    if not under:
        return ()
    what = f"what stands, raised {max(under)[0]:.0f} mm for {scene.few([i for _, i in under])}"
    found = lift_of(scene, up, what, filled)
    if found is None:
        return ()
    return (replace(found, pieces=(), hooks=JACKED if _heavy(scene, found) else found.hooks),)  # none comes on by it


def raised_words(scene: Scene, lifts: Sequence[Lift]) -> Iterator[str]:
    """A check for what is raised."""
    for one in lifts:
        jacks = f"; over the {scene.job.shop.hoist:g} kg of the hoist: {JACKED}" if _heavy(scene, one) else ""
        yield f"{one.what}, {one.mass:.0f} kg: on props before they come under it{jacks}"


def _heavy(scene: Scene, one: Lift) -> bool:
    """True for what the hoist does not lift."""
    hoist = scene.job.shop.hoist
    return hoist is not None and not one.mass <= hoist


def _falls(scene: Scene, standing: Sequence[int]) -> bool:
    """True where what stands is not carried by hand and goes over as drawn; False where its mass is not known."""
    weight = _load(scene, standing)
    return weight is not None and weight.mass > BY_HAND and not as_drawn(weight).steady


def _load(scene: Scene, standing: Sequence[int]) -> Load | None:
    """What stands; None where nothing of it has a known form."""
    present = np.zeros(len(scene.body.instances), dtype=np.bool_)
    present[list(standing)] = True
    return load(scene, present) if present[scene.site.panels.owner].any() else None


def _level(weight: Load) -> float:
    """How low a load reaches, mm, more is lower."""
    return float((weight.points @ AS_DRAWN).max())
