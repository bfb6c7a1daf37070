"""Legs of a rolled section: where their flat metal lies across the bar, and where its root is. Lengths mm."""

import math
from dataclasses import dataclass

from fabplan.model.tables import Section

LEGS = {
    "angle": ("a", "b"),
    "flat": ("a",),
    "half-round": ("a",),
    "channel": ("w", "a", "b"),
    "tee": ("a", "b"),
}
"""Names of the legs by kind of section; the first bears the marked face."""

Band = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Leg:
    """One leg. Places across it run from the heel, of a flat, a half-round and a tee's flange from the edge y = 0.

    Attributes:
        name: "a", "b" or "w".
        low, high: from where to where its metal runs; the metal of a corner belongs to one leg only.
        thickness: at half its width where it tapers, as the standards state it.
        roots: bands that a neighbour and its root fillet take on the inner face.
        both: True where the roots stand on both faces.
    """

    name: str
    low: float
    high: float
    thickness: float
    roots: tuple[Band, ...] = ()
    both: bool = False

    @property
    def starts_at_root(self) -> bool:
        """True where another leg stands at `low`: that is no edge of the metal."""
        return any(low <= self.low for low, _ in self.roots)

    @property
    def ends_at_root(self) -> bool:
        """True where another leg stands at `high`."""
        return any(high >= self.high for _, high in self.roots)


def legs_of(section: Section) -> tuple[Leg, ...]:
    """The legs of a section, named and ordered as in `LEGS`."""
    if section.kind == "angle":
        root = (0.0, section.t + section.root_radius)
        # leg b starts behind leg a, so that the metal of the heel is counted once
        return Leg("a", 0.0, section.a, section.t, (root,)), Leg("b", section.t, section.b, section.t, (root,))
    if section.kind == "channel":
        return _channel(section)
    if section.kind == "tee":
        return _tee(section)
    return (Leg("a", 0.0, section.a, section.t),)


def _channel(section: Section) -> tuple[Leg, ...]:
    """Web and flanges; the fillet of a tapered flange runs shorter than its radius and starts further up the web."""
    slope = math.atan(section.taper)
    fillet = section.root_radius * math.tan((math.pi / 2.0 - slope) / 2.0)
    at_web = section.t + section.taper * (section.a / 2.0 - section.web_thickness) + fillet
    in_flange = ((0.0, section.web_thickness + fillet),)
    in_web = ((0.0, at_web), (section.web - at_web, section.web))
    return (
        Leg("w", 0.0, section.web, section.web_thickness, in_web),
        Leg("a", section.web_thickness, section.a, section.t, in_flange),
        Leg("b", section.web_thickness, section.b, section.t, in_flange),
    )


def _tee(section: Section) -> tuple[Leg, ...]:
    """Flange and stem; their taper of 2 % is left out."""
    half = section.web_thickness / 2.0 + section.root_radius
    middle = section.a / 2.0
    return (
        Leg("a", 0.0, section.a, section.t, ((middle - half, middle + half),)),
        Leg("b", section.t, section.b, section.web_thickness, ((0.0, section.t + section.root_radius),), both=True),
    )
