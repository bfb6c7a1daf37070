"""Lines through faces, in the plane of each: where the metal on a line begins, and where it ends."""

import numpy as np
import shapely
from numpy.typing import NDArray

from fabplan.model.arrays import FloatArray, IntArray

NIL = 1e-9  # mm off an edge or an end that count as on it


def chords(
    faces: NDArray[np.object_], face: IntArray, feet: FloatArray, ways: FloatArray, ends: tuple[FloatArray, FloatArray]
) -> tuple[FloatArray, FloatArray]:
    """Where the first and the last of a face lies on lines (q,), in lengths of their ways; inf and -inf for none.

    Args:
        faces: polygons.
        face: (q,) which of them each line runs in.
        feet: (q, 2) a point of each line.
        ways: (q, 2) along each line.
        ends: (q,) where each line begins and where it ends; may be infinite.
    """
    line, begin, edges = _edges(faces, face)
    size, (low, high) = np.hypot(ways[:, 0], ways[:, 1]), ends
    unit, foot = (ways / size[:, None])[line], feet[line]
    (off, at), (off_end, at_end) = (_seen_from(points - foot, unit) for points in edges)
    share = np.clip(off / np.where(off == off_end, 1.0, off - off_end), 0.0, 1.0)
    cross, length = at + share * (at_end - at), size[line]
    along = np.maximum(np.abs(off), np.abs(off_end)) <= NIL  # the line runs in the edge
    first = np.where(along, np.minimum(at, at_end), cross) / length
    last = np.where(along, np.maximum(at, at_end), cross) / length
    met = (np.minimum(off, off_end) <= NIL) & (np.maximum(off, off_end) >= -NIL)
    met &= (last >= low[line] - NIL) & (first <= high[line] + NIL)
    near = np.maximum(np.minimum.reduceat(np.where(met, first, np.inf), begin), low)
    far = np.minimum(np.maximum.reduceat(np.where(met, last, -np.inf), begin), high)
    crossed = (off > 0.0) != (off_end > 0.0)
    for end in ends:  # it lies in the face where an odd number of edges lies beyond it
        inside = np.add.reduceat(crossed & (first > end[line]), begin, dtype=np.int64) % 2 == 1
        near, far = np.where(inside, np.minimum(near, end), near), np.where(inside, np.maximum(far, end), far)
    return near, far


def _edges(faces: NDArray[np.object_], face: IntArray) -> tuple[IntArray, IntArray, tuple[FloatArray, FloatArray]]:
    """Each line with all edges of its face: the line (e,), the first edge of each line (q,), the edges' ends (e, 2)."""
    rings, of = shapely.get_rings(faces, return_index=True)
    points, ring = shapely.get_coordinates(rings, return_index=True)
    edge = np.nonzero(ring[1:] == ring[:-1])[0]
    count = np.bincount(of[ring[edge]], minlength=len(faces))
    number, first = count[face], (np.cumsum(count) - count)[face]
    begin = np.cumsum(number) - number
    line = np.repeat(np.arange(len(face)), number)
    own = edge[np.arange(len(line)) + (first - begin)[line]]
    return line, begin, (points[own], points[own + 1])


def _seen_from(points: FloatArray, unit: FloatArray) -> tuple[FloatArray, FloatArray]:
    """How far points (n, 2) lie to the left of directions (n, 2), and how far along them."""
    return unit[:, 0] * points[:, 1] - unit[:, 1] * points[:, 0], np.einsum("ij,ij->i", points, unit)
