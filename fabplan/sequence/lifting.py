"""How pieces, sub-assemblies and bodies are lifted: mass, centre of mass, holes to hook on that lie even about it."""

from collections.abc import Sequence

import numpy as np

from fabplan.geom.pose import to_own
from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.sequence import Lift
from fabplan.sequence.bench import Bench
from fabplan.sequence.scene import Scene
from fabplan.sequence.stances import AS_DRAWN, Load, load, rivet_mass

BACK = ", turned back as drawn"
BY_HAND = 25.0  # kg, carried without a crane (common practice)
MOST = 300  # holes looked at
EVEN = 15.0  # mm that the middle between two hooks may lie beside the centre of mass: it hangs all but level
LEAN = 0.05  # of the height of two hooks over the centre of mass, that it may lie beside their line: 3 degrees
HIGH = 0.5  # of what a load stands over its centre of mass, that two hooks lie over it at least (common practice)
SLOPE = 0.2  # of the line from hook to hook, at most
FLAT = 100.0  # mm of height up to which hooks may lie below the centre of mass: four legs keep a flat plate level
WAYS = np.radians(np.arange(0.0, 180.0, 5.0))  # level directions in which a load is measured
STEEP = np.tan(np.radians(60.0))  # slope of the legs of a sling, at least


def lift_of(
    scene: Scene, instances: Sequence[int], what: str, filled: BoolArray, down: FloatArray = AS_DRAWN
) -> Lift | None:
    """One lift as a load hangs with `down` (3,) towards the floor; None of what is carried.

    Holes whose rivets are in, `filled` (n,), take no hook; those rivets count with the pieces that they hold.
    """
    own = np.zeros(len(scene.body.instances), dtype=np.bool_)
    own[list(instances)] = True
    if not any(scene.body.part_of(i).panels for i in instances):
        return None
    weight = load(scene, own)
    within = filled & ~(scene.member & ~own).any(axis=1)
    mass = weight.mass + rivet_mass(scene, np.nonzero(within)[0])
    if mass <= BY_HAND:
        return None
    rivets = np.nonzero(scene.member[:, own].any(axis=1) & ~filled)[0]
    hooks = _hooks(scene, rivets, weight, -down)
    return Lift(what, mass, _centre(scene, instances, weight), hooks, tuple(instances))


def lifts_of(scene: Scene, instances: Sequence[int]) -> tuple[Lift, ...]:
    """The lifts of single pieces, those carried by hand left out."""
    none = np.zeros(len(scene.member), dtype=np.bool_)
    found = (lift_of(scene, [i], scene.mark(i), none) for i in instances)
    return tuple(one for one in found if one is not None)


def unit_lifts(scene: Scene, bench: Bench, instances: Sequence[int]) -> tuple[Lift, ...]:
    """The lifts of pieces that come on, in their order, those riveted on the bench as one."""
    found: list[Lift] = []
    units = {unit[0]: unit for unit in bench.units}
    taken = {i for unit in bench.units if unit[0] in instances for i in unit}
    for instance in instances:
        if instance not in taken:
            found += lifts_of(scene, [instance])
        elif instance in units:
            unit = units[instance]
            back = BACK if bench.turned_back(unit) else ""
            one = lift_of(scene, unit, f"{scene.mark(unit[0])} with {scene.few(unit[1:])}{back}", bench.driven)
            found += [one] if one is not None else []
    return tuple(found)


def turned_back(lifts: Sequence[Lift]) -> bool:
    """True where one of some lifts turns a sub-assembly back."""
    return any(one.what.endswith(BACK) for one in lifts)


def _centre(scene: Scene, instances: Sequence[int], weight: Load) -> str:
    """The place of the centre of mass: of one flat piece in its own frame, else in the frame of the datum."""
    pose = scene.body.poses[instances[0]]
    if len(instances) == 1 and pose is not None and len(scene.body.part_of(instances[0]).panels) == 1:
        x, y, _ = (round(value) for value in to_own(pose, weight.centre).tolist())
        return f"x {x}, y {y} of its own"
    x, y, z = (round(value) for value in weight.centre.tolist())
    return f"x {x}, y {y}, z {z} of {scene.mark(scene.datum)}"


def _hooks(scene: Scene, rivets: IntArray, weight: Load, up: FloatArray) -> str:
    """Of the holes of some rivets those to hook on, the height of the crane's hook; slings where no holes serve.

    A load broader than it is high hangs by four; any other by two, well over its centre of mass: about a line through
    that it would turn over at a touch.
    """
    rivets = rivets[:: max(1, len(rivets) // MOST)]
    points = scene.stacks.point[rivets] - weight.centre
    high = points @ up
    top = float((weight.points @ up).max() - weight.centre @ up)
    tall = float(np.ptp(weight.points @ up))
    serve, pairs = np.nonzero(high >= (-FLAT if tall <= FLAT else 0.0))[0], list[IntArray]()
    if _breadth(weight, up) >= tall:
        pairs = _pairs(points[serve], up, 2)
    if len(pairs) < 2:
        serve = np.nonzero(high >= HIGH * top)[0]
        pairs = _pairs(points[serve], up, 1) if tall > FLAT else []
    if not pairs:
        far = _reach(weight, up)
        return f"no holes lie even about it: two slings round it, {far / 2.0:.0f} mm either side of the centre of mass"
    chosen = serve[np.concatenate(pairs)]
    half = max(float(np.linalg.norm(points[serve[a]] - points[serve[b]])) for a, b in pairs) / 2.0
    names = ", ".join(scene.stacks.number[int(rivets[k])] for k in chosen)
    return (
        f"holes {names}; hook {np.ceil(half * STEEP / 50.0) * 50.0:.0f} mm or more over them, over the centre of mass"
    )


def _pairs(points: FloatArray, up: FloatArray, count: int) -> list[IntArray]:
    """The widest, most level pairs of points, their middle over the centre of mass, the origin; a second one across."""
    one, other = np.triu_indices(len(points), 1)
    middle = (points[one] + points[other]) / 2.0
    high = middle @ up
    middle -= np.outer(high, up)
    way = points[other] - points[one]
    rise = way @ up
    way -= np.outer(rise, up)
    span = np.linalg.norm(way, axis=1)
    along = np.abs((middle * way).sum(axis=1)) / np.where(span > 0.0, span, 1.0)
    beside = np.sqrt(np.maximum((middle**2).sum(axis=1) - along**2, 0.0))
    leans = beside <= np.maximum(EVEN, LEAN * high if count == 1 else EVEN)
    even = np.nonzero((along <= EVEN) & leans & (np.abs(rise) <= SLOPE * span) & (span > 0.0))[0]
    found: list[IntArray] = []
    first = np.zeros(3)
    while len(even) and len(found) < count:
        best = even[int(np.argmax(span[even] - np.abs(rise[even])))]
        found.append(np.array([one[best], other[best]]))
        first = way[best] / span[best]
        even = even[np.abs(way[even] @ first) < 0.7 * span[even]]
    return found


def _breadth(weight: Load, up: FloatArray) -> float:
    """The least level breadth of a load, mm."""
    across = np.linalg.svd(up[None])[2][1:]
    level = weight.points @ across.T @ np.array([np.cos(WAYS), np.sin(WAYS)])
    return float(np.ptp(level, axis=0).min())


def _reach(weight: Load, up: FloatArray) -> float:
    """Half the length of a load along its longest level direction, mm."""
    across = weight.points - weight.centre
    across = across - np.outer(across @ up, up)
    return float(np.linalg.norm(across, axis=1).max())
