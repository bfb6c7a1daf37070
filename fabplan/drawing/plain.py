"""Plain lines, circles and arcs of a sound text file, lifted out of it whole columns at a time.

Plain is an entity of which every tag is well known and says no more than where it lies: no data of other programs, no
tilt, nothing damaged or absurd. It needs no object of the reader, which makes most of the time of a large drawing. What
is not plain stays in the rest of the file, which the reader opens as ever.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from fabplan.drawing.columns import Columns, Entities, columns, entities
from fabplan.drawing.curves import FAR
from fabplan.drawing.survey import OWNED
from fabplan.drawing.tags import Tags, header
from fabplan.model.arrays import BoolArray, FloatArray, IntArray

MODERN = ("AC1015", "AC1018", "AC1021", "AC1024", "AC1027", "AC1032")  # with owners and markers of subclasses
R12 = "AC1009"
LEAST_TURN = 1e-4  # degrees: an arc of less, or of less short of the whole round, may be either
PATTERNS = 16  # of tags, of one kind: programs write few
_MARKERS = {b"LINE": (b"AcDbLine",), b"CIRCLE": (b"AcDbCircle",), b"ARC": (b"AcDbCircle", b"AcDbArc")}
_FIGURES = {  # group codes in the order of `Plain.figures`
    b"LINE": (10, 20, 30, 11, 21, 31),
    b"CIRCLE": (10, 20, 30, 40),
    b"ARC": (10, 20, 30, 40, 50, 51),
}
_BASE, _COMMON, _TILT = {0, 5, 330}, {6, 8, 48, 62, 370, 420, 440}, (210, 220, 230)
_WHOLE, _REAL = (62, 370, 420, 440), (39, 48)  # looks and thickness: read, so that what is no number stays in the rest
_HEIGHTS = (30, 31)
_LEAST = {5, 8}
_HANDLE, _NAME = re.compile(rb"0*[1-9A-F][0-9A-F]{0,15}"), re.compile(rb"[^\x00-\x1f\\\x7f-\xff]*")


@dataclass(frozen=True, slots=True, eq=False)
class Plain:
    """Entities of one kind.

    Attributes:
        kind: LINE, CIRCLE or ARC.
        number: (n,) place among all entities of the model space.
        handles: n handles as written.
        layers: n layers, each one of `names`, by its number.
        names: layers as written.
        figures: (n, k) by `_FIGURES`: x, y, z of the start or centre; then x, y, z of the end, or radius and angles.
    """

    kind: str
    number: IntArray
    handles: list[str]
    layers: list[int]
    names: list[str]
    figures: FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Lifted:
    """A file of which plain entities are lifted.

    Attributes:
        plain: the plain entities.
        owners: handles of what they say holds them.
        rest: the file without them.
        number: (m,) places among all entities of the model space of those in the rest.
        handles: m handles of these, "" for none.
        paper: how many entities the paper space has.
        head: the tags of the first section.
    """

    plain: tuple[Plain, ...]
    owners: frozenset[str]
    rest: bytes
    number: IntArray
    handles: list[str]
    paper: int
    head: Tags

    def __len__(self) -> int:
        """How many entities the model space has."""
        return len(self.number) + sum(len(one.number) for one in self.plain)


def lift(data: bytes) -> Lifted | None:
    """Lift the plain entities of a text file; None where there are none, or it is not written as is usual."""
    table = columns(data)
    found = entities(table) if table is not None else None
    if table is None or found is None:
        return None
    version = header(found.head, "$ACADVER")
    if version != R12 and version not in MODERN:
        return None
    number = np.cumsum(~found.paper) - 1
    parts = [part for kind in _MARKERS for part in _of_kind(table, found, kind, version != R12)]
    lifted = np.zeros(len(found.kinds), dtype=np.bool_)
    for part in parts:
        lifted[part.entity] = True
    if not lifted.any() or _parts_what_belongs_together(found, lifted):
        return None
    left = np.nonzero(~lifted & ~found.paper)[0]
    return Lifted(
        tuple(part.plain(number) for part in parts),
        frozenset(owner.decode("ascii", "replace") for part in parts for owner in part.owners),
        _rest(table, found, lifted),
        number[left],
        _handles(table, found.first[left]),
        int(found.paper.sum()) + found.sheets,
        found.head,
    )


def _parts_what_belongs_together(found: Entities, lifted: BoolArray) -> bool:
    """True where a plain entity stands between a damaged one and what belongs to it, which then would join up."""
    follow = np.nonzero(lifted[:-1])[0] + 1
    return any(found.kinds[k] in (*OWNED, b"SEQEND") for k in follow.tolist())


def _rest(table: Columns, found: Entities, lifted: BoolArray) -> bytes:
    """The file without what is lifted."""
    cut = np.nonzero(lifted)[0]
    start, stop = table.begin[found.first[cut]], table.begin[found.last[cut]]
    kept = zip([0, *stop.tolist()], [*start.tolist(), len(table.data)], strict=True)
    return b"".join([table.data[a:b] for a, b in kept if a < b])


def _handles(table: Columns, first: IntArray) -> list[str]:
    """The handle of each entity that begins with a tag (k,), "" where it states none before its first marker."""
    places = np.nonzero((table.codes == 5) | (table.codes == 100) | (table.codes == 0))[0]
    following = places[np.searchsorted(places, first, side="right")]
    has = (table.codes[following] == 5).tolist()
    return [
        value.decode("ascii", "replace") if own else "" for own, value in zip(has, table.values(following), strict=True)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """Plain entities with one pattern of tags: their numbers among all entities, and their columns."""

    kind: bytes
    entity: IntArray
    handles: list[str]
    layers: list[bytes]
    owners: frozenset[bytes]
    figures: FloatArray

    def plain(self, number: IntArray) -> Plain:
        at = {name: k for k, name in enumerate(dict.fromkeys(self.layers))}
        layers, names = [at[layer] for layer in self.layers], [name.decode() for name in at]
        return Plain(self.kind.decode(), number[self.entity], self.handles, layers, names, self.figures)


def _of_kind(table: Columns, found: Entities, kind: bytes, modern: bool) -> Iterator[_Part]:
    """The plain entities of a kind, pattern by pattern."""
    own = np.nonzero(~found.paper & np.array([one == kind for one in found.kinds], dtype=np.bool_))[0]
    count = found.last[own] - found.first[own]
    for _ in range(PATTERNS):
        if not len(own):
            return
        codes = table.codes[found.first[own[0]] : found.last[own[0]]]
        alike = count == len(codes)
        alike[alike] = (table.codes[found.first[own[alike]][:, None] + np.arange(len(codes))] == codes).all(axis=1)
        if _is_plain(codes.tolist(), kind, modern):
            part = _read(table, found, own[alike], codes.tolist())
            if part is not None:
                yield part
        own, count = own[~alike], count[~alike]


def _is_plain(codes: list[int], kind: bytes, modern: bool) -> bool:
    """True for the group codes of a plain entity, in an order in which they mean what they should."""
    single = [code for code in codes if code != 100]
    marked = [k for k, code in enumerate(codes) if code == 100]
    figures = _FIGURES[kind]
    base = set(codes[: marked[0]]) if marked else set()
    known = _BASE | _COMMON | {39, *_TILT, *figures}
    needed = _LEAST | {code for code in figures if code not in _HEIGHTS}
    if len(set(single)) != len(single) or not needed <= set(single) <= known:
        return False
    if modern and (len(marked) != len(_MARKERS[kind]) + 1 or not {5} <= base <= _BASE):
        return False
    places = [axes for x in (10, 11, 210) for axes in [_axes(codes, x)] if axes]
    return (modern or not {100, 330} & set(codes)) and all(
        axes[0] in codes and codes[codes.index(axes[0]) :][1 : len(axes)] == axes[1:] for axes in places
    )


def _axes(codes: list[int], x: int) -> list[int]:
    """The group codes of a place that has the group code x, where an entity has them; of a tilt all three."""
    there = {x, x + 10, x + 20} & set(codes)
    return sorted(there if x != 210 or not there else {*_TILT})


def _read(table: Columns, found: Entities, entity: IntArray, codes: list[int]) -> _Part | None:
    """The plain ones among entities (k,) with one pattern of tags; None where there are none."""
    kind, first = found.kinds[int(entity[0])], found.first[entity]
    markers = (b"AcDbEntity", *_MARKERS[kind])
    sound = np.ones(len(entity), dtype=np.bool_)
    for place, word in zip([k for k, code in enumerate(codes) if code == 100], markers, strict=False):
        sound &= table.are(first + place, word)
    entity, first = entity[sound], first[sound]
    try:
        for code in _WHOLE:
            if code in codes:
                sum(map(int, table.values(first + codes.index(code))))
        numbers = {code: _floats(table, first, codes, code) for code in (*_FIGURES[kind], *_TILT, *_REAL)}
    except ValueError:  # a number that is none
        return None
    figures = np.column_stack([numbers[code] for code in _FIGURES[kind]])
    upright = numbers[210] == 0.0, numbers[220] == 0.0, numbers[230] == float(210 in codes)
    names, handles = table.values(first + codes.index(8)), table.values(first + codes.index(5))
    sound = _sound(kind, figures) & np.all(upright, axis=0) & _are_handles(handles) & _are_names(names)
    owners = frozenset(table.values(first[sound] + codes.index(330))) if 330 in codes else frozenset()
    kept = np.nonzero(sound)[0].tolist()
    return _Part(
        kind, entity[sound], [handles[k].decode() for k in kept], [names[k] for k in kept], owners, figures[sound]
    )


def _floats(table: Columns, first: IntArray, codes: list[int], code: int) -> FloatArray:
    """The numbers (k,) of a group code, 0 where the pattern has it not."""
    if code not in codes:
        return np.zeros(len(first))
    return np.fromiter(map(float, table.values(first + codes.index(code))), np.float64, len(first))


def _sound(kind: bytes, figures: FloatArray) -> BoolArray:
    """(n,) True for figures that make a line in the plane of the drawing, neither absurd nor a whole round."""
    sound: BoolArray = np.all(np.abs(figures) <= FAR / 4.0, axis=1)
    if kind == b"LINE":
        sound &= figures[:, 2] == figures[:, 5]
    else:
        sound &= figures[:, 3] > 0.0
    if kind == b"ARC":
        turn = np.mod(figures[:, 5] - figures[:, 4], 360.0)
        sound &= (turn > LEAST_TURN) & (turn < 360.0 - LEAST_TURN)
    return sound


def _are_handles(values: list[bytes]) -> BoolArray:
    """(n,) True for handles as every program writes them."""
    return np.array([_HANDLE.fullmatch(value) is not None for value in values], dtype=np.bool_)


def _are_names(values: list[bytes]) -> BoolArray:
    """(n,) True for names of layers in plain letters, which every reader reads alike."""
    plain = {name: _NAME.fullmatch(name) is not None for name in set(values)}
    return np.array([plain[value] for value in values], dtype=np.bool_)
