"""The bare tags of a DXF file, text or binary, without any library: the second opinion on what the file holds.

A tag is a group code and its value, two lines of a text file.
"""

import struct
from dataclasses import dataclass

BINARY = b"AutoCAD Binary DXF"  # first words of a binary file, fixed by the DXF reference
_FLOATS = (range(10, 60), range(110, 150), range(210, 240), range(460, 470), range(1010, 1060))
_SHORTS = (range(60, 80), range(170, 180), range(270, 290), range(370, 390), range(400, 410), range(1060, 1071))
_LONGS = (range(90, 100), range(420, 430), range(440, 460), (1071,))
_BYTES, _CHUNKS, _WIDE = range(290, 300), (*range(310, 320), 1004), range(160, 170)


@dataclass(slots=True)
class Tags:
    """Columns of tags, as a text file has them.

    Attributes:
        codes: group codes, stripped.
        values: values, not stripped.
        short: True where the file ends inside a tag.
    """

    codes: list[bytes]
    values: list[bytes]
    short: bool = False


def is_binary(data: bytes) -> bool:
    """True for a binary DXF file."""
    return data.startswith(BINARY)


def text_tags(data: bytes) -> Tags:
    """Tags of a text file that is taken to be sound; line ends of any kind."""
    lines = data.splitlines()
    values = lines[1::2]
    return Tags(list(map(bytes.strip, lines[0 : 2 * len(values) : 2])), values, len(lines) % 2 == 1)


def binary_tags(data: bytes) -> Tags:
    """Tags of a binary file, up to where they break."""
    tags = Tags([], [])
    place = data.find(b"\x00") + 1
    wide = data[place : place + 2] == b"\x00\x00"  # codes of two bytes since R13; the first is that of SECTION
    while place < len(data):
        try:
            code, place = _code(data, place, wide)
            value, place = _value(data, place, code)
        except (struct.error, ValueError):
            tags.short = True
            break
        tags.codes.append(b"%d" % code)
        tags.values.append(value)
    return tags


def _code(data: bytes, place: int, wide: bool) -> tuple[int, int]:
    if wide:
        return int(struct.unpack_from("<h", data, place)[0]), place + 2
    if data[place] == 255:  # a longer code follows
        return int(struct.unpack_from("<h", data, place + 1)[0]), place + 3
    return data[place], place + 1


def is_float(code: int) -> bool:
    """True where the DXF reference has a floating point number under a group code."""
    return any(code in codes for codes in _FLOATS)


def is_whole(code: int) -> bool:
    """True where the DXF reference has a whole number under a group code."""
    return any(code in codes for codes in (*_SHORTS, *_LONGS, _BYTES, _WIDE))


def _value(data: bytes, place: int, code: int) -> tuple[bytes, int]:
    """One value of a binary file as a text file would have it, and where the next tag begins."""
    if is_float(code):
        return repr(struct.unpack_from("<d", data, place)[0]).encode(), place + 8
    for codes, form, size in ((_SHORTS, "<h", 2), (_LONGS, "<i", 4), ((_BYTES,), "<b", 1), ((_WIDE,), "<q", 8)):
        if any(code in one for one in codes):
            return b"%d" % struct.unpack_from(form, data, place)[0], place + size
    if code in _CHUNKS:
        size = data[place] if place < len(data) else 0
        end = place + 1 + size
        if place >= len(data) or end > len(data):
            raise ValueError("a chunk runs past the end")
        return data[place + 1 : end].hex().upper().encode(), end
    end = data.index(b"\x00", place)
    return data[place:end], end + 1


def header(tags: Tags, name: str) -> str:
    """The value of one variable of the header, "" where it is not there."""
    key = name.encode()
    for place, code in enumerate(tags.codes[:-1]):
        if code == b"9" and tags.values[place].strip() == key:
            return tags.values[place + 1].strip().decode("ascii", "replace")
        if code == b"0" and tags.values[place].strip() == b"ENDSEC":
            break
    return ""
