"""Length of a rivet: by volume, by the rule of thumb, and the next one that is stocked. Lengths mm.

A round-headed rivet is measured under its head, a countersunk one overall.
"""

import math
from collections.abc import Sequence

from fabplan.geom.heads import closing_volume, head_volume
from fabplan.geom.tolerance import FIGURE
from fabplan.model.tables import HeadForm

THUMB = {"round": 1.5, "countersunk": 0.75}
"""Shank beyond the grip for the point, in diameters: trade rule for a round point; countersunk from memory."""

ALLOWANCE_APART = 0.3
"""Length by volume and rule of thumb may differ by so many diameters before somebody is asked (shop practice)."""


def by_volume(head: HeadForm, point: HeadForm, grip: float, hole: float, margin: float) -> float:
    """Length that fills the hole and makes the point, mm.

    The shank under a round head is `(grip (hole / d)^2 + V / A) (1 + margin)`: V the volume of the point (of a
    countersunk one only the cone outside the hole), A the area of the shank. A countersunk made head fills its own
    sink; what of it lies below the sink is taken off, and its height is added since the length is overall.
    The British setting allowances of BS 275 and BS 4620 are this sum without hole filling.

    Args:
        head: the made head.
        point: the form of the point, of the same shank diameter.
        grip: mm, all plies, countersunk ones whole.
        hole: hole diameter, mm.
        margin: share added for scale and flash: 0.03 hot, 0 cold (an engineering choice).

    >>> din124 = HeadForm("DIN 124", "round", 16.0, 25.0, 10.0, 0.0, "DIN 124, from memory")
    >>> round(by_volume(din124, din124, 20.0, 17.0, 0.0), 3)
    37.389
    """
    area = math.pi / 4.0 * head.d**2
    shank = grip * (hole / head.d) ** 2 + closing_volume(point, hole) / area
    if head.form == "countersunk":
        shank += head.head_height - (head_volume(head) - closing_volume(head, hole)) / area
    return shank * (1.0 + margin)


def by_thumb(diameter: float, form: str, grip: float) -> tuple[float, str]:
    """Length by the rule of thumb for a point of this form, mm, and the rule in words.

    >>> by_thumb(3.0, "round", 8.0)
    (12.5, 'grip + 1.5 d')
    """
    return grip + THUMB[form] * diameter, f"grip + {THUMB[form]:g} d"


def next_stocked(lengths: Sequence[float], computed: float) -> float | None:
    """The shortest stocked length that is long enough, mm, or None."""
    return min((length for length in lengths if length >= computed - FIGURE), default=None)


def mass(head: HeadForm, length: float, density: float) -> float:
    """Mass of one rivet as bought, kg: head and shank; `density` in kg/m3."""
    shank = length - (head.head_height if head.form == "countersunk" else 0.0)
    return (head_volume(head) + math.pi / 4.0 * head.d**2 * shank) * density * 1e-9
