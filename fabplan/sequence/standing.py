"""How what stands at a step lies on the table: its mass, its centre of mass, how far that is from the edge."""

import numpy as np

from fabplan.geom.rest import Rest, rests
from fabplan.model.arrays import BoolArray
from fabplan.sequence.scene import Scene

UPRIGHT = 0.999  # cosine of 2.5 degrees: a face that lies level as drawn


def standing(scene: Scene, present: BoolArray) -> str:
    """One line on how the instances `present` (m,) stand as drawn, and whether they stand turned over."""
    panels, masses = scene.site.panels, np.array([scene.mass(i) for i in range(len(present))])
    own = present[panels.owner]
    solids = [one for one, there in zip(panels.solids, own, strict=True) if there]
    owner = panels.owner[own]
    volume = np.array([one.volume for one in solids])
    share = masses[owner] * volume / np.bincount(owner, volume, len(present))[owner]
    total = float(share.sum())
    if not total > 0.0:
        return "masses not known, so how it stands is not either: blocked and braced before work"
    centre = share @ np.array([one.middle for one in solids]) / total
    found = rests(np.vstack([one.corners for one in solids]), centre)
    below, above = _down(found, -1.0), _down(found, 1.0)
    over = "; turned over it stands too" if above else ""
    if below is None:
        return f"{total:.0f} kg do not stand as drawn by themselves: blocked and braced before work{over}"
    return (
        f"stands as drawn: {total:.0f} kg, centre of mass {below.height:.0f} mm over the table, "
        f"{below.inside:.0f} mm within the edge of what bears{over}"
    )


def _down(found: tuple[Rest, ...], way: float) -> Rest | None:
    return next((one for one in found if one.down[2] * way > UPRIGHT), None)
