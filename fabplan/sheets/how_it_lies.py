"""How the work lies at a step, what is lifted, and what the orders come to that were weighed: tables of the sheets."""

import math
from collections.abc import Iterator, Sequence

from fabplan.model.plan import Plan
from fabplan.model.sequence import Lie, Step, Tally
from fabplan.sheets.table import Table, natural, notes

LIES = ("it lies", "mass", "rivets", "turned over")
LIFTED = ("lift", "kg", "centre of mass", "hooked on at")
ORDERS = (
    "order",
    "on the bench",
    "turn-overs",
    "lifts",
    "down / side / overhead",
    "man inside",
    "no room",
    "hours",
    "why",
)
GEAR = (
    "Rated gear, slung as the rules of the place say; holes free of burrs; lifted a hand's breadth and looked at first."
)


def how_it_lies(plan: Plan, step: Step) -> Iterator[Table]:
    """The table of how what stands lies, where something is riveted."""
    if step.lie is not None:
        height = plan.job.shop.table_height
        under = f"trestles of {height:g} mm" if height > 0.0 else "the floor"
        when = "before these pieces come in" if step.parts and not step.alone else "now"
        rows = tuple(zip(LIES, _lie(step.lie, when, bench=step.alone), strict=True))
        yield Table(f"How it lies on {under}", ("", ""), (1.0, 3.0), rows, whole=True)


def lifts(step: Step, wide: float) -> Iterator[Table]:
    """The table of the lifts, with a word on the gear."""
    if step.lifts:
        lifted = tuple((one.what, f"{one.mass:.0f}", one.centre, one.hooks) for one in step.lifts)
        yield Table("Lifts", LIFTED, natural(LIFTED, lifted, wide), lifted, (1,))
        yield notes("", (GEAR,))


def _lie(lie: Lie, when: str, *, bench: bool) -> tuple[str, ...]:
    """What stands beside each of `LIES`, turned over `when`; on the bench it is laid so from the first."""
    on = lie.on if lie.steady else f"{lie.on}; does not stand by itself: block and brace it"
    mass = "not known"
    if math.isfinite(lie.mass):
        edge = f", {lie.inside:.0f} within its edge" if lie.steady else ""
        mass = f"{lie.mass:.0f} kg, its centre {lie.over:.0f} over its foot{edge}"
    low, high = lie.heights or (math.nan, math.nan)
    heights = f"{low:.0f}" if high - low < 1.0 else f"{low:.0f} to {high:.0f}"
    turned = f"{when}, {lie.turns} in all so far" if lie.turned else f"not now, {lie.turns} so far"
    if bench and not lie.turned:
        each = f"each piece as it is laid down, {lie.turns} so far with those of the other sub-assemblies"
        turned = each if lie.laid else "no: laid as drawn"
    staging = f"; {lie.high} from staging, boards at {lie.boards:.0f}" if lie.high else ""
    return on, mass, f"{heights} over the floor{staging}" if lie.heights else "-", turned


def orders_weighed(orders: Sequence[Tally], wide: float) -> Table:
    """What each order comes to, the one taken first; nothing where there was no choice."""
    rows = tuple(
        (
            one.name,
            str(one.bench),
            str(one.turns),
            str(one.lifts),
            f"{one.downhand} / {one.sideways} / {one.overhead}",
            str(one.inside),
            str(one.short),
            f"{one.minutes / 60.0:.0f}",
            one.why,
        )
        for one in orders
        if len(orders) > 1
    )
    return Table("Orders weighed, the one taken first", ORDERS, natural(ORDERS, rows, wide), rows, tuple(range(1, 8)))
