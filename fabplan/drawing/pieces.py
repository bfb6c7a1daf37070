"""Entities of the model space as pieces of line: vertices, bulges, closed or not; what can be no piece, with why."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from fabplan.geom.tolerance import CHORD, JOIN
from fabplan.model.arrays import FloatArray

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

LINES = frozenset({"LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE"})
TEXTS = frozenset({"TEXT", "MTEXT", "ATTDEF", "ATTRIB"})
DIMENSIONS = frozenset({"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "TOLERANCE"})
FILLS = frozenset({"HATCH", "MPOLYGON", "POINT", "WIPEOUT", "IMAGE", "VIEWPORT", "XLINE", "RAY"})
MOST = 200_000  # pieces of one drawing; nested blocks can multiply without end


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One entity, or one part of an exploded block.

    Attributes:
        handle: of the entity, or of the INSERT that shows it.
        kind: DXF type.
        layer: layer name; that of the INSERT where the block leaves it open (layer 0).
        points: (n, 2) in drawing units.
        bulges: (n,) one a span; the last counts only when closed.
        closed: True for a closed line.
        error: distance of chords from the curve, drawing units, 0 when exact.
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
    trouble: str = ""
    text: str = ""
    height: float = 0.0


def pieces(document: "Document") -> Iterator[list[Piece]]:
    """The pieces of each entity of the model space, one list an entity (a block gives several)."""
    from ezdxf import upright

    total = 0
    for entity in document.modelspace():
        handle, layer = str(entity.dxf.get("handle") or ""), _layer(entity)
        if entity.dxftype() == "INSERT":
            own = [piece for part in _exploded(entity) for piece in [_piece(part, handle, _inherited(part, layer))]]
        else:
            upright.upright(entity)
            own = [_piece(entity, handle, layer)]
        total += len(own)
        if total > MOST:
            own = [_odd(handle, entity.dxftype(), layer, "unsupported-entity")]
        yield own or [_odd(handle, entity.dxftype(), layer, "unsupported-entity")]


def _layer(entity: Any) -> str:
    return str(entity.dxf.get("layer", "0")) if entity.dxf.is_supported("layer") else "0"


def _inherited(entity: Any, layer: str) -> str:
    own = _layer(entity)
    return layer if own == "0" else own


def _exploded(insert: Any) -> list[Any]:
    from ezdxf import disassemble, upright

    found: list[Any] = []
    try:
        for part in disassemble.recursive_decompose([insert]):
            found.append(part)
            if len(found) > MOST:
                return []
    except Exception:  # cyclic blocks, missing blocks, absurd scales: the INSERT is reported as a whole
        return []
    upright.upright_all(found)
    return found


def _odd(handle: str, kind: str, layer: str, trouble: str) -> Piece:
    return Piece(handle, kind, layer, np.zeros((0, 2)), np.zeros(0), trouble=trouble)


def _piece(entity: Any, handle: str, layer: str) -> Piece:
    kind = entity.dxftype()
    if kind in TEXTS:
        return _text(entity, handle, layer)
    if kind in DIMENSIONS or kind in FILLS:
        return Piece(handle, kind, layer, np.zeros((0, 2)), np.zeros(0))
    if kind not in LINES:
        return _odd(handle, kind, layer, "unsupported-entity")
    try:
        points, bulges, closed, error = _READERS[kind](entity)
    except Exception:  # a curve too damaged to evaluate
        return _odd(handle, kind, layer, "unsupported-entity")
    if not (np.isfinite(points).all() and np.isfinite(bulges).all()):
        return _odd(handle, kind, layer, "bad-coordinates")
    if np.ptp(points[:, 2]) > JOIN or not _upright(entity):
        return Piece(handle, kind, layer, points[:, :2], bulges, closed, error, "not-flat")
    return Piece(handle, kind, layer, points[:, :2], bulges, closed, error)


def _upright(entity: Any) -> bool:
    return bool(abs(entity.dxf.get("extrusion", (0.0, 0.0, 1.0))[2]) > 1.0 - 1e-9)


def _text(entity: Any, handle: str, layer: str) -> Piece:
    raw = entity.plain_text() if hasattr(entity, "plain_text") else str(entity.dxf.get("text", ""))
    at = entity.dxf.get("insert", (0.0, 0.0, 0.0))
    height = float(entity.dxf.get("char_height" if entity.dxftype() == "MTEXT" else "height", 2.5))
    words = " ".join(str(raw).split())
    points = np.array([[float(at[0]), float(at[1])]])
    return Piece(handle, entity.dxftype(), layer, points, np.zeros(1), text=words, height=height)


_Read = tuple[FloatArray, FloatArray, bool, float]


def _line(entity: Any) -> _Read:
    return np.array([entity.dxf.start.xyz, entity.dxf.end.xyz]), np.zeros(2), False, 0.0


def _circle(entity: Any) -> _Read:
    x, y, z = entity.dxf.center.xyz
    r = float(entity.dxf.radius)
    return np.array([[x + r, y, z], [x - r, y, z]]), np.array([1.0, 1.0]), True, 0.0


def _arc(entity: Any) -> _Read:
    start, end = math.radians(entity.dxf.start_angle), math.radians(entity.dxf.end_angle)
    turn = (end - start) % (2.0 * math.pi)
    x, y, z = entity.dxf.center.xyz
    r = float(entity.dxf.radius)
    if turn < 1e-12:  # an arc from an angle back to itself is drawn as a full circle by no reader alike
        return np.array([[x + r, y, z]] * 2), np.zeros(2), False, 0.0
    ends = [[x + r * math.cos(a), y + r * math.sin(a), z] for a in (start, end)]
    return np.array(ends), np.array([math.tan(turn / 4.0), 0.0]), False, 0.0


def _lwpolyline(entity: Any) -> _Read:
    rows = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
    level = np.full((len(rows), 1), float(entity.dxf.get("elevation", 0.0)))
    return _joined(np.hstack([rows[:, :2], level]), rows[:, 2], bool(entity.closed))


def _polyline(entity: Any) -> _Read:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise ValueError("a mesh is no line")
    rows = [(*vertex.dxf.location.xyz, float(vertex.dxf.get("bulge", 0.0))) for vertex in entity.vertices]
    table = np.array(rows, dtype=np.float64).reshape(-1, 4)
    return _joined(table[:, :3], table[:, 3], bool(entity.is_closed))


def _joined(points: FloatArray, bulges: FloatArray, closed: bool) -> _Read:
    """A polyline that returns to its first point is closed, whether its flag says so or not."""
    if len(points) > 2 and np.linalg.norm(points[0] - points[-1]) < 1e-9:
        return points[:-1], bulges[:-1], True, 0.0
    return points, bulges, closed and len(points) > 1, 0.0


def _spline(entity: Any) -> _Read:
    points = np.array([p.xyz for p in entity.flattening(CHORD)], dtype=np.float64)
    joined = _joined(points, np.zeros(len(points)), False)
    return joined[0], joined[1], joined[2], CHORD


def _ellipse(entity: Any) -> _Read:
    if abs(float(entity.dxf.ratio) - 1.0) < 1e-9:
        return _round_ellipse(entity)
    points = np.array([p.xyz for p in entity.flattening(CHORD)], dtype=np.float64)
    joined = _joined(points, np.zeros(len(points)), False)
    return joined[0], joined[1], joined[2], CHORD


def _round_ellipse(entity: Any) -> _Read:
    """An ellipse with equal axes is a circle or an arc, exactly."""
    tool = entity.construction_tool()
    start, end = list(tool.vertices([tool.start_param, tool.end_param]))
    turn = (tool.end_param - tool.start_param) % (2.0 * math.pi)
    x, y, z = tool.center.xyz
    if turn < 1e-9:
        r = float(tool.major_axis.magnitude)
        return np.array([[x + r, y, z], [x - r, y, z]]), np.array([1.0, 1.0]), True, 0.0
    return np.array([start.xyz, end.xyz]), np.array([math.tan(turn / 4.0), 0.0]), False, 0.0


_READERS: dict[str, Any] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
    "SPLINE": _spline,
    "ELLIPSE": _ellipse,
}


def extent(found: Sequence[Piece]) -> FloatArray:
    """All points (n, 2) of pieces that are lines."""
    points = [piece.points for piece in found if piece.kind in LINES and len(piece.points)]
    return np.vstack(points) if points else np.zeros((0, 2))
