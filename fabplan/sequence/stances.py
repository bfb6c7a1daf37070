"""How what stands can lie on the table: as drawn, and on the faces of its hull that bear it steadily."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.rest import FLAT, Rest, rest_on, rests
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.sequence.scene import Scene
from fabplan.sequence.tools import POINT

AS_DRAWN = np.array([0.0, 0.0, -1.0])
STEEL = 7.85e-6  # kg/mm3 (EN 10025-2: 7.85 kg/dm3)
TIPS = 5.0  # degrees by which the table may lean before what is hammered on goes over (common practice)
MOST = 8  # ways of lying that are looked at, the steadiest
ALIKE = 0.999  # cosine of 2.5 degrees: two ways of lying that are one


@dataclass(frozen=True, slots=True, eq=False)
class Load:
    """What stands: its mass, kg, its centre of mass (3,), its corners (n, 3), mm, and the instance of each."""

    mass: float
    centre: FloatArray
    points: FloatArray
    owner: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Stance:
    """One way of lying. Lengths mm.

    Attributes:
        down: (3,) unit vector towards the table.
        level: of the table along `down`.
        steady: True where it stands so by itself, and well.
        over: height of the centre of mass over the table.
        inside: how far that lies within the edge of what bears; 0 where it does not stand.
        on: instances that bear.
    """

    down: FloatArray
    level: float
    steady: bool
    over: float
    inside: float
    on: tuple[int, ...]


def load(scene: Scene, present: BoolArray) -> Load:
    """The mass of the instances `present` (m,), each spread over its panels; NaN where none is known."""
    panels, masses = scene.site.panels, np.array([scene.mass(i) for i in range(len(present))])
    own = np.nonzero(present[panels.owner])[0]
    solids, owner = [panels.solids[k] for k in own.tolist()], panels.owner[own]
    volume = np.array([one.volume for one in solids])
    share = masses[owner] * volume / np.bincount(owner, volume, len(present))[owner]
    total = float(share.sum())
    weights = share / total if total > 0.0 else volume / volume.sum()
    return Load(
        total if total > 0.0 else float("nan"),
        weights @ np.array([one.middle for one in solids]),
        np.vstack([one.corners for one in solids]),
        np.repeat(owner, [len(one.corners) for one in solids]),
    )


def rivet_mass(scene: Scene, rivets: IntArray) -> float:
    """What some driven rivets weigh, kg: rods of their diameter over the grip, with the steel of a point at either end.

    The grip is taken as of the rivet's own diameter: that it fills its hole takes steel from the point.
    """
    sizes = np.array([rivet.diameter for rivet in scene.job.rivets] + [0.0])[scene.stacks.rivet[rivets]]
    long = scene.stacks.grip[rivets] + 2.0 * POINT * sizes
    return float(np.sum(np.pi / 4.0 * sizes**2 * long) * STEEL)


def stances(weight: Load) -> tuple[Stance, ...]:
    """Ways of lying: as drawn first, blocked where it does not stand so; then the steadiest others."""
    found = rests(weight.points, weight.centre) if np.isfinite(weight.mass) else ()
    others = [one for one in found if one.tips_at >= TIPS and float(one.down @ AS_DRAWN) < ALIKE]
    return (as_drawn(weight), *(_stance(weight, one.down, one) for one in others[: MOST - 1]))


def as_drawn(weight: Load) -> Stance:
    """How it lies as drawn."""
    return _stance(weight, AS_DRAWN, rest_on(weight.points, weight.centre, AS_DRAWN))


def _stance(weight: Load, down: FloatArray, rest: Rest | None) -> Stance:
    down = np.round(down, 6) + 0.0  # alike to the last bit where it differs by rounding alone
    along = weight.points @ down
    level = float(along.max())
    on = np.unique(weight.owner[along >= level - FLAT]).tolist()
    over = level - float(down @ weight.centre)
    steady = rest is not None and rest.tips_at >= TIPS and np.isfinite(weight.mass)
    return Stance(down, level, bool(steady), over, rest.inside if rest is not None else 0.0, tuple(on))
