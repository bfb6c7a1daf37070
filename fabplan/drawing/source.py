"""Opening a DXF file that nobody vouches for, and counting its entities a second time from the bare tags."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fabplan.errors import DrawingError

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document

FATAL = 117  # ezdxf's code for a number that cannot be read: it takes what stands before a decimal comma, and goes on
BINARY = b"AutoCAD Binary DXF"  # first words of a binary file, fixed by the DXF reference
UNITS = {1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}  # $INSUNITS of the DXF reference: inch, foot, mm, cm, m
UNIT_NAMES = {25.4: "inch", 304.8: "foot", 1.0: "mm", 10.0: "cm", 1000.0: "metre"}


@dataclass(frozen=True, slots=True)
class Source:
    """One opened file.

    Attributes:
        document: the parsed file, None where no reader could open it.
        trouble: what the readers said, "" where all went well.
        unit: mm per drawing unit by the header, None where the header is silent.
        scanned: entities of the model space by the bare tags, -1 for a binary file.
        version: $ACADVER of the file, or "".
    """

    document: "Document | None"
    trouble: str
    unit: float | None
    scanned: int
    version: str


def open_source(path: Path) -> Source:
    """Read the file with the strict reader, then with the forgiving one.

    Raises:
        DrawingError: the file is not there, is a folder, or may not be read.
    """
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        raise DrawingError(f"there is no drawing {path.name}", f"Look in the folder {path.parent}.") from None
    except IsADirectoryError:
        raise DrawingError(f"{path.name} is a folder", "Name a DXF file in it.") from None
    except OSError as error:
        raise DrawingError(f"{path.name} cannot be read ({error.strerror})", "Look at its permissions.") from None
    document, trouble = _parsed(path, data)
    tags = list(_tags(data))
    return Source(document, trouble, _unit(tags), _count(data, tags), _header(tags, "$ACADVER"))


def _parsed(path: Path, data: bytes) -> "tuple[Document | None, str]":
    with _without_collecting():
        try:
            from ezdxf.filemanagement import readfile

            return readfile(path), ""
        except Exception as error:  # the reader raises far more than its own errors on damaged files
            first = _sentence(error, path)
        if data.startswith(BINARY):  # the forgiving reader reads no binary file
            return None, first
        return _recovered(path, first)


@contextmanager
def _without_collecting() -> Iterator[None]:
    """No search for garbage while a file is read: it makes no garbage, only tens of thousands of objects."""
    collecting = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collecting:
            gc.enable()


def _sentence(error: Exception, path: Path) -> str:
    """What a reader said, without the folder."""
    return " ".join(str(error).replace(str(path), path.name).split()).rstrip(".") or type(error).__name__


def _recovered(path: Path, first: str) -> "tuple[Document | None, str]":
    from ezdxf import recover

    try:
        document, auditor = recover.readfile(path)
    except Exception as error:  # the forgiving reader raises all kinds too
        second = _sentence(error, path)
        return None, first if second == first else f"{first}; {second}"
    if any(int(fault.code) == FATAL for fault in (*auditor.errors, *auditor.fixes)):
        return None, f"{first}; numbers in it cannot be read, a decimal comma perhaps"
    faults = len(auditor.errors) + len(auditor.fixes)
    mended = f", {faults} fault{'s' if faults > 1 else ''} mended" if faults else ""
    return document, f"{first}; opened by the forgiving reader{mended}"


def _tags(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Group codes and values of an ASCII file; stops where the pairs break."""
    if data.startswith(BINARY):
        return
    lines = data.splitlines()
    for code, value in zip(lines[0::2], lines[1::2], strict=False):
        try:
            yield int(code), value.strip()
        except ValueError:
            return


def _header(tags: list[tuple[int, bytes]], name: str) -> str:
    key = name.encode()
    for place, (code, value) in enumerate(tags[:-1]):
        if code == 9 and value == key:
            return tags[place + 1][1].decode("ascii", "replace")
        if code == 0 and value == b"ENDSEC":
            break
    return ""


def _unit(tags: list[tuple[int, bytes]]) -> float | None:
    stated = _header(tags, "$INSUNITS")
    return UNITS.get(int(stated)) if stated.lstrip("-").isdigit() else None


def _count(data: bytes, tags: list[tuple[int, bytes]]) -> int:
    """Entities of the model space: records of ENTITIES less those of paper space and those that belong to others."""
    if data.startswith(BINARY):
        return -1
    inside, count, own = False, 0, False
    for place, (code, value) in enumerate(tags):
        if code == 2 and place and tags[place - 1] == (0, b"SECTION"):
            inside = value == b"ENTITIES"
        elif inside and code == 0:
            own = value not in (b"VERTEX", b"SEQEND", b"ATTRIB", b"ENDSEC", b"EOF")
            count += own
            inside = value != b"ENDSEC"
        elif inside and own and code == 67 and value == b"1":
            count -= 1
            own = False
    return count
