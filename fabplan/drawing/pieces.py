"""Entities of the model space as pieces of line: vertices, bulges, closed or not; what can be no piece, with why."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from fabplan.drawing.carried import carried, singles
from fabplan.drawing.curves import FAR, UP, attribute, curve, plain_curves
from fabplan.drawing.plain import Plain
from fabplan.drawing.source import UNITS, Rest, Source
from fabplan.drawing.words import Words
from fabplan.geom.tolerance import JOIN
from fabplan.model.arrays import FloatArray

LINES = frozenset({"LINE", "ARC", "CIRCLE", "LWPOLYLINE", "POLYLINE", "SPLINE", "ELLIPSE"})
TEXTS = frozenset({"TEXT", "MTEXT", "ATTDEF", "ATTRIB"})
DIMENSIONS = frozenset(
    {"DIMENSION", "ARC_DIMENSION", "LARGE_RADIAL_DIMENSION", "LEADER", "MULTILEADER", "TOLERANCE", "ACAD_TABLE"}
)
FILLS = frozenset(
    {"HATCH", "MPOLYGON", "SOLID", "TRACE", "POINT", "WIPEOUT", "IMAGE", "OLEFRAME", "OLE2FRAME", "VIEWPORT", "XLINE"}
    | {"RAY", "PDFUNDERLAY", "DWFUNDERLAY", "DGNUNDERLAY", "LIGHT", "SUN"}
)
LONGEST = 10_000  # signs of a text whose codes are worked out
WHY = {  # what keeps a kind from being part of a flat profile
    **dict.fromkeys(
        ("REGION", "BODY", "3DSOLID", "SURFACE"), "its edges are stored in a form of which DXF tells nothing"
    ),
    **dict.fromkeys(("3DFACE", "MESH"), "it is a surface in space"),
    **dict.fromkeys(("ACAD_PROXY_ENTITY", "ACAD_PROXY_OBJECT"), "it is an object of another program"),
    **dict.fromkeys(FILLS, "it is a fill, a point or a picture"),
    "HELIX": "it winds through space",
    "MLINE": "it is several lines in one",
    "SHAPE": "its strokes are in another file",
}
MOST = 50_000  # pieces that blocks may give one drawing: nested ones can multiply without end
DEEPEST = 20  # blocks within blocks; one that holds itself has no end


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One entity, or one part of an exploded block.

    Attributes:
        handle: of the entity, or of the INSERT that shows it.
        kind: DXF type.
        entity: INSERT for a part of a block, "" for any other.
        layer: layer name; that of the INSERT where the block leaves it open (layer 0).
        points: (n, 2) in drawing units.
        bulges: (n,) one a span; the last counts only when closed.
        closed: True for a closed line.
        error: distance of chords from the curve, drawing units, 0 when exact.
        level: height over the drawing's plane, mm by the header.
        trouble: "" or the name of the check that this piece fails.
        why: what is wrong with it in words, "" where `trouble` says all.
        hidden: "" or why it is not seen on the screen: its layer is off or frozen, or it is invisible itself.
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
    why: str = ""
    hidden: str = ""
    text: str = ""
    height: float = 0.0
    entity: str = ""


class _BlockError(Exception):
    """What keeps a block, or one within it, from being shown: the check that it fails, and why in words."""

    def __init__(self, why: str, trouble: str = "unsupported-entity") -> None:
        """Keep both apart."""
        super().__init__(why)
        self.why, self.trouble = why, trouble


@dataclass(slots=True, eq=False)
class _Sheet:
    """What holds for all entities of a file: its unit, its words, the layers not seen, what blocks may still give."""

    unit: float | None
    words: Words
    unseen: dict[str, str]
    left: int = MOST

    def spend(self, steps: int = 1) -> None:
        """Count a part of a block or a block within it."""
        self.left -= steps
        if self.left < 0:
            raise _BlockError(f"blocks give the drawing more than {MOST} lines")

    def layer(self, entity: Any) -> str:
        """The layer of an entity as people read it; of one that no reader knows, by its bare tags."""
        if not entity.dxf.is_supported("layer"):
            subclasses = entity.xtags.subclasses if hasattr(entity, "xtags") else ()
            return self.words.plain(next((str(tag.value) for tags in subclasses for tag in tags if tag.code == 8), "0"))
        return self.words.plain(str(entity.dxf.get("layer", "0")))

    def hidden(self, entity: Any, layer: str) -> str:
        """Why an entity is not seen, "" where it is."""
        if attribute(entity, "invisible", 0):
            return "it is set invisible"
        return self.unseen.get(layer.lower(), "")


def pieces(source: Source) -> Iterator[list[Piece]]:
    """The pieces of each entity of the model space, one list an entity (a block gives several).

    Where the header is silent on the unit, chords suit a drawing in inches.
    """
    sheet = _Sheet(source.unit, source.words, _unseen(source))
    if source.lifted is None:
        yield from _of_document(source, sheet)
    else:
        every: list[list[Piece]] = [[]] * len(source.lifted)
        for one in source.lifted.plain:
            for number, piece in zip(one.number.tolist(), _of_plain(one, sheet), strict=True):
                every[number] = [piece]
        for number, own in zip(source.lifted.number.tolist(), _of_document(source, sheet), strict=True):
            every[number] = own
        yield from every
    for rest in source.rest:
        if not rest.paper:
            yield [_of_rest(rest)]


def _of_document(source: Source, sheet: "_Sheet") -> Iterator[list[Piece]]:
    """The pieces of each entity that the reader gives."""
    handles = set[str]()
    for entity in source.document.modelspace() if source.document is not None else ():
        kind, handle, layer = entity.dxftype(), str(entity.dxf.get("handle") or ""), sheet.layer(entity)
        handle = _unlike(handle, handles)
        own = _of_block(entity, handle, layer, sheet) if kind == "INSERT" else [_seen(entity, handle, layer, sheet)]
        if kind == "INSERT":
            own = [replace(piece, entity=kind) for piece in own]
        yield own


def _of_plain(own: Plain, sheet: "_Sheet") -> Iterator[Piece]:
    """The pieces of plain entities."""
    kind, closed = own.kind, own.kind == "CIRCLE"
    layers = [(name, sheet.unseen.get(name.lower(), "")) for name in own.names]
    levels = (own.figures[:, 2] * (sheet.unit or 1.0)).tolist()
    rows = zip(own.handles, own.layers, *plain_curves(kind, own.figures), levels, strict=True)
    for handle, number, points, bulges, level in rows:
        layer, hidden = layers[number]
        yield Piece(handle, kind, layer, points, bulges, closed, 0.0, level, hidden=hidden)


def _unlike(handle: str, taken: set[str]) -> str:
    """The handle of an entity, told apart where it stands twice in the file."""
    number, name = 1, handle
    while name in taken:
        number += 1
        name = f"{handle} ({number})"
    taken.add(name)
    return name


def _unseen(source: Source) -> dict[str, str]:
    """Layers that are off or frozen, by name in small letters."""
    found = {}
    for layer in source.document.layers if source.document is not None else ():
        if layer.is_off() or layer.is_frozen():
            found[source.words.plain(str(layer.dxf.name)).lower()] = (
                f"its layer is {'frozen' if layer.is_frozen() else 'off'}"
            )
    return found


def _of_rest(one: Rest) -> Piece:
    """The piece of an entity that only the tags show."""
    if one.lost:
        return _odd(one.handle, one.kind, one.layer, "account-open", one.lost)
    known = one.kind in TEXTS or one.kind in DIMENSIONS or one.kind in FILLS
    return _odd(one.handle, one.kind, one.layer, "" if known else "unsupported-entity", WHY.get(one.kind, ""))


def _of_block(insert: Any, handle: str, layer: str, sheet: _Sheet) -> list[Piece]:
    """The pieces that a block shows; one piece with its trouble where it is missing, too large or in another unit."""
    from ezdxf.math import Matrix44

    hidden = sheet.hidden(insert, layer)

    def odd(why: str, trouble: str = "unsupported-entity") -> list[Piece]:
        return [replace(_at(insert, _odd(handle, "INSERT", layer, trouble, why)), hidden=hidden)]

    found: list[Piece] = []
    try:
        for part, on, skipped in _parts(insert, Matrix44(), layer, (), sheet):
            piece = _seen(part, handle, on, sheet) if not skipped else _odd(handle, part.dxftype(), on, *_SKIPPED)
            found.append(replace(piece, hidden=hidden or piece.hidden))
    except _BlockError as error:
        return odd(error.why, error.trouble)
    except Exception:  # absurd scales
        return odd("a block within it is damaged")
    return found or odd("its block is empty")


_SKIPPED = ("unsupported-entity", "it cannot be taken out of its block")
_Part = tuple[Any, str, bool]


def _parts(insert: Any, by: Any, layer: str, way: tuple[str, ...], sheet: _Sheet) -> Iterator[_Part]:
    """The entities that a block shows, each with its layer: where it has none of its own (0) that of the insert.

    The third is True for one that cannot be carried out of its block; of blocks that are hidden nothing is shown.

    Args:
        insert: as its own block, or the model space, has it.
        by: matrix from there to the model space.
        layer: of the insert.
        way: names of the blocks in which it stands, from outside.
        sheet: what holds for the file.
    """
    block = _block(insert, way, sheet)
    way = (*way, str(block.name).lower())
    sheet.spend(max(insert.mcount, 1))
    for text in insert.attribs:
        yield from ((one, sheet.layer(text), skipped) for one, skipped in carried(text, by))
    for one in singles(insert):
        within = one.matrix44() @ by
        for entity in block:
            if entity.dxftype() == "ATTDEF":  # what it says, the texts of the insert say
                continue
            own = sheet.layer(entity)
            on = layer if own == "0" else own
            if entity.dxftype() == "INSERT" and not sheet.hidden(entity, on):
                yield from _parts(entity, within, on, way, sheet)
                continue
            for part, skipped in _carried(entity, within):
                sheet.spend()
                yield part, on, skipped


def _carried(entity: Any, by: Any) -> Iterator[tuple[Any, bool]]:
    """An entity where it stands in the model space; of what is never cut it does not matter where."""
    kind = entity.dxftype()
    if kind == "INSERT" or kind in DIMENSIONS or kind in FILLS:
        yield entity, False
    else:
        yield from carried(entity, by)


def _block(insert: Any, way: tuple[str, ...], sheet: _Sheet) -> Any:
    """The block that an insert shows.

    Raises:
        _BlockError: it cannot be shown.
    """
    name = str(insert.dxf.get("name") or "")
    block = insert.block() if name else None
    within = "the block {} within it" if way else "its block {}"
    if block is None:
        missing = within.format(sheet.words.plain(name)) + " is not in the file"
        raise _BlockError(missing if name else "it names no block" if not way else "an INSERT within it names no block")
    if block.block is not None and block.block.is_xref:
        raise _BlockError("its block is another file")
    if str(block.name).lower() in way:
        raise _BlockError("its block holds itself")
    if len(way) >= DEEPEST:
        raise _BlockError(f"it holds blocks within blocks, more than {DEEPEST} deep")
    if sheet.unit is not None and UNITS.get(int(block.units)) not in (None, sheet.unit):
        raise _BlockError("", "units-in-doubt")
    if not insert.dxf.xscale or not insert.dxf.yscale:
        raise _BlockError("a scale of its block is 0")
    if any(one.dxftype() in _ROUND and attribute(one, "radius", 1.0) < 0.0 for one in block):
        raise _BlockError("that of a circle or arc in its block", "negative-radius")
    return block


def _odd(handle: str, kind: str, layer: str, trouble: str, why: str = "") -> Piece:
    return Piece(handle, kind, layer, np.zeros((0, 2)), np.zeros(0), trouble=trouble, why=why)


def _seen(entity: Any, handle: str, layer: str, sheet: _Sheet) -> Piece:
    piece = _piece(entity, handle, layer, sheet)
    hidden = sheet.hidden(entity, layer)
    return replace(piece, hidden=hidden) if hidden else piece


def _piece(entity: Any, handle: str, layer: str, sheet: _Sheet) -> Piece:
    kind, unit = entity.dxftype(), sheet.unit
    if kind in TEXTS:
        return _text(entity, handle, layer, sheet.words)
    if kind in DIMENSIONS or kind in FILLS:
        return _at(entity, _odd(handle, kind, layer, "", WHY.get(kind, "")))
    if kind not in LINES:
        return _at(entity, _odd(handle, sheet.words.plain(kind), layer, "unsupported-entity", WHY.get(kind, "")))
    missing = [name for name in _SHAPE.get(kind, ()) if not entity.dxf.hasattr(name)]
    if missing:
        return _odd(handle, kind, layer, "account-open", f"its {missing[0].replace('_', ' ')} is missing")
    try:
        points, bulges, closed, error = curve(entity, unit)
    except Exception:  # a curve too damaged to evaluate
        return _odd(handle, kind, layer, "unsupported-entity", "it cannot be worked out")
    if len(points) == 0:
        return _odd(handle, kind, layer, "zero-length")
    reach = float(np.abs(points).max())
    if not reach <= FAR or (kind not in _ROUND and not np.abs(bulges).max() <= FAR):
        far = FAR < reach < np.inf
        why = f"a coordinate lies further than {FAR:g} from the origin" if far else "a coordinate is no finite number"
        within = points[(np.abs(points) <= FAR).all(axis=1)][:1, :2]
        at = within if len(within) else _somewhere(entity)
        return replace(_odd(handle, kind, layer, "bad-coordinates", why), points=at, bulges=np.zeros(len(at)))
    if kind in _ROUND and not entity.dxf.radius > 0.0:
        radius = float(entity.dxf.radius)
        trouble, why = ("negative-radius", f"{radius:g}, {_BACKWARDS[kind]}") if radius < 0.0 else ("zero-length", "")
        return _at(entity, _odd(handle, kind, layer, trouble, why))
    level_all_through = kind in _ROUND or np.ptp(points[:, 2]) <= JOIN / (unit or 1.0)
    lies = level_all_through and (kind in _IN_SPACE or _upright(entity))
    level = float(points[0, 2]) * (unit or 1.0)
    return Piece(handle, kind, layer, points[:, :2], bulges, closed, error, level, "" if lies else "not-flat")


def _at(entity: Any, odd: Piece) -> Piece:
    """A piece that is no line, with a place to point at."""
    at = _somewhere(entity)
    return replace(odd, points=at, bulges=np.zeros(len(at)))


_PLACES = ("insert", "location", "vtx0", "center", "start", "defpoint", "base_point")


def _somewhere(entity: Any) -> FloatArray:
    """A place (1, 2) of an entity that is no line, to point at; (0, 2) where it states none."""
    try:
        points = [entity.dxf.get(name) for name in _PLACES if entity.dxf.hasattr(name)]
        if entity.dxftype() in ("HATCH", "MPOLYGON"):
            points = [point for path in entity.paths for point in _on_path(path)]
        places = np.array([[float(point[0]), float(point[1])] for point in points[:1]], dtype=np.float64).reshape(-1, 2)
    except Exception:  # an attribute too damaged to read
        return np.zeros((0, 2))
    return places if bool(np.all(np.abs(places) <= FAR)) else np.zeros((0, 2))


def _on_path(path: Any) -> list[Any]:
    """The first place that a border of a fill states."""
    if hasattr(path, "vertices"):
        return list(path.vertices[:1])
    return [place for edge in path.edges for place in (getattr(edge, "start", None) or getattr(edge, "center", None),)]


_ROUND = ("CIRCLE", "ARC")
_BACKWARDS = {  # what GDAL and others make of a negative radius
    "CIRCLE": "which some programs draw with the sign left out and some not at all",
    "ARC": "which some programs draw on the other side of its centre and some not at all",
}
_IN_SPACE = ("LINE", "SPLINE")  # their points are places in space, whatever way they are extruded
_SHAPE = {  # attributes without which a reader puts a default in their place
    "LINE": ("start", "end"),
    "CIRCLE": ("center", "radius"),
    "ARC": ("center", "radius", "start_angle", "end_angle"),
    "ELLIPSE": ("center", "major_axis", "ratio"),
}


def _upright(entity: Any) -> bool:
    x, y, z = attribute(entity, "extrusion", UP)
    return bool(abs(z) > (1.0 - 1e-9) * math.sqrt(x * x + y * y + z * z))


def _said(entity: Any) -> str:
    """What a text says, its codes of form left out; of one without measure the beginning, as it is written."""
    raw = str(entity.text if entity.dxftype() == "MTEXT" else entity.dxf.get("text", ""))
    if len(raw) > LONGEST:
        return raw[:LONGEST]
    return str(entity.plain_text() if hasattr(entity, "plain_text") else raw)


def _text(entity: Any, handle: str, layer: str, words: Words) -> Piece:
    """A text with its anchor: the insert, or the point that it is centred or ended on."""
    try:
        raw = _said(entity)
        aligned = attribute(entity, "halign", 0) or attribute(entity, "valign", 0)
        at = attribute(entity, "align_point", None) if aligned else None
        x, y, _ = entity.ocs().to_wcs(at if at is not None else entity.dxf.get("insert", (0.0, 0.0, 0.0)))
        height = float(entity.dxf.get("char_height" if entity.dxftype() == "MTEXT" else "height", 2.5))
    except Exception:  # a text too damaged to read is still a text
        raw, x, y, height = "", 0.0, 0.0, 0.0
    place = [x, y] if abs(x) <= FAR and abs(y) <= FAR else [0.0, 0.0]
    kind, said = entity.dxftype(), " ".join(words.plain(str(raw)).split())
    return Piece(handle, kind, layer, np.array([place]), np.zeros(1), text=said, height=height)
