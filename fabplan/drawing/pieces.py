"""Entities of the model space as pieces of line: vertices, bulges, closed or not; what can be no piece, with why."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from fabplan.drawing.source import UNITS
from fabplan.geom.tolerance import CHORD, JOIN
from fabplan.model.arrays import FloatArray

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

LINES = frozenset({"LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE"})
TEXTS = frozenset({"TEXT", "MTEXT", "ATTDEF", "ATTRIB"})
DIMENSIONS = frozenset({"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "TOLERANCE"})
FILLS = frozenset({"HATCH", "MPOLYGON", "POINT", "WIPEOUT", "IMAGE", "VIEWPORT", "XLINE", "RAY"})
MOST = 50_000  # pieces that blocks may give one drawing: nested ones can multiply without end
INCH, _UP = 25.4, (0.0, 0.0, 1.0)
DEEPEST = 20  # blocks within blocks; one that holds itself has no end


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One entity, or one part of an exploded block.

    Attributes:
        handle: of the entity, or of the INSERT that shows it.
        kind: DXF type.
        entity: DXF type of the entity of the model space that shows it: INSERT for a part of a block.
        layer: layer name; that of the INSERT where the block leaves it open (layer 0).
        points: (n, 2) in drawing units.
        bulges: (n,) one a span; the last counts only when closed.
        closed: True for a closed line.
        error: distance of chords from the curve, drawing units, 0 when exact.
        level: height over the drawing's plane, drawing units.
        trouble: "" or the name of the check that this piece fails.
        text: what a text says.
        height: of a text.
    """

    handle: str
    kind: str
    layer: str
    points: FloatArray
    bulges: FloatArray
    closed: bool = False
    error: float = 0.0
    level: float = 0.0
    trouble: str = ""
    text: str = ""
    height: float = 0.0
    entity: str = ""


def pieces(document: "Document", unit: float | None) -> Iterator[list[Piece]]:
    """The pieces of each entity of the model space, one list an entity (a block gives several).

    Args:
        document: the opened file.
        unit: mm per drawing unit by the header, None where it is silent: chords then suit a drawing in inches.
    """
    left = MOST
    for entity in document.modelspace():
        kind, handle, layer = entity.dxftype(), str(entity.dxf.get("handle") or ""), _layer(entity)
        if kind == "INSERT":
            own = _of_block(entity, handle, layer, unit, left)
            left -= len(own)
        else:
            own = [_piece(entity, handle, layer, unit)]
        yield [replace(piece, entity=kind) for piece in own]


def _layer(entity: Any) -> str:
    return str(_attribute(entity, "layer", "0"))


def _of_block(insert: Any, handle: str, layer: str, unit: float | None, most: int) -> list[Piece]:
    """The pieces that a block shows; one piece with its trouble where it is missing, too large or in another unit."""
    odd = [_odd(handle, "INSERT", layer, "unsupported-entity")]
    if unit is not None and _other_unit(insert, unit):
        return [_odd(handle, "INSERT", layer, "units-in-doubt")]
    found: list[Piece] = []
    try:
        for part, on in _parts(insert, layer, DEEPEST):
            found.append(_piece(part, handle, on, unit))
            if len(found) > most:
                return odd
    except Exception:  # blocks that hold themselves, missing blocks, absurd scales
        return odd
    return found or odd


def _other_unit(insert: Any, unit: float) -> bool:
    """True where a block is drawn in another unit than the file: no reader scales it alike."""
    block = insert.block()
    own = UNITS.get(int(block.units)) if block is not None else None
    return own not in (None, unit)


def _parts(insert: Any, layer: str, deep: int) -> Iterator[tuple[Any, str]]:
    """The entities that a block shows, each with its layer: where it has none of its own (0) that of the insert."""
    if deep == 0:
        raise RecursionError("blocks within blocks without end")
    yield from ((text, _layer(text)) for text in insert.attribs)
    for one in insert.multi_insert() if insert.mcount > 1 else (insert,):
        for part in one.virtual_entities():
            own = _layer(part)
            on = layer if own == "0" else own
            if part.dxftype() == "INSERT":
                yield from _parts(part, on, deep - 1)
            else:
                yield part, on


def _odd(handle: str, kind: str, layer: str, trouble: str) -> Piece:
    return Piece(handle, kind, layer, np.zeros((0, 2)), np.zeros(0), trouble=trouble)


def _piece(entity: Any, handle: str, layer: str, unit: float | None) -> Piece:
    kind = entity.dxftype()
    if kind in TEXTS:
        return _text(entity, handle, layer)
    if kind in DIMENSIONS or kind in FILLS:
        return Piece(handle, kind, layer, np.zeros((0, 2)), np.zeros(0))
    if kind not in LINES:
        return _odd(handle, kind, layer, "unsupported-entity")
    try:
        points, bulges, closed, error = _curve(entity, unit)
    except Exception:  # a curve too damaged to evaluate
        return _odd(handle, kind, layer, "unsupported-entity")
    if not (np.isfinite(points).all() and np.isfinite(bulges).all()):
        return _odd(handle, kind, layer, "bad-coordinates")
    if len(points) == 0 or not _attribute(entity, "radius", 1.0) > 0.0:
        return _odd(handle, kind, layer, "zero-length")
    lies = np.ptp(points[:, 2]) <= JOIN / (unit or 1.0) and _upright(entity)
    level = float(points[0, 2])
    return Piece(handle, kind, layer, points[:, :2], bulges, closed, error, level, "" if lies else "not-flat")


def _curve(entity: Any, unit: float | None) -> "_Read":
    if _attribute(entity, "extrusion", _UP)[2] < 0.0:
        from ezdxf import upright

        upright.upright(entity)
    kind = entity.dxftype()
    if kind in ("SPLINE", "ELLIPSE"):
        chord = CHORD / (unit or INCH)
        return _ellipse(entity, chord) if kind == "ELLIPSE" else _flattened(entity, chord)
    points, bulges, closed = _READERS[kind](entity)
    return points, bulges, closed, 0.0


def _upright(entity: Any) -> bool:
    return bool(abs(_attribute(entity, "extrusion", _UP)[2]) > 1.0 - 1e-9)


def _attribute(entity: Any, name: str, default: Any) -> Any:
    return entity.dxf.get(name, default) if entity.dxf.is_supported(name) else default


def _text(entity: Any, handle: str, layer: str) -> Piece:
    raw = entity.plain_text() if hasattr(entity, "plain_text") else str(entity.dxf.get("text", ""))
    at = entity.dxf.get("insert", (0.0, 0.0, 0.0))
    height = float(entity.dxf.get("char_height" if entity.dxftype() == "MTEXT" else "height", 2.5))
    words = " ".join(str(raw).split())
    points = np.array([[float(at[0]), float(at[1])]])
    return Piece(handle, entity.dxftype(), layer, points, np.zeros(1), text=words, height=height)


_Line = tuple[FloatArray, FloatArray, bool]  # points (n, 3), bulges (n,), closed
_Read = tuple[FloatArray, FloatArray, bool, float]  # the same, and the chord error


def _line(entity: Any) -> _Line:
    return np.array([entity.dxf.start.xyz, entity.dxf.end.xyz]), np.zeros(2), False


def _circle(entity: Any) -> _Line:
    x, y, z = entity.dxf.center.xyz
    r = float(entity.dxf.radius)
    return np.array([[x + r, y, z], [x - r, y, z]]), np.array([1.0, 1.0]), True


def _arc(entity: Any) -> _Line:
    start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    turn = (end - start) % math.tau
    if min(turn, math.tau - turn) < 1e-9 and abs(end - start) > 1.0:  # from 0 to 360 degrees
        return _circle(entity)
    x, y, z = entity.dxf.center.xyz
    r = float(entity.dxf.radius)
    steps = _steps(turn)
    angles = [start + turn * k / steps for k in range(steps + 1)]
    ends = [[x + r * math.cos(angle), y + r * math.sin(angle), z] for angle in angles]
    return np.array(ends), _bulges(turn, steps), False


def _steps(turn: float) -> int:
    """Spans for an arc: one up to half a turn, else two, so that no bulge grows without end."""
    return 1 if turn <= math.pi + 1e-9 else 2


def _bulges(turn: float, steps: int) -> FloatArray:
    return np.array([*[math.tan(turn / steps / 4.0)] * steps, 0.0])


def _lwpolyline(entity: Any) -> _Line:
    rows = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
    level = np.full((len(rows), 1), float(entity.dxf.get("elevation", 0.0)))
    return _joined(np.hstack([rows[:, :2], level]), rows[:, 2], bool(entity.closed))


def _polyline(entity: Any) -> _Line:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise ValueError("a mesh is no line")
    rows = [(*vertex.dxf.location.xyz, float(vertex.dxf.get("bulge", 0.0))) for vertex in entity.vertices]
    table = np.array(rows, dtype=np.float64).reshape(-1, 4)
    return _joined(table[:, :3], table[:, 3], bool(entity.is_closed))


def _joined(points: FloatArray, bulges: FloatArray, closed: bool) -> _Line:
    """A polyline that returns to its first point is closed, whether its flag says so or not."""
    if len(points) > 2 and np.linalg.norm(points[0] - points[-1]) < 1e-9:
        return points[:-1], bulges[:-1], True
    return points, bulges, closed and len(points) > 1


def _flattened(entity: Any, chord: float) -> _Read:
    points = np.array([p.xyz for p in entity.flattening(chord)], dtype=np.float64).reshape(-1, 3)
    return *_joined(points, np.zeros(len(points)), False), chord


def _ellipse(entity: Any, chord: float) -> _Read:
    """An ellipse with equal axes is a circle or an arc, exactly; another is chords."""
    if abs(float(entity.dxf.ratio) - 1.0) > 1e-9:
        return _flattened(entity, chord)
    tool = entity.construction_tool()
    turn = (tool.end_param - tool.start_param) % math.tau
    if turn < 1e-9:
        middle = tool.start_param + math.pi
        points = np.array([p.xyz for p in tool.vertices([tool.start_param, middle])])
        return points, np.array([1.0, 1.0]), True, 0.0
    steps = _steps(turn)
    points = np.array([p.xyz for p in tool.vertices([tool.start_param + turn * k / steps for k in range(steps + 1)])])
    return points, _bulges(turn, steps), False, 0.0


_READERS: dict[str, Any] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
