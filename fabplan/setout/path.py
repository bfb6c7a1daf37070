"""The line on a blank along which a row is laid: straight, with corners, or a circle; and lines beside it."""

from dataclasses import dataclass

import numpy as np

from fabplan.model.arrays import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """A line on a blank.

    Attributes:
        corners: (k, 2) from its beginning to its end, mm; of a circle its centre alone.
        radius: of a circle, which runs counter-clockwise from the right; 0 for lines.
    """

    corners: FloatArray
    radius: float = 0.0

    @property
    def stops(self) -> FloatArray:
        """(k,) how far along it its corners lie, mm; of a circle 0 and its whole length."""
        if self.radius:
            return np.array([0.0, 2.0 * np.pi * self.radius])
        return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(self.corners, axis=0), axis=1))])

    @property
    def length(self) -> float:
        """Mm."""
        return float(self.stops[-1])

    def places(self, s: FloatArray, off: float = 0.0) -> FloatArray:
        """Places (n, 2) at lengths (n,) along it, `off` mm to its left; past its ends it goes on straight."""
        if self.radius:
            turn = s / self.radius
            ring: FloatArray = self.corners[0] + (self.radius - off) * np.column_stack([np.cos(turn), np.sin(turn)])
            return ring
        stops = self.stops
        k = np.clip(np.searchsorted(stops, s, side="right") - 1, 0, len(stops) - 2)
        way = np.diff(self.corners, axis=0) / np.diff(stops)[:, None]
        left = np.column_stack([-way[:, 1], way[:, 0]])
        places: FloatArray = self.corners[k] + (s - stops[k])[:, None] * way[k] + off * left[k]
        return places

    def along(self, xy: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far along it places (n, 2) lie, and how far to its left, mm: (n,) and (n,)."""
        if self.radius:
            away = xy - self.corners[0]
            turn = np.mod(np.arctan2(away[:, 1], away[:, 0]), 2.0 * np.pi)
            return turn * self.radius, self.radius - np.linalg.norm(away, axis=1)
        stops = self.stops
        way = np.diff(self.corners, axis=0) / np.diff(stops)[:, None]
        from_corner = xy[:, None] - self.corners[:-1]
        s = np.einsum("nkx,kx->nk", from_corner, way)
        off = from_corner[:, :, 1] * way[:, 0] - from_corner[:, :, 0] * way[:, 1]
        beyond = np.maximum(np.maximum(-s, s - np.diff(stops)), 0.0)
        k = np.argmin(np.hypot(off, beyond), axis=1)
        rows = np.arange(len(xy))
        return s[rows, k] + stops[k], off[rows, k]
