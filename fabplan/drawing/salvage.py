"""Tags of a damaged file: where pairs of lines break, reading goes on with the next entity, and the loss is kept."""

import codecs
import re
from collections import Counter
from dataclasses import dataclass, field

from fabplan.drawing.tags import Tags, binary_tags, is_binary

_NAME = re.compile(rb"\d?[A-Z][A-Z0-9_]*\Z")
_NUMBER = re.compile(rb"[-+.,\d\s]*\Z")  # what no entity is called, blank included
_CODE = re.compile(rb"-?\d{1,4}\Z")
_WIDE = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


@dataclass(slots=True)
class Salvage:
    """What could be read.

    Attributes:
        tags: those that hold together.
        broken: places of the group 0 of each entity in which tags broke.
        notes: kinds of damage, each with a count.
    """

    tags: Tags
    broken: set[int] = field(default_factory=set)
    notes: Counter[str] = field(default_factory=Counter)


def salvage(data: bytes) -> Salvage:
    """All tags of a file that hold together."""
    if is_binary(data):
        found = Salvage(binary_tags(data))
    else:
        wide = data[:2] in _WIDE
        if wide:
            data = data.decode("utf-16", "replace").encode()
        found = _of_lines(data.removeprefix(codecs.BOM_UTF8).splitlines())
        found.notes["two bytes for every sign"] += wide
        found.notes["a byte order mark before the first line"] += data.startswith(codecs.BOM_UTF8) and not wide
        found.tags.short |= not data.endswith((b"\n", b"\r"))
    if not _ends(found.tags):
        found.notes["the file ends without its end mark"] += 1
    else:
        found.tags.short = False
    return found


def _ends(tags: Tags) -> bool:
    return any(
        code == b"0" and value.strip() == b"EOF" for code, value in zip(tags.codes[-3:], tags.values[-3:], strict=True)
    )


def _of_lines(lines: list[bytes]) -> Salvage:
    found = Salvage(Tags([], []))
    start = _next_name(lines, 0, over_blanks=True)
    if start and any(line.strip() for line in lines[:start]) and lines[0].strip() != b"999":
        found.notes["text before the first tag"] += 1
    elif start and lines[0].strip() != b"999":
        found.notes["blank lines before the first tag"] += 1
    if _spaced(lines, start):
        found.notes["a blank line after every line"] += 1
        lines, start = lines[start::2], 0
    _pairs(lines, start, found)
    return found


def _spaced(lines: list[bytes], start: int) -> bool:
    """True where every other line is blank, as line ends of three signs give it."""
    rest = lines[start + 1 : start + 20 : 2]
    return len(rest) > 2 and not any(line.strip() for line in rest)


def _pairs(lines: list[bytes], place: int, found: Salvage) -> None:
    codes, values = found.tags.codes, found.tags.values
    entity = 0
    while place + 1 < len(lines):
        code, value = lines[place].strip(), lines[place + 1]
        if _CODE.match(code) and (code != b"0" or not _NUMBER.match(value.strip())):
            if code == b"0":
                entity = len(codes)
            codes.append(code)
            values.append(value)
            place += 2
            continue
        found.broken.add(entity)
        following = _next_name(lines, place - 1)
        if following < place:  # a line is missing: the code 0 of the next entity was taken for a value
            codes.pop()
            values.pop()
        found.notes["lines that are no tags"] += max(following - place, 1)
        place = following
    found.tags.short = place + 1 == len(lines) and bool(lines[place].strip())


def _next_name(lines: list[bytes], place: int, over_blanks: bool = False) -> int:
    """The next line that is a group code 0 with a name under it; the end where there is none.

    Args:
        lines: of the file.
        place: where to begin.
        over_blanks: True lets one blank line stand between the two.
    """
    for here in range(max(place, 0), len(lines) - 1):
        if lines[here].strip() == b"0":
            below = lines[here + 1].strip()
            if over_blanks and not below and here + 2 < len(lines):
                below = lines[here + 2].strip()
            if _NAME.match(below):
                return here
    return len(lines)
