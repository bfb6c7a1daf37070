"""A flat face of a blank or of a leg, formed and placed: from the drawing into the body, and back."""

from dataclasses import dataclass

import numpy as np

from fabplan.geom.cone import Cone, to_cone, to_sector
from fabplan.geom.forming import Formed, to_blank, to_space
from fabplan.geom.pose import to_outer, to_own, turned
from fabplan.geom.ring import Ring, to_ring, to_straight
from fabplan.model.arrays import BoolArray, FloatArray
from fabplan.model.pose import Pose

STEPS = 6  # of the search for the place where an axis meets the middle of a ply; flat and coaxial ones take one
SAME = 1e-7  # mm by which a place may miss itself there and back
SQUARE = 0.9998  # cosine of 1.1 degrees: axes further off square take no rivet


@dataclass(frozen=True, slots=True, eq=False)
class BentLeg:
    """A leg of a bent bar: the ring, and the frame of the leg's panel on the straight bar."""

    ring: Ring
    frame: Pose


@dataclass(frozen=True, slots=True, eq=False)
class Surface:
    """Where a blank, or a leg of a bar, goes in the body.

    Attributes:
        shape: the frame of a flat panel in its piece; or how the blank is formed.
        pose: of the piece in the body.
        thickness: mm; the marked face is z = 0, metal lies down to -thickness.
    """

    shape: Pose | Formed | Cone | BentLeg
    pose: Pose
    thickness: float


def to_body(surface: Surface, xy: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Where places of a blank go: (n, 3), mm, and normals (n, 3) off the marked face, body frame.

    Args:
        surface: the face.
        xy: (n, 2) on the drawing or the leg, mm.
        z: (n,) over the marked face, mm; negative in the metal.
    """
    place, normal = _in_piece(surface.shape, xy, z)
    return to_outer(surface.pose, place), turned(surface.pose, normal)


def _in_piece(shape: Pose | Formed | Cone | BentLeg, xy: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    flat = np.column_stack([xy, z])
    if isinstance(shape, Formed):
        return to_space(shape, xy, z)
    if isinstance(shape, Cone):
        return to_cone(shape, flat)
    if isinstance(shape, Pose):
        return to_outer(shape, flat), np.tile(shape.rotation[:, 2], (len(xy), 1))
    place, above = (
        to_ring(shape.ring, to_outer(shape.frame, flat + up)) for up in (np.zeros(3), np.array([0.0, 0.0, 1.0]))
    )
    return place, above - place


def to_flat(surface: Surface, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Back from the body to the blank: (n, 2) mm, and (n,) over the marked face."""
    own = to_own(surface.pose, places)
    shape = surface.shape
    if isinstance(shape, Formed):
        xy, z, _ = to_blank(shape, own)
        return xy, z
    if isinstance(shape, Cone):
        flat = to_sector(shape, own)
    elif isinstance(shape, Pose):
        flat = to_own(shape, own)
    else:
        flat = to_own(shape.frame, to_straight(shape.ring, own))
    return flat[:, :2], flat[:, 2]


def along_axes(surface: Surface, points: FloatArray, axes: FloatArray) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Where axes meet the middle of a ply.

    Args:
        surface: of the ply.
        points: (n, 3) on the axes, near the ply, mm.
        axes: (n, 3) unit vectors.

    Returns:
        (n, 2) on its blank, (n,) how far along the axis its middle lies from the point, mm, and (n,) whether the axis
        meets it square; the blank is taken as going on beyond its edges.
    """
    along = np.zeros(len(points))
    middle = -surface.thickness / 2.0
    for _ in range(STEPS):
        xy, z = to_flat(surface, points + along[:, None] * axes)
        place, normal = to_body(surface, xy, z)
        cosine = np.einsum("ij,ij->i", normal, axes)
        off = np.where(np.abs(cosine) > 0.5, (middle - z) / np.where(np.abs(cosine) > 0.5, cosine, 1.0), 0.0)
        along = along + off
        if not np.any(np.abs(off) > SAME):
            break
    back = np.linalg.norm(place - points - (along - off)[:, None] * axes, axis=1)
    square: BoolArray = (np.abs(cosine) >= SQUARE) & (back <= 1e-6) & (np.abs(off) <= SAME)
    return xy, along, square
