"""Plates drawn down to a thin edge or corner, so that another plate passes over or under: how thick they are where."""

import numpy as np
import shapely

from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.arrays import FloatArray
from fabplan.model.panel import Panel, Taper

PASSED = 0.5  # of the thickness: an edge thinned to no more than that lets another plate pass (common practice)
EVEN = 0.05  # of the plate: halves that differ by no more than that do not tell which of them is thinned
LEAST = 1.0  # mm2 on either side of the line of a taper
FAR = 1e6  # mm: past any plate of this trade


def uncovered(face: shapely.Polygon, panel: Panel) -> shapely.Polygon:
    """A face (a polygon in the panel's frame) without what is thinned enough to be passed; the largest piece of it."""
    for one in panel.tapers:
        if one.edge > PASSED * panel.thickness:
            continue
        face = max(shapely.get_parts(face.difference(_zone(face, one))), key=lambda part: float(part.area))
    return face


def zones(face: shapely.Polygon, panel: Panel) -> list[tuple[Taper, shapely.Polygon]]:
    """The tapers of a panel that another plate may pass, each with what of its face (a polygon) is thinned by it."""
    passed = [one for one in panel.tapers if one.edge <= PASSED * panel.thickness]
    return [(one, part) for one in passed for part in shapely.get_parts(_zone(face, one)) if part.area >= LEAST]


def missed(panel: Panel) -> bool:
    """True where the line of a taper does not part the plate: there is nothing beyond it."""
    face = shapely.Polygon(flattened(panel.outline, SAGITTA))
    return any(not shapely.area(_zone(face, one)) >= LEAST for one in panel.tapers)


def undecided(panel: Panel) -> bool:
    """True where the line of a taper halves the plate, so that neither side has clearly less metal."""
    face = shapely.Polygon(flattened(panel.outline, SAGITTA))
    halves = (shapely.area(_zone(face, one)) for one in panel.tapers)
    return any(not face.area - 2.0 * half > EVEN * face.area for half in halves)


def thickness_at(panel: Panel, xy: FloatArray) -> FloatArray:
    """Thickness (n,) of a panel at places (n, 2) in its frame, mm: whole off its zones, in each evenly less.

    It falls from the whole thickness at the line of a zone to that of the edge at the place furthest from the line.
    """
    thick = np.full(len(xy), panel.thickness)
    for one in panel.tapers:
        zone = _zone(shapely.Polygon(flattened(panel.outline, SAGITTA)), one)
        start, across = _across(one)
        off = (shapely.get_coordinates(zone) - start) @ across
        share = np.clip((xy - start) @ across / off[np.abs(off).argmax()], 0.0, 1.0)
        thick = np.minimum(thick, panel.thickness - share * (panel.thickness - one.edge))
    return thick


def _zone(face: shapely.Polygon, taper: Taper) -> shapely.Geometry:
    """The part of a face on the side of the line that has less of it."""
    start, across = _across(taper)
    along = FAR * np.array([across[1], -across[0]])
    halves = []
    for side in (FAR * across, -FAR * across):
        ends = np.array([start - along, start + along, start + along + side, start - along + side])
        halves.append(face.intersection(shapely.Polygon(ends)))
    return min(halves, key=lambda half: float(half.area))


def _across(taper: Taper) -> tuple[FloatArray, FloatArray]:
    """A point (2,) of the line of a zone, and the unit vector (2,) across it."""
    start, end = np.array(taper.line)
    along = (end - start) / np.linalg.norm(end - start)
    return start, np.array([-along[1], along[0]])
