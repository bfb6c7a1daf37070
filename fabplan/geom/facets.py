"""Curved regions of a formed blank as runs of narrow flat prisms, each square to the holes that it bears."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np
import shapely
import shapely.affinity

from fabplan.geom.bend import curl
from fabplan.geom.forming import Formed, Region, region_of
from fabplan.geom.pose import compose, to_own
from fabplan.model.arrays import FloatArray, IntArray
from fabplan.model.pose import Pose

ONE_LINE = 0.5  # mm along the bend, within which holes share a facet
RISE = 0.1  # mm by which a facet leaves the round it stands for: half of what counts as a clash


@dataclass(frozen=True, slots=True, eq=False)
class Facet:
    """One flat prism of a formed blank.

    Attributes:
        region: number of its region.
        frame: pose of its own frame in the frame of the part: origin and x, y in the marked face, z off it.
        face: in its own frame, mm.
        round: True for a facet of a bent region.
    """

    region: int
    frame: Pose
    face: shapely.Polygon
    round: bool


def facets(formed: Formed, holes: FloatArray) -> tuple[tuple[Facet, ...], IntArray, FloatArray]:
    """All flat prisms of a formed blank, and where its holes lie.

    Args:
        formed: the formed blank.
        holes: (n, 2) centres on the blank, mm.

    Returns:
        The facets; (n,) the facet of each hole, -1 outside the blank; (n, 2) the hole in the frame of that facet, mm.
    """
    home = region_of(formed, holes)
    found: list[Facet] = []
    owner, local = np.full(len(holes), -1), holes.copy()
    for number, region in enumerate(formed.regions):
        here = np.nonzero(home == number)[0]
        if region.bend is None:
            owner[here] = len(found)
            found.append(Facet(number, region.pose, region.face, round=False))
            continue
        own = _flat(region.own, holes[here])
        for middle, strip in _strips(region, own[:, 0]):
            inside = shapely.contains_xy(strip, own[:, 0], own[:, 1])
            owner[here[inside]] = len(found)
            local[here[inside]] = own[inside] - [middle, 0.0]
            face = shapely.affinity.translate(strip, -middle)
            found.append(Facet(number, _tangent(region, middle), face, round=True))
    return tuple(found), owner, local


def _flat(at: Pose, xy: FloatArray) -> FloatArray:
    return to_own(at, np.column_stack([xy, np.zeros(len(xy))]))[:, :2]


def _strips(region: Region, u: FloatArray) -> Iterator[tuple[float, shapely.Polygon]]:
    """Strips of a bent region, in the frame in which its bend begins, and the line of each that touches the round."""
    flat = shapely.transform(region.face, partial(_flat, region.own))
    middles = _middles(region, u)
    width = region.bend.width if region.bend else 0.0
    edges = np.concatenate([[0.0], (middles[1:] + middles[:-1]) / 2.0, [width]])
    _, low, _, high = flat.bounds
    for k, middle in enumerate(middles.tolist()):
        strip = flat.intersection(shapely.box(edges[k], low - 1.0, edges[k + 1], high + 1.0))
        yield from ((middle, part) for part in shapely.get_parts(strip) if part.geom_type == "Polygon" and part)


def _middles(region: Region, u: FloatArray) -> FloatArray:
    """Lines (k,) on which facets touch the round: one for each line of holes along it, more where the round asks."""
    assert region.bend is not None
    most = 2.0 * np.sqrt(2.0 * region.bend.neutral_radius * RISE)
    ranked = np.sort(u)
    lines = np.split(ranked, np.nonzero(np.diff(ranked) > ONE_LINE)[0] + 1) if len(u) else []
    holes = [float(line.mean()) for line in lines]
    width = region.bend.width
    if not holes:
        return np.linspace(0.0, width, 2 * int(np.ceil(width / most)) + 1)[1::2]
    fill = [np.linspace(a, b, int(np.ceil((b - a) / most)) + 1)[1:-1] for a, b in pairwise(holes)]
    ends = [_to_end(holes[0], most), width - _to_end(width - holes[-1], most)]
    return np.sort(np.concatenate([holes, *fill, *ends]))


def _to_end(run: float, most: float) -> FloatArray:
    """Lines (k,) between an end of a bend, at 0, and a hole at `run`: equal spaces, half a one at the end."""
    return np.linspace(0.0, run, 2 * int(np.ceil(run / most - 0.5)) + 2)[1:-1:2]


def _tangent(region: Region, u: float) -> Pose:
    """The frame that touches the marked face on one line of a bend."""
    assert region.bend is not None
    x, height, turn = curl(region.bend, np.array([u]), np.zeros(1))
    cosine, sine = float(np.cos(turn[0])), float(np.sin(turn[0]))
    rotation = np.array([[cosine, 0.0, -sine], [0.0, 1.0, 0.0], [sine, 0.0, cosine]])
    return compose(region.pose, Pose(rotation, np.array([float(x[0]), 0.0, float(height[0])])))
