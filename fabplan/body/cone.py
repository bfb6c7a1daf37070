"""A plate rolled to a cone or a frustum: its panels, its holes on them, and what the forming sheet tells."""

from collections.abc import Sequence
from math import atan2, cos, degrees, hypot, sin, tau

import numpy as np

from fabplan.errors import FormingError
from fabplan.geom.cone import Cone, cone_facets, development, placed, sector
from fabplan.geom.prism import polygon, profiles
from fabplan.model.bends import ConeSpec
from fabplan.model.drawing import Drawing
from fabplan.model.forming import ConeRecord, FormingRecord
from fabplan.model.job import PartSpec
from fabplan.model.panel import Panel, PartHoles
from fabplan.model.part import Part
from fabplan.model.profile import Profile


def cone_panels(spec: PartSpec, drawing: Drawing, cutouts: Sequence[Profile]) -> tuple[tuple[Panel, ...], PartHoles]:
    """Panels of a plate rolled to a cone, and its holes on them.

    Args:
        spec: the part, with its cone.
        drawing: the sector, of the hand that is made.
        cutouts: its openings, round ones too.

    Raises:
        FormingError: the drawing shows no sector, or one that goes round more than once.
    """
    cone = cone_of(spec, drawing)
    assert drawing.outline is not None
    found, owner, local = cone_facets(cone, polygon(drawing.outline, tuple(cutouts)), drawing.holes.xy)
    panels = []
    for one in found:
        outline, inner = profiles(one.face)
        panels.append(Panel("conical", outline, cone.thickness, one.frame, inner))
    holes = drawing.holes
    bored = type(holes)(local, holes.diameter, holes.row, holes.number, holes.purpose, holes.handle)
    return tuple(panels), PartHoles(bored, np.maximum(owner, 0))


def cone_of(spec: PartSpec, drawing: Drawing) -> Cone:
    """The cone that a drawn sector is rolled to.

    Raises:
        FormingError: the drawing shows no sector, or one that goes round more than once.
    """
    return _cone(spec, drawing)[0]


def _cone(spec: PartSpec, drawing: Drawing) -> tuple[Cone, tuple[float, float, float]]:
    """The cone, and its sector as drawn: outer and inner radius, mm, and angle, radians."""
    assert spec.cone is not None
    if drawing.outline is None or spec.thickness is None:
        raise FormingError("no closed outline or no thickness", "Draw the one and state the other.")
    half = _half(spec.cone)
    apex, first, last, radii = sector(drawing.outline)
    if not (last - first) / sin(half) <= tau + 1e-6:
        what = (
            f"the sector of {degrees(last - first):.2f} degrees goes {(last - first) / sin(half) / tau:.3f} times round"
        )
        raise FormingError(what, "Look at radii and height of the cone, and at the drawing.")
    inward = spec.cone.inside == "marked"
    return Cone(placed(apex, first), half, spec.thickness, inward), (float(radii[1]), float(radii[0]), last - first)


def _half(spec: ConeSpec) -> float:
    large, small = max(spec.mean_radii), min(spec.mean_radii)
    return atan2(large - small, spec.height)


def cone_record(part: Part) -> FormingRecord:
    """What the forming sheet tells of a cone."""
    assert part.blank is not None
    assert part.spec.cone is not None
    spec = part.spec.cone
    cone, drawn = _cone(part.spec, part.blank)
    large, small = max(spec.mean_radii), min(spec.mean_radii)
    outer, inner, angle = development(large, small, spec.height)
    off = part.thickness / 2.0 * cos(cone.half)
    own = (part.blank.holes.xy - cone.own.origin[:2]) @ cone.own.rotation[:2, :2]
    turn = np.degrees(np.mod(np.arctan2(own[:, 1], own[:, 0]), tau) / sin(cone.half))
    away = np.hypot(*own.T)
    record = ConeRecord(
        degrees(cone.half),
        hypot(spec.height, large - small),
        (outer, inner, degrees(angle) * spec.angle / 360.0),
        (drawn[0], drawn[1], degrees(drawn[2])),
        (2.0 * (large - off), 2.0 * (large + off)),
        (2.0 * (small - off), 2.0 * (small + off)),
        spec.inside == "marked",
        spec.angle,
        tuple(zip(part.blank.holes.number, turn.tolist(), (outer - away).tolist(), strict=True)),
    )
    over = 2.0 * (large + off)
    return FormingRecord(
        part.mark, part.thickness, (), (over, over, spec.height + part.thickness * sin(cone.half)), cone=record
    )
