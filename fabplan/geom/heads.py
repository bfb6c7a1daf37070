"""Volumes of rivet heads: a round head is a spherical cap, a countersunk one a frustum of a cone."""

from math import pi, radians, tan

from fabplan.model.tables import HeadForm


def cap_volume(diameter: float, height: float) -> float:
    """Volume of a spherical cap, mm3, from its base diameter and height, mm.

    >>> round(cap_volume(14.0, 4.8), 2)
    427.36
    """
    return pi * height / 6.0 * (3.0 * (diameter / 2.0) ** 2 + height**2)


def frustum_volume(wide: float, narrow: float, height: float) -> float:
    """Volume of a frustum of a cone, mm3, from its two diameters and its height, mm.

    >>> round(frustum_volume(14.0, 8.0, 4.0), 1)
    389.6
    """
    return pi * height / 12.0 * (wide**2 + wide * narrow + narrow**2)


def head_volume(head: HeadForm) -> float:
    """Volume of a head, mm3: of a countersunk one down to where it meets the shank."""
    if head.form == "countersunk":
        return frustum_volume(head.head_diameter, head.d, head.head_height)
    return cap_volume(head.head_diameter, head.head_height)


def sink_depth(head: HeadForm, hole: float) -> float:
    """Depth, mm, to which a countersunk head opens a hole of diameter `hole`, mm; 0 for a round head."""
    if head.form != "countersunk":
        return 0.0
    return max(head.head_diameter - hole, 0.0) / (2.0 * tan(radians(head.angle / 2.0)))
