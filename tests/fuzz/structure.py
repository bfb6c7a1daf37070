"""Damage to the structure of a file alone: the marks of sections, blocks and sequences doubled, dropped and moved."""

import io
from collections import Counter
from itertools import pairwise
from random import Random

import ezdxf.filemanagement

from tests.fuzz.damage import sources

Tag = tuple[str, str]

MARKS = ("SECTION", "ENDSEC", "ENDSEC", "BLOCK", "ENDBLK", "ENDBLK", "SEQEND", "SEQEND", "EOF", "ENDTAB")
NAMES = ("ENTITIES", "BLOCKS", "OBJECTS", "TABLES", "HEADER", "ENTITY", "ENTITIES ", "entities", "")
_KINDS = """
    3DFACE 3DSOLID ARC ATTDEF BODY CIRCLE DIMENSION ELLIPSE HATCH INSERT LEADER LINE LWPOLYLINE MLINE MTEXT POINT
    POLYLINE RAY REGION SHAPE SOLID SPLINE TEXT TOLERANCE TRACE VIEWPORT WIPEOUT XLINE"""
DRAWN = frozenset(_KINDS.split())  # what the DXF reference calls entities, but for those that belong to another


_read: list[list[Tag]] = []


def structures() -> list[list[Tag]]:
    """Drawings to be damaged, as tags: every other one full of blocks, texts in blocks, polylines and sheets."""
    if not _read:
        sound = [data for data in sources() if not data.startswith(b"AutoCAD")]
        full = [_full(version) for version in ("R12", "R2000", "R2010")]
        _read.extend(map(tags_of, [*sound, *full * (len(sound) // 3)]))
    return _read


def _full(version: str) -> bytes:
    document = ezdxf.filemanagement.new(version, units=4)
    space, sheet, note = document.modelspace(), document.layout("Layout1"), {"layer": "NOTE"}
    space.add_polyline2d([(0, 0), (600, 0), (600, 60), (0, 60)], close=True, dxfattribs={"layer": "CUT"})
    space.add_circle((300, 30), 9, dxfattribs={"layer": "CUT"})
    inner, outer = document.blocks.new("INNER"), document.blocks.new("OUTER")
    inner.add_circle((0, 0), 5.5)
    inner.add_polyline2d([(1, 1), (2, 2)])
    inner.add_attdef("MARK", (0, 0))
    outer.add_blockref("INNER", (1, 1))
    outer.add_line((0, 0), (1, 1))
    for x in (30, 70, 110):
        space.add_blockref("INNER", (x, 30), dxfattribs={"layer": "RIVET a"}).add_attrib("MARK", "v", (x, 40))
    space.add_blockref("OUTER", (200, 30), dxfattribs=note)
    space.add_polyline2d([(5, 5), (9, 5), (9, 9)], dxfattribs=note)
    space.add_text("strap", dxfattribs=note)
    sheet.add_line((0, 0), (1, 1))
    if version != "R12":
        document.layouts.new("Second").add_circle((1, 1), 1)
        space.add_mtext("words", dxfattribs=note)
        space.add_hatch(dxfattribs=note)
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode()


def tags_of(data: bytes) -> list[Tag]:
    """The tags of a sound text file."""
    lines = data.decode("utf-8", "surrogateescape").replace("\r\n", "\n").split("\n")
    return [(lines[k].strip(), lines[k + 1]) for k in range(0, len(lines) - 1, 2)]


def written(tags: list[Tag]) -> bytes:
    """A file of tags."""
    return "".join(f"{code}\n{value}\n" for code, value in tags).encode("utf-8", "surrogateescape")


def drawn(tags: list[Tag]) -> Counter[str]:
    """Entities by kind, counted the plain way: all in the file, but for those between BLOCK and ENDBLK of a block.

    Blocks that stand for model and paper space (up to R12 their names begin with $) are no blocks in this.
    """
    found, section, block = Counter[str](), "", ""
    for (code, value), (below, name) in pairwise([*tags, ("", "")]):
        kind = value.strip() if code == "0" else ""
        if kind in ("SECTION", "ENDSEC", "EOF"):
            section, block = name.strip() if kind == "SECTION" and below == "2" else "", ""
        elif section == "BLOCKS" and kind in ("BLOCK", "ENDBLK"):
            block = "?" if kind == "BLOCK" else ""
        elif block == "?" and code == "2":
            block = value.strip() or "?"
        elif kind in DRAWN and (not block or block.upper()[1:].startswith(("MODEL_SPACE", "PAPER_SPACE"))):
            found[kind] += 1
    return found


def restructured(tags: list[Tag], random: Random) -> list[Tag]:
    """The file with one to three of its marks doubled, dropped, moved, exchanged, or its sections renamed."""
    tags = list(tags)
    for _ in range(random.randint(1, 3)):
        random.choice(_WAYS)(tags, random)
    return tags


def _marks(tags: list[Tag], random: Random) -> list[int]:
    """Places of the marks of one kind that the file has."""
    there = [mark for mark in MARKS if ("0", mark) in tags]
    wanted = random.choice(there or ["EOF"])
    return [k for k, tag in enumerate(tags) if tag == ("0", wanted)]


def _at(tags: list[Tag], place: int) -> int:
    """How many tags a mark has with its name and all else that is its own."""
    return next((k for k in range(place + 1, len(tags)) if tags[k][0] == "0"), len(tags)) - place


def _drop(tags: list[Tag], random: Random) -> None:
    places = _marks(tags, random)
    if places:
        at = random.choice(places)
        del tags[at : at + _at(tags, at)]


def _double(tags: list[Tag], random: Random) -> None:
    places = _marks(tags, random)
    if places:
        at = random.choice(places)
        tags[at:at] = tags[at : at + _at(tags, at)]


def _move(tags: list[Tag], random: Random) -> None:
    """Carry a mark to before any other entity of the file."""
    places = _marks(tags, random)
    if places:
        at = random.choice(places)
        mark = tags[at : at + _at(tags, at)]
        del tags[at : at + len(mark)]
        heads = [k for k, tag in enumerate(tags) if tag[0] == "0"]
        to = random.choice(heads) if heads else 0
        tags[to:to] = mark


def _exchange(tags: list[Tag], random: Random) -> None:
    one, other = _marks(tags, random), _marks(tags, random)
    if one and other:
        a, b = random.choice(one), random.choice(other)
        tags[a], tags[b] = tags[b], tags[a]


def _rename(tags: list[Tag], random: Random) -> None:
    named = [k + 1 for k, tag in enumerate(tags[:-1]) if tag == ("0", "SECTION")]
    if named:
        tags[random.choice(named)] = ("2", random.choice(NAMES))


def _section_again(tags: list[Tag], random: Random) -> None:
    """A section that stands twice, the second time perhaps elsewhere."""
    starts = [k for k, tag in enumerate(tags) if tag == ("0", "SECTION")]
    if starts:
        at = random.choice(starts)
        end = next((k + 1 for k in range(at, len(tags)) if tags[k] == ("0", "ENDSEC")), len(tags))
        to = random.choice([*starts, end])
        tags[to:to] = tags[at:end]


_WAYS = (_drop, _double, _move, _exchange, _rename, _section_again)
