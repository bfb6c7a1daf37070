"""Room for the heads of the rivets over both outer faces of a seam that is to be set out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fabplan.geom.over_face import face_frame, fouled
from fabplan.geom.prism import Solid
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.setout.ply import Meeting


@dataclass(frozen=True, slots=True, eq=False)
class Heads:
    """The heads of one seam's rivets, and the metal that may stand in their way.

    Attributes:
        forms: diameter and height of the made head and of the point, mm; None for one that needs no room.
        share, plus: room that ordinary snaps and dollies want from an upstand: a share of the head's diameter, and mm.
        metal: pieces and their panels, those left out that bear the heads and their own rounds.
    """

    forms: tuple[tuple[float, float] | None, tuple[float, float] | None]
    share: float
    plus: float
    metal: Sequence[tuple[str, Solid]]

    def in_way(self, met: Meeting, *, ordinary: bool) -> Iterator[tuple[BoolArray, str]]:
        """Where heads find no room, (n,), and the piece that stands there.

        Args:
            met: where the axes meet the plies.
            ordinary: True asks for the room of ordinary tools, else that of the bare head.
        """
        for end, (form, side) in enumerate(zip(self.forms, (-1.0, 1.0), strict=True)):
            if form is None:
                continue
            wide = max(2.0 * (self.share * form[0] + self.plus), form[0]) if ordinary else form[0]
            yield from self._fouled(met.faces[:, end], side * met.axis, (wide, form[1]))

    def _fouled(
        self, points: FloatArray, outward: FloatArray, head: tuple[float, float]
    ) -> Iterator[tuple[BoolArray, str]]:
        reach = max(head)
        low, high = points.min(axis=0) - reach, points.max(axis=0) + reach
        near = [
            (mark, one)
            for mark, one in self.metal
            if np.all(one.corners.min(axis=0) <= high) and np.all(one.corners.max(axis=0) >= low)
        ]
        if not near:
            return
        level = np.einsum("ij,ij->i", points, outward)
        planes = np.column_stack([np.round(outward, 3), np.round(level, 1)]) + 0.0
        _, label = np.unique(planes, axis=0, return_inverse=True)
        found: dict[str, BoolArray] = {}
        for number in range(int(label.max()) + 1):
            own = np.nonzero(label.ravel() == number)[0]
            frame = face_frame(points[own[0]], outward[own[0]])
            box = points[own].min(axis=0) - reach, points[own].max(axis=0) + reach
            for mark, one in near:
                if np.all(one.corners.min(axis=0) <= box[1]) and np.all(one.corners.max(axis=0) >= box[0]):
                    struck = fouled(frame, points[own], head, one)
                    if struck.any():
                        found.setdefault(mark, np.zeros(len(points), dtype=np.bool_))[own[struck]] = True
        yield from ((where, f"{mark} stands where a head or its tool must be") for mark, where in found.items())
