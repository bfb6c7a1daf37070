"""What each way of ordering and bolting up costs the gang in minutes."""

import numpy as np

from fabplan.model.arrays import BoolArray, FloatArray, IntArray
from fabplan.model.forecast import BEST, END, Choice, Cost
from fabplan.model.job import Shop


def minutes_of(shop: Shop) -> FloatArray:
    """(5,) what a hole takes that comes out as each of `OUTCOMES`; one that goes in takes nothing more."""
    return np.array([0.0, shop.open_minutes, shop.ease_minutes, shop.next_size_minutes, shop.remake_minutes])


def cost_of(shop: Shop, choice: Choice, asked: BoolArray, seam: IntArray, rows: IntArray) -> Cost:
    """The minutes of one choice, by seam.

    Args:
        shop: its rates.
        choice: the choice.
        asked: (n,) rivets that are forecast.
        seam: (n,) of s seams, -1 for none.
        rows: (s,) rows of two plies in each seam at which they are drawn together.
    """
    own = asked & (seam >= 0)
    work: FloatArray = np.bincount(seam[own], weights=choice.share[own] @ minutes_of(shop), minlength=len(rows)).astype(
        np.float64
    )
    each = {END: 0.0, BEST: np.nan}.get(choice.aligned, shop.align_minutes)  # by trial, hole after hole: unknown
    align: FloatArray = rows.astype(np.float64) * each
    return Cost(work, align)
