"""Entities of blocks carried to where they stand.

Each is carried once, by the product of all that the inserts on its way do to it: carried insert by insert, a turned
block within an unevenly scaled one, and the spaces of an array within a scaled or mirrored one, come out wrong.
"""

from collections.abc import Iterator
from typing import Any

import numpy as np

FIT = 1e-9  # share by which two scales may differ and count as one
ROUND, LINED = ("CIRCLE", "ARC"), ("LWPOLYLINE", "POLYLINE")


def singles(insert: Any) -> Iterator[Any]:
    """The inserts of which an array consists; of any other the insert itself."""
    yield from insert.multi_insert() if insert.mcount > 1 else (insert,)


def carried(entity: Any, by: Any) -> Iterator[tuple[Any, bool]]:
    """An entity where a matrix carries it, True for one that cannot be carried and is given as it stands.

    Args:
        entity: of a block, as the block has it.
        by: 4x4 matrix of ezdxf, from the block to the drawing.
    """
    from ezdxf.entities.copy import CopyNotSupported

    try:
        moved = entity.copy()
    except CopyNotSupported:
        inner = list(entity.virtual_entities()) if hasattr(entity, "virtual_entities") else []
        for one in inner:
            yield from carried(one, by)
        if not inner:
            yield entity, True
        return
    uneven = not _even(by)
    if uneven and moved.dxftype() in LINED and moved.has_arc:
        for span in moved.virtual_entities():
            yield from carried(span, by)
        return
    if uneven and moved.dxftype() in ROUND and abs(moved.dxf.radius) > 0.0:
        from ezdxf.entities.ellipse import Ellipse

        moved = Ellipse.from_arc(moved)
    yield _moved(moved, entity, by)


def _moved(moved: Any, entity: Any, by: Any) -> tuple[Any, bool]:
    from ezdxf.math.transformtools import TransformError

    try:
        moved.transform(by)
    except (NotImplementedError, TransformError):
        # ezdxf raises one for a kind that it has no transformation of, the other for a scale that the kind cannot take;
        # both mean that the entity stays where the block has it, and the caller reports it as not carried
        return entity, True
    return moved, False


def _even(by: Any) -> bool:
    """True where a circle that lies flat stays one: both axes of the plane grow alike and stay square."""
    ux, uy = (np.array(by.transform_direction(axis).xyz) for axis in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)))
    long, wide = float(np.linalg.norm(ux)), float(np.linalg.norm(uy))
    return abs(long - wide) <= FIT * max(long, wide) and abs(float(ux @ uy)) <= FIT * long * wide
