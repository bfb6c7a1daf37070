"""The line of one entity: its vertices with their heights, bulges, whether it closes, and the error of its chords."""

import math
from typing import Any

import numpy as np

from fabplan.geom.tolerance import CHORD
from fabplan.model.arrays import FloatArray

FAR = 1e10  # drawing units from the origin, beyond which doubles no longer part a tenth of `JOIN`
FINEST = 1e-8  # chords of a curve lie no closer to it than this share of its size: finer ones would be millions
MOST = 200_000  # chords of one curve, about
STEEPEST = 25  # degree of a spline; drawn ones have 2 to 5
INCH, UP = 25.4, (0.0, 0.0, 1.0)

_Line = tuple[FloatArray, FloatArray, bool]  # points (n, 3), bulges (n,), closed
_Read = tuple[FloatArray, FloatArray, bool, float]  # the same, and the chord error


def curve(entity: Any, unit: float | None) -> "_Read":
    """The line of an entity; `unit` is mm per drawing unit by the header, None where it is silent.

    A curve too damaged to be worked out raises what ezdxf raises.
    """
    kind = entity.dxftype()
    if kind in ("SPLINE", "ELLIPSE"):  # placed in space as they stand, whatever way they are extruded
        places = _places(entity)
        reach = float(np.abs(places).max(initial=0.0))
        if not reach <= FAR:  # chords of it would be without number
            return np.full((1, 3), reach), np.zeros(1), False, 0.0
        chord = max(CHORD / (unit or INCH), FINEST * reach, _coarse(places))
        return _ellipse(entity, chord) if kind == "ELLIPSE" else _flattened(entity, chord)
    if attribute(entity, "extrusion", UP)[2] < 0.0:
        from ezdxf import upright

        upright.upright(entity)
    points, bulges, closed = _READERS[kind](entity)
    return points, bulges, closed, 0.0


def _coarse(places: FloatArray) -> float:
    """The distance of chords from a curve through places (n, 3) at which about `MOST` of them make it up.

    A stretch of length l takes about the square root of l over 8 times that distance.
    """
    stretches = max(len(places) - 1, 1)
    length = float(np.linalg.norm(np.diff(places, axis=0), axis=1).sum()) / stretches
    return length * (stretches / MOST) ** 2 / 8.0


def _places(entity: Any) -> FloatArray:
    """The points (n, 3) that hold a spline or ellipse.

    Raises:
        ValueError: its degree is so high that it cannot be worked out in bounded time.
    """
    if entity.dxftype() == "ELLIPSE":
        places = [entity.dxf.center.xyz, entity.dxf.major_axis.xyz]
    else:
        places = [*entity.control_points, *entity.fit_points]
    if attribute(entity, "degree", 3) > STEEPEST:
        raise ValueError("too steep a curve")
    return np.array(places, dtype=np.float64).reshape(-1, 3)


def attribute(entity: Any, name: str, default: Any) -> Any:
    """An attribute of an entity, the default where its kind has none such or it is not stated."""
    return vars(entity.dxf).get(name, default)  # asked of each entity several times: the namespace itself is slow


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


def plain_curves(kind: str, figures: FloatArray) -> tuple[list[FloatArray], list[FloatArray]]:
    """Points and bulges of many entities of a kind, each as `curve` gives those of one, to the last bit.

    Args:
        kind: LINE, CIRCLE or ARC.
        figures: (n, k) by `plain.Plain`; an arc goes not all the way round.
    """
    count = len(figures)
    if kind == "LINE":
        return list(figures[:, [0, 1, 3, 4]].reshape(-1, 2, 2)), [np.zeros(2)] * count
    x, y, r = figures[:, 0], figures[:, 1], figures[:, 3]
    if kind == "CIRCLE":
        return list(np.column_stack([x + r, y, x - r, y]).reshape(-1, 2, 2)), [np.ones(2)] * count
    start, end = figures[:, 4] * (math.pi / 180.0), figures[:, 5] * (math.pi / 180.0)
    turn = np.mod(end - start, math.tau)
    steps = np.where(turn <= math.pi + 1e-9, 1, 2)
    angles = [(start + turn * k / steps).tolist() for k in range(3)]
    # of the library of C, as one by one: numpy's own sines differ from it in the last bit
    places = [np.column_stack([x + r * [*map(math.cos, own)], y + r * [*map(math.sin, own)]]) for own in angles]
    bulge = np.array([*map(math.tan, (turn / steps / 4.0).tolist())])
    points, bulges = np.stack(places, axis=1), np.column_stack([bulge, bulge * (steps - 1), np.zeros(count)])
    cut = (steps + 1).tolist()
    return [p[:k] for p, k in zip(points, cut, strict=True)], [b[:k] for b, k in zip(bulges, cut, strict=True)]


def _steps(turn: float) -> int:
    """Spans for an arc: one up to half a turn, else two, so that no bulge grows without end."""
    return 1 if turn <= math.pi + 1e-9 else 2


def _bulges(turn: float, steps: int) -> FloatArray:
    return np.array([*[math.tan(turn / steps / 4.0)] * steps, 0.0])


def _lwpolyline(entity: Any) -> _Line:
    rows = np.array(entity.get_points("xyb"), dtype=np.float64).reshape(-1, 3)
    level = np.full((len(rows), 1), float(entity.dxf.get("elevation", 0.0)))
    return _joined(np.hstack([rows[:, :2], level]), rows[:, 2], bool(entity.closed))


_FRAME = 16  # flag of a vertex that only steers a smoothed polyline (DXF reference, VERTEX, group 70)


def _polyline(entity: Any) -> _Line:
    if entity.is_poly_face_mesh or entity.is_polygon_mesh:
        raise ValueError("a mesh is no line")
    rows = [
        (*vertex.dxf.location.xyz, float(vertex.dxf.get("bulge", 0.0)))
        for vertex in entity.vertices
        if not int(vertex.dxf.get("flags", 0)) & _FRAME
    ]
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
    way = -1.0 if entity.dxf.extrusion[2] < 0.0 else 1.0
    return points, way * _bulges(turn, steps), False, 0.0


_READERS: dict[str, Any] = {
    "LINE": _line,
    "CIRCLE": _circle,
    "ARC": _arc,
    "LWPOLYLINE": _lwpolyline,
    "POLYLINE": _polyline,
}
