"""How the work lies at a step, what is lifted, and what the orders come to that were weighed: tables of the sheets."""

import math
from collections.abc import Iterator, Sequence

from fabplan.model.plan import Plan
from fabplan.model.sequence import Lie, Step, Tally
from fabplan.sheets.table import Table, natural, notes

LIES = ("lies", "kg", "its centre over the table", "within the edge", "rivets over the floor", "turned over")
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
LEAN = 0.9  # share of the room of the two tables together that figures leave to words


def how_it_lies(plan: Plan, step: Step, wide: float) -> Iterator[Table]:
    """The tables: how what stands lies, and the lifts."""
    if step.lie is not None:
        height = plan.job.shop.table_height
        under = f"trestles of {height:g} mm" if height > 0.0 else "the floor"
        heads = (
            "lies",
            "kg",
            "centre of mass over its foot",
            "within its edge",
            "rivets over the floor",
            "turned over",
        )
        rows = (_lie(step.lie),)
        yield Table(f"How it lies on {under}", heads, natural(heads, rows, wide), rows, (1, 2, 3))
    if step.lifts:
        lifted = tuple((one.what, f"{one.mass:.0f}", one.centre, one.hooks) for one in step.lifts)
        yield Table("Lifts", LIFTED, natural(LIFTED, lifted, wide), lifted, (1,))
        yield notes("", (GEAR,))


def _lie(lie: Lie) -> tuple[str, ...]:
    """The row of the table."""
    known = math.isfinite(lie.mass)
    steady = "" if lie.steady else "; does not stand by itself: blocked and braced"
    low, high = lie.heights or (math.nan, math.nan)
    heights = "-" if lie.heights is None else f"{low:.0f}" if high - low < 1.0 else f"{low:.0f} to {high:.0f}"
    turned = f"now, {lie.turns} in all so far" if lie.turned else f"not now, {lie.turns} so far"
    return (
        f"{lie.on}{steady}",
        f"{lie.mass:.0f}" if known else "not known",
        f"{lie.over:.0f}" if known else "-",
        f"{lie.inside:.0f}" if lie.steady else "-",
        heights,
        turned,
    )


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
