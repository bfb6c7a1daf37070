"""The dry fit parted: what comes off before riveting, the last first, and where each piece is laid."""

from collections.abc import Iterator, Sequence

from fabplan.model.sequence import Laid, Step
from fabplan.sequence.erect import LIFTING
from fabplan.sequence.footing import GOES_OVER, left_over
from fabplan.sequence.lifting import lifts_of
from fabplan.sequence.man_inside import INSIDE
from fabplan.sequence.orders import Order
from fabplan.sequence.scene import Scene, count_of, indices
from fabplan.sequence.stances import ALIKE, AS_DRAWN
from fabplan.sequence.standing import on_words

LOOSE = (
    "A piece hangs in the crane or on chocks before its last two bolts are out; what is still bolted is braced, it "
    "racks when plates are off."
)


def taken_apart(order: Order) -> bool:
    """True where the body is parted for the bench, not only what is held back."""
    return bool(order.shifts) and any(order.shifts[0].phase.present[unit[0]] for unit in order.bench.units)


def parting(scene: Scene, order: Order, fitted: Sequence[int]) -> Iterator[Step]:
    """The step in which the dry fit is parted, against the order in which its pieces were `fitted`."""
    if not order.shifts:
        return
    first, every = order.shifts[0].phase.present, order.shifts[-1].phase.present
    whole = taken_apart(order)
    off = every if whole else every & ~first
    if not off.any():
        return
    down = [i for i in reversed(fitted) if off[i]]
    bolts = sum(count for _, count in scene.bolts_through(indices(off)))
    men = bool((scene.bolted & scene.men & scene.member[:, off].any(axis=1)).any())
    what = "the whole body" if whole else scene.few(down)
    lifts = lifts_of(scene, down)
    over = left_over(scene, indices(every), down)
    yield Step(
        0,
        "part",
        f"Part the dry fit: {what if whole else f'{what} off again'}",
        "the last on comes off first; then joints are deburred and cleaned, and the bench has its pieces"
        if order.bench.units
        else "the last on comes off first; the rivets behind it are reached while it is off",
        present=indices(every & ~off),
        checks=(
            f"{what} {'parted again' if whole else 'off'}, {count_of(bolts, 'service bolt')} out; marks read before "
            "each piece is laid down",
            "bolts, drifts and packings counted into their boxes; unfair holes still open marked on the steel",
            *(
                ("what was tightened from inside is loosened from inside: man outside as in the dry fit",)
                if men
                else ()
            ),
            *((over,) if over else ()),
            "burrs off both faces; what does not go onto the bench lies on timber, clear of the floor, edges covered",
        ),
        cautions=(*((GOES_OVER,) if over else ()), *((INSIDE,) if men else ()), LIFTING, LOOSE),
        lift=scene.lift(down),
        lifts=lifts,
        off=tuple(Laid(i, _where(scene, order, i)) for i in down),
    )


def _where(scene: Scene, order: Order, instance: int) -> str:
    """Where a piece is laid: on the bench as its sub-assembly lies, or aside till it goes on again."""
    for unit, shifts in zip(order.bench.units, order.bench.shifts, strict=True):
        if instance in unit:
            stance = shifts[0].stance
            turned = float(stance.down @ AS_DRAWN) <= ALIKE
            lies = on_words(scene, stance).split(",")[0]
            own = f"bench, {lies}" if instance == unit[0] else f"bench, with {scene.mark(unit[0])}"
            return f"{own}: turned as it is laid" if turned and instance == unit[0] else own
    again = bool(order.shifts[0].phase.present[instance])
    return "beside the table, bolted up again" if again else "aside, till it is put in"
