"""Opening a DXF file that nobody vouches for, and counting its entities a second time from the bare tags.

The strict reader opens a sound file. Where it fails, or its entities are not those that the tags count, the file is
also mended and read anew, and given to the forgiving reader; the reading that shows most lines and texts is taken.
"""

import io
import logging
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from fabplan.drawing.names import readable
from fabplan.drawing.plain import Lifted, lift
from fabplan.drawing.survey import survey
from fabplan.drawing.tags import Tags, binary_tags, header, is_binary, text_tags
from fabplan.drawing.words import Words
from fabplan.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

    from fabplan.drawing.mend import Found, Mended

LONGEST = 100  # signs of what a reader says that are passed on
FATAL = 117  # ezdxf's code for a number that cannot be read: it takes what stands before a decimal comma, and goes on
UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}  # $INSUNITS of the DXF reference: inch, foot, mm, cm, m
UNIT_NAMES = {25.4: "inch", 304.8: "foot", 1.0: "mm", 10.0: "cm", 1000.0: "metre"}
FIRST_UTF8 = "AC1021"  # since R2007 all texts of a file are UTF-8
logging.getLogger("ezdxf").addHandler(logging.NullHandler())  # what it warns of is told as findings
OTHER_FILES = {
    b"AC10": "a DWG file",
    b"%PDF": "a PDF file",
    b"PK\x03\x04": "a ZIP file or a workbook",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"<?xml": "an XML file",
    b"<svg": "an SVG file",
}


@dataclass(frozen=True, slots=True)
class Rest:
    """An entity that the tags show and no reader gives: kind, handle, layer; why it is lost, "" where nothing is."""

    kind: str
    handle: str
    layer: str
    lost: str
    paper: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """One opened file.

    Attributes:
        document: the parsed file, None where no reader could open it.
        trouble: what was wrong and mended, "" where all went well.
        unit: mm per drawing unit by the header, None where the header is silent or states one that is not read.
        scanned: entities of the model space by the bare tags, and those that stand in no space.
        version: $ACADVER of the file, or "".
        words: how its names and texts are read.
        rest: entities of both spaces, and of none, that are not in the document.
        unit_stated: the code of a unit that is not read, "" for none.
        lifted: plain entities that are not in the document, None where all are.
    """

    document: "Document | None"
    trouble: str
    unit: float | None
    scanned: int
    version: str
    words: Words
    rest: tuple[Rest, ...] = ()
    unit_stated: str = ""
    lifted: Lifted | None = None


def open_source(path: Path) -> Source:
    """Read the file with the strict reader, and with the others where it is damaged.

    Raises:
        DrawingError: the file is not there, is a folder, or may not be read.
    """
    data = _bytes(path)
    lifted = lift(data)
    if lifted is not None:
        told = _told_by(lifted.head, len(lifted), data)
        document = _opened(lifted.rest, told.words)
        if document is not None and _complete(document, lifted):
            return replace(told, document=document, lifted=replace(lifted, rest=b""))
    told, found = _told(data)
    document, trouble = _strict(path, data, told.words)
    if document is not None and _sound(document, found):
        return replace(told, document=document)
    other = next((name for sign, name in OTHER_FILES.items() if data.startswith(sign)), "")
    if not data.strip():
        other = "empty"
    if other:
        return Source(None, f"it is {other}", None, 0, "", told.words)
    return _mended(path, data, document, trouble, told.words)


@dataclass(frozen=True, slots=True)
class _Count:
    """How many entities each space of a file has by its bare tags, and whether all stand where they may."""

    model: int
    paper: int
    sound: bool


def _told(data: bytes) -> tuple[Source, _Count]:
    """What the bare tags tell of a file that no reader has opened yet; they and their records are heavy, and let go."""
    tags = binary_tags(data) if is_binary(data) else text_tags(data)
    written = b"".join(tags.values) if is_binary(data) else data
    found = survey(tags)
    count = _Count(found.model, found.paper, found.sound)
    return _told_by(tags, count.model + len(found.astray), written), count


def _told_by(tags: Tags, scanned: int, written: bytes) -> Source:
    """What the tags of the header tell, of a file that holds so many entities and these words."""
    version = header(tags, "$ACADVER")
    words = Words.of(written, version >= FIRST_UTF8, header(tags, "$DWGCODEPAGE"))
    return Source(None, "", _unit(tags), scanned, version, words, (), _other_unit(tags))


def reachable(path: Path) -> None:
    """Look whether a drawing can be read at all.

    Raises:
        DrawingError: the file is not there, is a folder, or may not be read.
    """
    with _told_apart(path), path.open("rb"):
        pass


def _bytes(path: Path) -> bytes:
    with _told_apart(path):
        return path.read_bytes()


@contextmanager
def _told_apart(path: Path) -> Iterator[None]:
    """What keeps a file from being read, in a sentence each."""
    try:
        if path.exists() and not path.is_dir() and not path.is_file():  # a pipe is waited for, a device has no end
            raise DrawingError(f"{path.name} is a pipe or a device, no file", "Name a DXF file.")
        yield
    except FileNotFoundError:
        raise DrawingError(
            f"there is no drawing {path.name}", f"Look in the folder {path.parent.absolute().name or path.parent}."
        ) from None
    except IsADirectoryError:
        raise DrawingError(f"{path.name} is a folder", "Name a DXF file in it.") from None
    except OSError as error:
        raise DrawingError(f"{path.name} cannot be read ({error.strerror})", "Look at its permissions.") from None


def _strict(path: Path, data: bytes, words: Words) -> "tuple[Document | None, str]":
    """What the strict reader makes of a file, names that it refuses put so that it takes them."""
    try:
        from ezdxf.filemanagement import readfile

        document = readfile(path, encoding=words.override)
        document.modelspace()  # some damage takes it away
        return document, ""
    except Exception as error:  # the reader raises far more than its own errors on damaged files
        again = None if is_binary(data) else _opened(data, words, named=True)
        return again, "" if again is not None else _sentence(error, path)


def _opened(rest: bytes, words: Words, named: bool = False) -> "Document | None":
    """What the strict reader makes of the rest of a file, None where it does not open it.

    Args:
        rest: a text file.
        words: how its names are read.
        named: True puts names that the reader refuses so that it takes them.
    """
    from ezdxf.filemanagement import dxf_stream_info, read

    try:
        told = dxf_stream_info(io.TextIOWrapper(io.BytesIO(rest), "utf-8", "ignore")).encoding
        text = io.TextIOWrapper(io.BytesIO(rest), words.override or told, "surrogateescape")
        if named:
            lines = text.readlines()
            safe = readable(lines)
            document = read(io.StringIO("".join(safe))) if safe != lines else None
        else:
            document = read(text)
        if document is not None:
            document.modelspace()
        return document
    except Exception:  # the whole file is then read by itself, and what is wrong with it told
        return None


def _complete(document: "Document", lifted: Lifted) -> bool:
    """True where the document holds the rest of the entities, in their order, and no handle stands twice in the file.

    An entity is in paper space where what it says holds it is that.
    """
    own = [handle for one in lifted.plain for handle in one.handles]
    every = {*own, *lifted.handles}
    once = len(every) == len(lifted) and {*own}.isdisjoint(document.entitydb.keys())
    paper = str(document.block_records.get("*Paper_Space").dxf.handle)
    whole = len(_sheets(document)) == lifted.paper and _handles(document) == lifted.handles
    return once and paper not in lifted.owners and whole


def _sentence(error: Exception, path: Path) -> str:
    """What a reader said, without the folder and shortened; where it broke off by itself, that it did."""
    from ezdxf.lldxf.const import DXFError

    if isinstance(error, OSError):
        return "it does not begin as a DXF file does"
    if not isinstance(error, DXFError):
        return "the reader breaks off in it"
    said = " ".join(str(error).replace(str(path), path.name).split()).rstrip(".")
    said = said.removeprefix("DXFStructureError: ")
    return said if 0 < len(said) <= LONGEST else f"{said[:LONGEST]}..." if said else type(error).__name__


def _handles(document: "Document") -> list[str]:
    """Handles of the model space."""
    return [str(entity.dxf.handle) for entity in document.modelspace()]


def _sheets(document: "Document") -> list[str]:
    """Handles of the paper space, all sheets together."""
    return [str(entity.dxf.handle) for sheet in document.layouts if sheet.name != "Model" for entity in sheet]


def _sound(document: "Document", found: _Count) -> bool:
    """True where the document holds as many entities as the tags, each with a handle of its own."""
    handles = _handles(document)
    whole = found.sound and len(_sheets(document)) == found.paper
    return whole and len(handles) == found.model == len(set(handles))


def _mended(path: Path, data: bytes, document: "Document | None", trouble: str, words: Words) -> Source:
    """The reading that shows most, of all that open the file; what it lacks is listed."""
    from fabplan.drawing.mend import mend
    from fabplan.drawing.salvage import salvage

    salvaged = salvage(data)
    tags = salvaged.tags
    version = header(tags, "$ACADVER")
    if b"0" not in tags.codes:  # the forgiving reader opens any file, as an empty drawing
        return Source(None, trouble, None, 0, version, words)
    mended = mend(salvaged)
    own = [one for one in mended.found if not one.paper]
    anew = _anew(mended, words)
    readings = [(anew, _said(trouble, mended.notes)), (document, "")]
    if document is None and not is_binary(data):
        readings.append(_recovered(path, trouble))
    known_lost = sum(bool(one.lost) for one in own)  # other readers put defaults or a part of the number in their place
    shown = [_shapes(one) + (known_lost if one is anew and one is not None else 0) for one, _ in readings]
    best, said = readings[shown.index(max(shown))]
    if best is not None and not said:
        said = "its entities are not those that its tags tell of"
    if best is None:
        said = readings[-1][1] or trouble
    rest = _rest(best, mended.found, words)
    return Source(best, said, _unit(tags), len(own), version, words, rest, _other_unit(tags))


def _anew(mended: "Mended", words: Words) -> "Document | None":
    """The mended file as the strict reader reads it."""
    from ezdxf.filemanagement import read

    lines = [words.decoded(line.replace(b"\r", b" ").replace(b"\n", b" ")) for line in mended.lines]
    try:
        document = read(io.StringIO("\n".join(readable(lines)) + "\n"))
        document.modelspace()
        return document
    except Exception:  # damage that the mending does not know
        return None


def _recovered(path: Path, first: str) -> "tuple[Document | None, str]":
    from ezdxf import recover

    try:
        document, auditor = recover.readfile(path)
        document.modelspace()
    except Exception as error:  # the forgiving reader raises all kinds too
        second = _sentence(error, path)
        return None, first if second == first else f"{first}; {second}"
    if any(int(fault.code) == FATAL for fault in (*auditor.errors, *auditor.fixes)):
        return None, f"{first}; numbers in it cannot be read"
    faults = len(auditor.errors) + len(auditor.fixes)
    mended = f", {faults} fault{'s' if faults > 1 else ''} mended" if faults else ""
    return document, f"{first}; opened by the forgiving reader{mended}"


def _said(trouble: str, notes: Counter[str]) -> str:
    """What the strict reader said and what was mended, in one sentence."""
    mended = [what if count == 1 else f"{count} times {what}" for what, count in notes.items() if count]
    return "; ".join([trouble] * bool(trouble) + ["mended: " + ", ".join(mended)] * bool(mended))


def _shapes(document: "Document | None") -> int:
    """How many lines and texts a document shows; less than none where it could not be opened."""
    from fabplan.drawing.mend import NEEDED

    return -1 if document is None else sum(entity.dxftype() in NEEDED for entity in document.modelspace())


def _rest(document: "Document | None", found: "list[Found]", words: Words) -> tuple[Rest, ...]:
    """Entities that the tags show and the document lacks."""
    from fabplan.drawing.mend import NEEDED

    known = {*_handles(document), *_sheets(document)} if document is not None else set()
    rest = []
    for one in found:
        if one.handle not in known:
            lost = one.lost or ("no reader can read it" if one.kind in NEEDED else "")
            layer = words.plain(words.decoded(one.layer))
            rest.append(Rest(words.plain(one.kind), one.handle, layer, lost, one.paper))
    return tuple(rest)


DIGITS = 4  # of the code of a unit: what has more is none


def _unit(tags: Tags) -> float | None:
    stated = header(tags, "$INSUNITS")
    return UNITS.get(int(stated)) if stated.lstrip("-").isdigit() and len(stated) <= DIGITS else None


def _other_unit(tags: Tags) -> str:
    """The code of a unit that the header states and that is not read here, "" where it is silent or one of `UNITS`."""
    stated = header(tags, "$INSUNITS")
    if not stated.isdigit():
        return ""
    return stated[:DIGITS] if len(stated) > DIGITS or int(stated) not in (0, *UNITS) else ""
