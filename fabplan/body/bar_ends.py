"""Ends of bars that are mitred (sawn at an angle) or coped (a leg cut back or notched)."""

from collections.abc import Sequence
from dataclasses import replace
from math import radians, tan

import numpy as np

from fabplan.errors import FormingError
from fabplan.geom.bar_end import less
from fabplan.geom.pose import to_outer
from fabplan.geom.profile import area
from fabplan.geom.tolerance import FIGURE
from fabplan.model.arrays import FloatArray
from fabplan.model.bends import BarEnd
from fabplan.model.job import PartSpec
from fabplan.model.panel import Panel
from fabplan.model.tables import Section

FAR = 10.0  # mm by which a cut runs beyond the metal


def cut_ends(
    spec: PartSpec, section: Section, legs: tuple[Panel, ...], opposite: bool
) -> tuple[tuple[Panel, ...], float]:
    """The legs of a straight bar with its ends cut, and the volume that is off, mm3.

    A mitre runs square to the leg on which it is seen, and slants through those that stand on it. A panel has square
    edges: such a leg ends where its whole thickness stands, and the volume is that of the true cut. On the opposite
    hand the ends change places.

    Args:
        spec: the bar, its length settled.
        section: its section.
        legs: its panels, uncut.
        opposite: True for the hand that is not drawn.

    Raises:
        FormingError: nothing is left of a leg, or a cope is deeper than its leg.
    """
    assert spec.length is not None
    square: list[list[FloatArray]] = [[] for _ in legs]
    true: list[list[FloatArray]] = [[] for _ in legs]
    for one in spec.ends:
        own = next(panel for panel in legs if panel.name == one.leg)
        length = spec.length if (one.end == "last") != opposite else None
        for number, panel in enumerate(legs):
            if one.mitre is not None:
                faces = [_mitre(one, own, panel, level, length) for level in (0.0, 0.5, 1.0)]
                square[number] += faces[::2]
                true[number].append(faces[1])
            elif panel is own:
                cope = _cope(one, section, panel, length)
                square[number].append(cope)
                true[number].append(cope)
    return _sawn(legs, square), _off(legs, _sawn(legs, true))


def _sawn(legs: tuple[Panel, ...], cuts: Sequence[Sequence[FloatArray]]) -> tuple[Panel, ...]:
    pairs = zip(legs, cuts, strict=True)
    return tuple(replace(panel, outline=less(panel.outline, own)) if own else panel for panel, own in pairs)


def _mitre(one: BarEnd, own: Panel, panel: Panel, level: float, length: float | None) -> FloatArray:
    """What a mitre takes off a panel at a share of its thickness: (4, 2) in its frame.

    `own` is the leg on which it is seen; `length` that of the bar for its far end, else None.
    """
    assert one.mitre is not None
    low, high = _across(panel)
    y = np.array([low - FAR, high + FAR])
    at = to_outer(panel.frame, np.column_stack([np.zeros(2), y, np.full(2, -level * panel.thickness)]))
    across = (at - own.frame.origin) @ own.frame.rotation[:, 1]
    toe = max(_across(own), key=abs)
    longest, way = (0.0, toe) if one.mitre > 0.0 else (toe, -toe)
    off = (across - longest) * np.sign(way) * tan(radians(abs(one.mitre)))
    return _beyond(off, y, length)


def _cope(one: BarEnd, section: Section, panel: Panel, length: float | None) -> FloatArray:
    """What a cope takes off its leg."""
    assert one.cope is not None
    heel, toe = sorted(_across(panel), key=abs)
    free = abs(toe) - max(abs(heel), _neighbour(section, one.leg))
    depth = free if one.depth is None else one.depth
    if not 0.0 < depth <= free + FIGURE:
        what = f"a cope {depth:g} mm deep in leg {one.leg}, of which {free:g} mm stand free"
        raise FormingError(what, "State `depth` from the toe, or leave it out for the whole leg.")
    edge = toe - np.sign(toe - heel) * depth
    y = np.sort(np.array([edge, toe + np.sign(toe - heel) * FAR]))
    return _beyond(np.full(2, one.cope), y, length)


def _neighbour(section: Section, leg: str) -> float:
    """How far the metal of the leg beside reaches up a leg from its heel, mm: it stays."""
    if section.kind == "angle":
        return section.t
    if section.kind == "tee":
        return section.t if leg == "b" else (section.a + section.web_thickness) / 2.0
    return section.web_thickness if section.kind == "channel" else 0.0


def _across(panel: Panel) -> tuple[float, float]:
    y = panel.outline.vertices[:, 1]
    return float(y.min()), float(y.max())


def _beyond(off: FloatArray, y: FloatArray, length: float | None) -> FloatArray:
    """The area (4, 2) from beyond the end to `off` (2,) from it, at `y` (2,)."""
    outer = np.full(2, -FAR) + np.minimum(off, 0.0)
    inner = off
    if length is not None:
        outer, inner = length - outer, length - inner
    return np.array([[outer[0], y[0]], [inner[0], y[0]], [inner[1], y[1]], [outer[1], y[1]]])


def _off(before: Sequence[Panel], after: Sequence[Panel]) -> float:
    """Volume that cuts take off, mm3."""
    pairs = zip(before, after, strict=True)
    return sum((abs(area(old.outline)) - abs(area(new.outline))) * old.thickness for old, new in pairs)
