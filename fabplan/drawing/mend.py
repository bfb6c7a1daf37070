"""A damaged file written anew from the tags that hold together: what any reader opens, and what was lost on the way.

Only what a flat profile can need is kept: the version and unit, layers, blocks, lines, texts. Nothing is guessed: an
entity in which a number is missing or cannot be read is left out whole and listed as lost.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from fabplan.drawing.salvage import Salvage
from fabplan.drawing.survey import SPACES, Block, Record, survey
from fabplan.drawing.tags import Tags, header, is_float, is_whole

MARKERS = {"LWPOLYLINE": b"AcDbPolyline", "SPLINE": b"AcDbSpline", "ELLIPSE": b"AcDbEllipse", "MTEXT": b"AcDbMText"}
NEEDED = {  # group codes without which a kind has no shape (DXF reference)
    "LINE": (10, 20, 11, 21),
    "CIRCLE": (10, 20, 40),
    "ARC": (10, 20, 40, 50, 51),
    "ELLIPSE": (10, 20, 11, 21, 40),
    "LWPOLYLINE": (10, 20),
    "POLYLINE": (),
    "SPLINE": (71,),
    "INSERT": (2, 10, 20),
    "TEXT": (1, 10, 20),
    "MTEXT": (10, 20),
    "ATTDEF": (10, 20),
}
_COMMON = frozenset({6, 8, 48, 60, 62, 67, 370, 410, 420, 430, 440})  # group codes that every entity may have
_LEFT_OUT = frozenset({5, 100, 102, 105, 330, 360})  # handles and ties to what is not kept
_VERSIONS = ("AC1015", "AC1018", "AC1021", "AC1024", "AC1027", "AC1032")
Row = tuple[int, bytes]


@dataclass(frozen=True, slots=True)
class Found:
    """One entity by the bare tags: DXF type, handle, layer as written; why it is lost, "" where it is not."""

    kind: str
    handle: str
    layer: bytes
    paper: bool
    lost: str = ""


@dataclass(slots=True)
class Mended:
    """The file written anew.

    Attributes:
        lines: of a text DXF.
        found: every entity of the file, in its order, with the handle under which it is written.
        notes: what was mended, each with a count.
    """

    lines: list[bytes] = field(default_factory=list)
    found: list[Found] = field(default_factory=list)
    notes: Counter[str] = field(default_factory=Counter)


@dataclass(slots=True)
class _Handles:
    """Handles of the file, each given once; new ones above all of them."""

    taken: set[str]
    free: int

    def claim(self, wanted: str, notes: Counter[str]) -> str:
        if wanted and wanted not in self.taken:
            self.taken.add(wanted)
            return wanted
        if wanted:
            notes["a handle that stands twice"] += 1
        self.free += 1
        return f"{self.free:X}"


def mend(salvaged: Salvage) -> Mended:
    """Write the entities of a damaged file anew."""
    tags, mended = salvaged.tags, Mended(notes=Counter(salvaged.notes))
    handles, found = _Handles(set(), _highest(tags)), survey(tags)
    mended.notes["a further section ENTITIES"] += max(found.sections - 1, 0)
    mended.notes["entities without a section"] += bool(found.spaces) and not found.sections
    for record in found.spaces:
        _write(tags, record, handles, mended, _spoilt(salvaged, record))
    blocks = list(_blocks(salvaged, found.blocks, handles, mended.notes))
    for record in found.astray:
        rows = _groups(tags, record)[0][1]
        handle = handles.claim(_hex(_value(rows, 5)), mended.notes)
        mended.found.append(Found(record.kind, handle, _value(rows, 8) or b"0", False, record.astray))
    entities = list(_section(b"ENTITIES", mended.lines))
    mended.lines = [*_head(tags, handles.free), *_layers(tags), *blocks, *entities, b"0", b"EOF"]
    return mended


def _spoilt(salvaged: Salvage, record: Record) -> bool:
    """True where tags of an entity broke, or the file ends inside it."""
    cut_short = salvaged.tags.short and record.last == len(salvaged.tags.codes)
    return cut_short or any(place in salvaged.broken for place in range(record.first, record.last))


def _highest(tags: Tags) -> int:
    """The highest handle of the file, at least 0xFF."""
    found = [_hex(value) for code, value in zip(tags.codes, tags.values, strict=True) if code in (b"5", b"105")]
    return max([0xFF, *(int(handle, 16) for handle in found if handle and len(handle) <= 12)])


def _hex(value: bytes) -> str:
    """A handle as it is written everywhere, "" for one that is none."""
    try:
        number = int(value.strip(), 16)
    except ValueError:
        return ""
    return f"{number:X}" if 0 < number < 1 << 64 else ""


def _section(name: bytes, lines: Iterable[bytes]) -> Iterator[bytes]:
    yield from (b"0", b"SECTION", b"2", name)
    yield from lines
    yield from (b"0", b"ENDSEC")


def _head(tags: Tags, handle: int) -> Iterator[bytes]:
    version, unit = header(tags, "$ACADVER"), header(tags, "$INSUNITS")
    rows = [b"9", b"$ACADVER", b"1", (version if version in _VERSIONS else _VERSIONS[0]).encode()]
    if unit.isdigit():
        rows += [b"9", b"$INSUNITS", b"70", unit.encode()]
    return _section(b"HEADER", [*rows, b"9", b"$HANDSEED", b"5", b"%X" % (handle + 0xFFFF)])


def _layers(tags: Tags) -> Iterator[bytes]:
    """The layers with their flags and colours: which are frozen, which are off."""
    found: dict[bytes, list[bytes]] = {}
    marks = [place for place, code in enumerate(tags.codes) if code == b"0"]
    for place, end in zip(marks, [*marks[1:], len(tags.codes)], strict=False):
        if tags.values[place].strip() == b"LAYER":
            own = dict(zip(tags.codes[place + 1 : end], tags.values[place + 1 : end], strict=True))
            name, flags, colour = (own.get(code, b"").strip() for code in (b"2", b"70", b"62"))
            if name:
                rows = [b"0", b"LAYER", b"2", name, b"70", flags if _whole(flags) else b"0"]
                found.setdefault(name.lower(), [*rows, b"62", colour if _whole(colour) else b"7", b"6", b"CONTINUOUS"])
    lines = [
        b"0",
        b"TABLE",
        b"2",
        b"LAYER",
        b"70",
        b"%d" % len(found),
        *(line for own in found.values() for line in own),
    ]
    return _section(b"TABLES", [*lines, b"0", b"ENDTAB"])


def _whole(value: bytes) -> bool:
    return value.removeprefix(b"-").isdigit() and len(value) < 10


def _blocks(salvaged: Salvage, found: Iterable[Block], handles: _Handles, notes: Counter[str]) -> Iterator[bytes]:
    """The blocks, their entities written as those of the model space; one without a name is left out."""
    lines: list[bytes] = []
    known = set[bytes]()
    for block in found:
        notes["a block without its end"] += not block.ended
        notes["a block that stands twice, the first of them taken"] += block.name.upper() in known
        if block.name and block.name.upper() not in known and not block.name.upper().startswith(SPACES):
            body = Mended(notes=notes)
            for record in block.body:
                _write(salvaged.tags, record, handles, body, _spoilt(salvaged, record))
                body.lines += _stub(body.found[-1])
            lines += [*_block_head(salvaged.tags, block), *body.lines, b"0", b"ENDBLK"]
        known.add(block.name.upper())
    return _section(b"BLOCKS", lines)


def _block_head(tags: Tags, block: Block) -> list[bytes]:
    rows, name = _rows(tags, block.head), block.name
    base = [line for code in (10, 20) for line in (b"%d" % code, _number(_value(rows, code)) or b"0")]
    flags = _value(rows, 70)
    return [b"0", b"BLOCK", b"8", b"0", b"2", name, b"70", flags if _whole(flags) else b"0", *base, b"3", name]


def _stub(entity: Found) -> list[bytes]:
    """An entity of a block that is not written: its being there, as a kind that no reader takes for a line."""
    if entity.kind in NEEDED and not entity.lost:
        return []
    kind = f"LOST_{entity.kind}".encode("ascii", "replace")
    return [b"0", kind, b"5", entity.handle.encode(), b"8", entity.layer]


def _write(tags: Tags, record: Record, handles: _Handles, mended: Mended, spoilt: bool) -> None:
    """One entity with all that belongs to it; one of no shape, or damaged, is only listed."""
    groups = _groups(tags, record)
    rows = groups[0][1]
    handle, layer = handles.claim(_hex(_value(rows, 5)), mended.notes), _value(rows, 8) or b"0"
    groups[0] = record.kind, _in_space(rows, record, any(kind == "ATTRIB" for kind, _ in groups))
    clean = [(kind, _clean(kind, own, mended.notes)) for kind, own in groups] if record.kind in NEEDED else []
    lost = "the file is damaged within it" if spoilt else _missing(record.kind, clean)
    mended.found.append(Found(record.kind, handle, layer, record.paper, lost))
    if lost or not clean:
        return
    ended = sum(kind == "SEQEND" for kind, _ in clean)
    mended.notes["a SEQEND too many"] += max(ended - 1, 0)
    clean = [one for one in clean if one[0] != "SEQEND"]
    for number, (kind, own) in enumerate(clean):
        own_handle = handle if number == 0 else handles.claim("", mended.notes)
        mended.lines += _lines(kind, own_handle, own or [], mended.notes)
    if record.kind == "POLYLINE" or len(clean) > 1:
        mended.notes["a SEQEND missing"] += not ended
        mended.lines += [b"0", b"SEQEND", b"5", handles.claim("", mended.notes).encode(), b"8", b"0"]


def _in_space(rows: list[Row], record: Record, followed: bool) -> list[Row]:
    """The tags of an entity with the flag of its space and, of an INSERT, that texts follow, as is so."""
    own = [row for row in rows if row[0] != 67 and not (row[0] == 66 and record.kind == "INSERT")]
    own += [(67, b"1")] if record.paper else []
    return own + ([(66, b"1")] if followed and record.kind == "INSERT" else [])


def _rows(tags: Tags, record: Record) -> list[Row]:
    return [(int(tags.codes[k]), tags.values[k]) for k in range(record.first + 1, record.last)]


def _groups(tags: Tags, record: Record) -> list[tuple[str, list[Row]]]:
    """The entity and what belongs to it, each with its tags; extended data and groups of applications are left out."""
    found: list[tuple[str, list[Row]]] = [(record.kind, [])]
    inside = False
    for code, value in _rows(tags, record):
        if code == 0:
            found.append((value.strip().decode("ascii", "replace"), []))
            inside = False
        elif code == 102:
            inside = value.strip().startswith(b"{")
        elif not inside and code < 1000:
            found[-1][1].append((code, value))
    return found


def _value(rows: Sequence[Row], code: int) -> bytes:
    return next((value.strip() for own, value in rows if own == code), b"")


def _clean(kind: str, rows: list[Row], notes: Counter[str]) -> list[Row] | None:
    """Tags whose numbers are numbers; None where one cannot be read."""
    clean = []
    for code, value in rows:
        if is_float(code):
            number = _number(value)
            if number is None:
                return None
            if number != value.strip():
                notes["a number with a decimal comma"] += 1
            clean.append((code, number))
        elif is_whole(code):
            if not _whole(value.strip()):
                return None
            clean.append((code, value.strip()))
        else:
            clean.append((code, value))
    return _in_order(kind, clean, notes)


def _number(value: bytes) -> bytes | None:
    """A number as readers take it; None for what is none."""
    stripped = value.strip()
    for text in (stripped, stripped.replace(b",", b".")):
        try:
            float(text)
        except ValueError:
            continue
        return text
    return None


def _in_order(kind: str, rows: list[Row], notes: Counter[str]) -> list[Row] | None:
    """Each x with its y and z behind it; None where a y is missing or it is not known whose it is."""
    if all(
        rows[k + 1 : k + 2] and rows[k + 1][0] == code + 10 for k, (code, _) in enumerate(rows) if _is_x(kind, code)
    ):
        return rows
    codes = [code for code, _ in rows]
    by_code = dict(rows)
    if len(by_code) != len(rows):
        return None
    notes["an entity with its coordinates out of order"] += 1
    axes = {code + step for code in codes if _is_x(kind, code) for step in (10, 20)}
    ordered: list[Row] = []
    for code, value in rows:
        if _is_x(kind, code):
            if code + 10 not in by_code:
                return None
            ordered += [(axis, by_code[axis]) for axis in (code, code + 10, code + 20) if axis in by_code]
        elif code not in axes:
            ordered.append((code, value))
    return ordered


def _is_x(kind: str, code: int) -> bool:
    return code in (10, 11, 210) or (kind == "SPLINE" and code in (12, 13))


def _missing(kind: str, groups: Sequence[tuple[str, list[Row] | None]]) -> str:
    """Why an entity cannot be read, "" where it can or need not."""
    if not groups:
        return ""
    if any(own is None for _, own in groups):
        return "a number in it is missing or cannot be read"
    rows = groups[0][1] or []
    codes = Counter(code for code, _ in rows)
    if any(not codes[code] for code in NEEDED[kind]) or (kind == "POLYLINE" and not all(map(_placed, groups[1:]))):
        return "a part of it is missing"
    stated = _value(rows, 90)
    if kind == "LWPOLYLINE" and stated and int(stated) != codes[10]:
        return f"it has {codes[10]} corners, {int(stated)} are stated"
    if kind == "SPLINE" and any(_differs(_value(rows, count), codes[item]) for count, item in _SPLINE):
        return "a part of it is missing"
    return ""


def _placed(group: tuple[str, list[Row] | None]) -> bool:
    """True for what belongs to a polyline: a corner with its place, or the end."""
    return group[0] != "VERTEX" or {10, 20} <= {code for code, _ in group[1] or []}


_SPLINE = ((72, 40), (73, 10), (74, 11))  # counts of knots, control points, fit points, and the codes they count


def _differs(stated: bytes, found: int) -> bool:
    return bool(stated) and int(stated) != found


def _lines(kind: str, handle: str, rows: Sequence[Row], notes: Counter[str]) -> Iterator[bytes]:
    """The lines of one entity; kinds that need it get their marker of a subclass."""
    marker = MARKERS.get(kind)
    own = [row for row in rows if row[0] not in _LEFT_OUT]
    if marker is not None:
        if marker not in (value.strip() for code, value in rows if code == 100):
            notes[f"{kind} without its subclass marker"] += 1
        common = [row for row in own if row[0] in _COMMON]
        own = [(100, b"AcDbEntity"), *common, (100, marker), *(row for row in own if row[0] not in _COMMON)]
    yield from (b"0", kind.encode(), b"5", handle.encode())
    for code, value in own:
        yield b"%d" % code
        yield value
