"""What flat faces hide from an eye far away: points, and stretches of lines. Pictures are seen along their depth."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from fabplan.model.arrays import BoolArray, FloatArray, IntArray

DEPTH = 1.5
"""mm of depth by which a face must stand before a line to hide it: less than any plate, more than a facet's chord."""


@dataclass(frozen=True, slots=True, eq=False)
class Covers:
    """Faces that hide what lies behind them.

    Attributes:
        areas: (m,) polygons on the picture.
        planes: (m, 3) how near to the eye each is: (x, y, 1) @ plane, mm.
        owner: (m,) whose face it is.
    """

    areas: NDArray[np.object_]
    planes: FloatArray
    owner: IntArray


def covers(faces: Sequence[tuple[FloatArray, Sequence[FloatArray]]], owner: Sequence[int]) -> Covers:
    """Faces as outlines (n, 3), each corner with its depth, and their openings; those seen edge on hide nothing."""
    areas, planes, owners = [], [], []
    for (outline, openings), whose in zip(faces, owner, strict=True):
        area = shapely.make_valid(shapely.Polygon(outline[:, :2], [one[:, :2] for one in openings]))
        if area.area > 1.0:
            flat = np.column_stack([outline[:, :2], np.ones(len(outline))])
            planes.append(np.linalg.lstsq(flat, outline[:, 2], rcond=None)[0])
            areas.append(area)
            owners.append(whose)
    return Covers(np.array(areas, dtype=object), np.array(planes).reshape(-1, 3), np.array(owners, dtype=np.int64))


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Stretches that faces hide: segment (k,), owner of the face (k,), from and to as shares of the segment (k, 2)."""

    segment: IntArray
    owner: IntArray
    share: FloatArray


def hidden_runs(start: FloatArray, end: FloatArray, faces: Covers) -> Runs:
    """What faces hide of straight segments.

    Args:
        start: (n, 3), on the picture and in depth, mm.
        end: (n, 3), the same.
        faces: that may hide them; a face that a segment lies on, or nearly, does not.
    """
    lines = np.asarray(shapely.linestrings(np.stack([start[:, :2], end[:, :2]], axis=1)))
    if not len(faces.areas) or not len(lines):
        return Runs(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64), np.zeros((0, 2)))
    segment, face = shapely.STRtree(faces.areas).query(lines)
    over = np.stack([_over(faces, face, one[segment]) for one in (start, end)], axis=1)
    near = np.nonzero(over.max(axis=1) > DEPTH)[0]
    shapely.prepare(faces.areas)
    near = near[shapely.intersects(faces.areas[face[near]], lines[segment[near]])]
    segment, face, over = segment[near], face[near], over[near]
    common = lines[segment]
    cut = np.nonzero(~shapely.contains_properly(faces.areas[face], common))[0]
    common[cut] = shapely.intersection(common[cut], faces.areas[face[cut]])
    parts, pair = shapely.get_parts(common, return_index=True)
    kept = (shapely.get_type_id(parts) == 1) & ~shapely.is_empty(parts)
    parts, pair = parts[kept], pair[kept]
    ends = np.stack([shapely.get_coordinates(shapely.get_point(parts, k)) for k in (0, -1)], axis=1)
    own = segment[pair]
    way = end[own, :2] - start[own, :2]
    share = np.einsum("kex,kx->ke", ends - start[own, None, :2], way) / np.einsum("kx,kx->k", way, way)[:, None]
    share = np.sort(share, axis=1)
    low, high = _before(over[pair])
    share = np.column_stack([np.maximum(share[:, 0], low), np.minimum(share[:, 1], high)])
    there = share[:, 1] > share[:, 0]
    return Runs(own[there], faces.owner[face[pair]][there], share[there])


def _over(faces: Covers, face: IntArray, points: FloatArray) -> FloatArray:
    """How far each face stands before its point, mm."""
    flat = np.column_stack([points[:, :2], np.ones(len(points))])
    over: FloatArray = np.einsum("kx,kx->k", flat, faces.planes[face]) - points[:, 2]
    return over


def _before(over: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Between which shares of a segment a face stands before it by more than `DEPTH`, from both ends (k, 2)."""
    first, last = over[:, 0] - DEPTH, over[:, 1] - DEPTH
    change = first / np.where(first == last, 1.0, first - last)
    low = np.where(first > 0.0, 0.0, change)
    high = np.where(last > 0.0, 1.0, change)
    return low, high


def hidden_points(points: FloatArray, faces: Covers) -> BoolArray:
    """(n,) True for points (n, 3) that a face hides."""
    found = np.zeros(len(points), dtype=np.bool_)
    if len(faces.areas) and len(points):
        own, face = shapely.STRtree(faces.areas).query(shapely.points(points[:, :2]), predicate="intersects")
        found[own[_over(faces, face, points[own]) > DEPTH]] = True
    return found
