"""A bar bent to a ring or an arc: its straight length by the section's centroid, its panels and its holes."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from fabplan.geom.bend import Bend, rolled
from fabplan.geom.facets import facets
from fabplan.geom.forming import whole_roll
from fabplan.geom.pose import compose, to_outer, to_own
from fabplan.geom.prism import polygon, profiles
from fabplan.geom.profile import rectangle
from fabplan.geom.ring import Ring, flat_ring, to_ring
from fabplan.model.arrays import FloatArray
from fabplan.model.bends import RingSpec
from fabplan.model.forming import FormingRecord, RingRecord
from fabplan.model.job import PartSpec, RowSpec
from fabplan.model.panel import Panel, PartHoles
from fabplan.model.part import Part
from fabplan.model.pose import Pose
from fabplan.model.tables import Section

SPANDREL = (10.0 - 3.0 * math.pi) / (3.0 * (4.0 - math.pi))
"""Centroid of the metal between a fillet and its corner, as a share of the radius, from either side of the corner."""
FULL = 360.0 + 1e-6  # degrees


def centroid(section: Section) -> tuple[float, float]:
    """Centroid (y, z) of an angle, a flat or a half-round in the frame of the bar, mm.

    An angle with its root fillet and toe radii; a half-round as the segment of a circle that it is.

    >>> from fabplan.model.tables import Section
    >>> round(centroid(Section("HR50", "half-round", 50.0, 0.0, 25.0, 0.0, 0.0, 981.7, 7.7, ""))[1], 3)
    -10.61
    """
    if section.kind == "flat":
        return section.a / 2.0, -section.t / 2.0
    if section.kind == "half-round":
        radius = (section.a**2 / 4.0 + section.t**2) / (2.0 * section.t)
        rise = radius - section.t
        area = radius**2 * math.acos(rise / radius) - rise * section.a / 2.0
        return section.a / 2.0, -(section.a**3 / (12.0 * area) - rise)
    a, b, t = section.a, section.b, section.t
    share = 1.0 - math.pi / 4.0
    root, toe = section.root_radius, section.toe_radius
    pieces = np.array(
        [
            (a * t, a / 2.0, t / 2.0),
            ((b - t) * t, t / 2.0, (b + t) / 2.0),
            (share * root**2, t + SPANDREL * root, t + SPANDREL * root),
            (-share * toe**2, a - SPANDREL * toe, t - SPANDREL * toe),
            (-share * toe**2, t - SPANDREL * toe, b - SPANDREL * toe),
        ]
    )
    y, z = pieces[:, 0] @ pieces[:, 1:] / pieces[:, 0].sum()
    return float(y), float(z)


def _extent(section: Section) -> tuple[tuple[float, float], tuple[float, float]]:
    """From where to where the section's metal runs along y and along z of the bar's frame, mm."""
    if section.kind == "angle":
        return (0.0, section.a), (0.0, section.b)
    return (0.0, section.a), (-section.t, 0.0)


def neutral_radius(ring: RingSpec, section: Section) -> float:
    """Radius of the section's centroid, mm, which keeps its length in bending (common practice for sections)."""
    axis = "yz".index(ring.centre[1])
    low, high = _extent(section)[axis]
    middle = centroid(section)[axis]
    return ring.inside_radius + (high - middle if ring.centre[0] == "+" else middle - low)


def settled(spec: PartSpec, section: Section) -> tuple[PartSpec, str]:
    """A bar with its straight length and its rows as lengths along it, and why it cannot be bent, or "".

    Args:
        spec: the bar as the job states it.
        section: its section.
    """
    ring = spec.ring
    if ring is None:
        return spec, ""
    radius = neutral_radius(ring, section)
    length = radius * math.radians(ring.angle) if ring.angle is not None else spec.length
    rows = tuple(_along(row, radius) for row in spec.rows)
    spec = replace(spec, length=length, rows=rows)
    if length is None:
        return spec, ""
    turn = math.degrees(length / radius)
    if not turn <= FULL:
        return spec, f"{length:g} mm of bar go round by {turn:.1f} degrees. Shorten it, or take a larger radius."
    last = max((at + row.diameter / 2.0 for row in rows for at in row.at), default=0.0)
    if not last <= length + 1e-6 and ring.angle != 360.0:
        return spec, f"a hole ends {last:.1f} mm along a bar of {length:.1f} mm. Keep every hole within the arc."
    return spec, ""


def _along(row: RowSpec, radius: float) -> RowSpec:
    if row.by == "length":
        return row
    return replace(row, at=tuple(math.radians(at) * radius for at in row.at), by="length")


def bar_ring(spec: RingSpec, section: Section, length: float) -> Ring:
    """The bend of a whole bar, `length` mm long when straight."""
    axis = "yz".index(spec.centre[1])
    sign = 1.0 if spec.centre[0] == "+" else -1.0
    low, high = _extent(section)[axis]
    radius = neutral_radius(spec, section)
    factor = 2.0 * (radius - spec.inside_radius) / (high - low)
    towards = np.zeros(3)
    towards[1 + axis] = sign
    rotation = np.column_stack([[1.0, 0.0, 0.0], np.cross(towards, [1.0, 0.0, 0.0]), towards])
    inmost = np.zeros(3)
    inmost[1 + axis] = high if sign > 0.0 else low
    angle = 2.0 * math.pi if spec.angle == 360.0 else length / radius
    return Ring(Bend(angle, spec.inside_radius, high - low, factor), Pose(rotation, inmost))


def ring_panels(ring: Ring, legs: Sequence[Panel], holes: PartHoles) -> tuple[tuple[Panel, ...], PartHoles]:
    """Panels of a bent bar, and its holes on them.

    A leg that is bent on edge stays one flat panel; a leg that is bent on its flat becomes a run of narrow ones.

    Args:
        ring: the bent bar.
        legs: its panels while it is straight.
        holes: its holes on these.
    """
    panels: list[Panel] = []
    xy, home = holes.holes.xy.copy(), np.zeros(len(holes.holes), dtype=np.int64)
    for number, leg in enumerate(legs):
        here = np.nonzero(holes.panel == number)[0]
        on_edge = abs(float(leg.frame.rotation[:, 2] @ ring.towards)) < 0.5
        bend_leg = _on_edge if on_edge else _on_flat
        own, owner, local = bend_leg(ring, leg, holes.holes.xy[here])
        xy[here], home[here] = local, owner + len(panels)
        panels += own
    old = holes.holes
    placed = type(old)(xy, old.diameter, old.row, old.number, old.purpose, old.handle)
    return tuple(panels), PartHoles(placed, home)


Bent = tuple[list[Panel], FloatArray, FloatArray]
"""Panels of one leg, (n,) the panel of each hole and (n, 2) the hole on it."""


def _on_edge(ring: Ring, leg: Panel, xy: FloatArray) -> Bent:
    low, high = _band(leg)
    outline, cutouts = flat_ring(ring, leg.frame, low, high)
    bent = to_own(leg.frame, to_ring(ring, to_outer(leg.frame, np.column_stack([xy, np.zeros(len(xy))]))))
    return [replace(leg, outline=outline, cutouts=cutouts)], np.zeros(len(xy), dtype=np.int64), bent[:, :2]


def _on_flat(ring: Ring, leg: Panel, xy: FloatArray) -> Bent:
    """Each leg is developed on its own middle, so that its facets close and its volume is true."""
    low, high = _band(leg)
    inner = to_own(leg.frame, ring.own.origin + ring.bend.radius * ring.towards)[2]
    closing = 1.0 if inner > 0.0 else -1.0
    radius = inner if closing > 0.0 else -inner - leg.thickness
    girth = ring.bend.angle * (radius + leg.thickness / 2.0)
    share = girth / ring.bend.width
    face = polygon(rectangle(0.0, low, girth, high))
    shape = whole_roll(face, rolled(girth, closing * radius, leg.thickness), along_x=False)
    found, owner, local = facets(shape, xy * [share, 1.0])
    panels = [
        Panel("cylindrical", profiles(one.face)[0], leg.thickness, compose(leg.frame, one.frame), name=leg.name)
        for one in found
    ]
    return panels, np.maximum(owner, 0), local


def _band(leg: Panel) -> tuple[float, float]:
    _, low, _, high = polygon(leg.outline).bounds
    return low, high


def ring_record(part: Part) -> FormingRecord:
    """What the forming sheet tells of a bent bar."""
    spec, section, straight = part.spec.ring, part.section, part.straight_holes
    assert spec is not None
    assert section is not None
    assert straight is not None
    assert part.spec.length is not None
    ring = bar_ring(spec, section, part.spec.length)
    radius, angle = ring.bend.neutral_radius, ring.bend.angle
    holes = straight.holes
    at = zip(holes.number, holes.xy[:, 0].tolist(), strict=True)
    outside = ring.bend.radius + ring.bend.thickness
    record = RingRecord(
        section.name,
        spec.centre,
        math.degrees(angle),
        ring.bend.radius,
        radius,
        outside,
        part.spec.length,
        tuple((number, math.degrees(x / radius), x) for number, x in at),
    )
    across = _extent(section)["zy".index(spec.centre[1])]
    rise = ring.bend.radius * (1.0 - math.cos(min(angle, math.pi) / 2.0)) + ring.bend.thickness
    chord = 2.0 * outside * math.sin(min(angle, math.pi) / 2.0)
    size = (chord, rise if angle < math.pi else 2.0 * outside, across[1] - across[0])
    return FormingRecord(part.mark, part.thickness, (), size, record)
