"""The tags of a sound text file as columns, no object a tag: where each value lies, its group code, the entities."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fabplan.drawing.survey import DRAWN, MODEL, PAPER, SECTIONS, SPACES, heads, on_paper
from fabplan.drawing.tags import Tags, text_tags
from fabplan.model.arrays import BoolArray, IntArray

COMMENT = 999  # group code that every reader passes over
_WIDEST = 4  # digits of a group code
_LINE_END, _RETURN, _BLANK, _ZERO = b"\n\r 0"


@dataclass(frozen=True, slots=True, eq=False)
class Columns:
    """The tags of a file.

    Attributes:
        data: the file.
        codes: (n,) group codes.
        begin: (n,) place of the first byte of each tag.
        start: (n,) place of the first byte of its value.
        end: (n,) place past the last byte of its value, the line's end left out.
    """

    data: bytes
    codes: IntArray
    begin: IntArray
    start: IntArray
    end: IntArray

    def values(self, tags: IntArray) -> list[bytes]:
        """The values of some tags (k,), not stripped."""
        data = self.data
        return [data[a:b] for a, b in zip(self.start[tags].tolist(), self.end[tags].tolist(), strict=True)]

    def are(self, tags: IntArray, word: bytes) -> BoolArray:
        """(k,) True for tags whose value is a word, and nothing else."""
        alike: BoolArray = self.end[tags] - self.start[tags] == len(word)
        place = self.start[tags[alike]][:, None] + np.arange(len(word))
        alike[alike] = (np.frombuffer(self.data, np.uint8)[place] == np.frombuffer(word, np.uint8)).all(axis=1)
        return alike


def columns(data: bytes) -> Columns | None:
    """The columns of a text file; None where its lines or group codes are not written as is usual."""
    returns = data.count(b"\r")
    if not data.endswith(b"\n") or returns != data.count(b"\r\n"):
        return None
    signs = np.frombuffer(data, np.uint8)
    end = np.nonzero(signs == _LINE_END)[0]
    begin = np.concatenate([[0], end[:-1] + 1])
    if returns:
        end = end - (signs[np.maximum(end - 1, 0)] == _RETURN)
    count = len(end) // 2 * 2
    codes = _codes(signs, begin[0:count:2], end[0:count:2])
    return None if codes is None else Columns(data, codes, begin[0:count:2], begin[1:count:2], end[1:count:2])


def _codes(signs: npt.NDArray[np.uint8], begin: IntArray, end: IntArray) -> IntArray | None:
    """Numbers (n,) of a few digits in lines that hold nothing else but blanks before them; None where one does not."""
    codes, digits = np.zeros(len(begin), dtype=np.int64), np.ones(len(begin), dtype=np.bool_)
    for k in range(_WIDEST):
        place = end - 1 - k
        sign = np.where(place >= begin, signs[np.maximum(place, 0)], _BLANK)
        number = sign.astype(np.int64) - _ZERO
        digits &= (number >= 0) & (number <= 9)
        if not (digits if k == 0 else digits | (sign == _BLANK)).all():
            return None
        codes += np.where(digits, number * 10**k, 0)
    return codes if not len(begin) or int((end - begin).max()) <= _WIDEST else None


@dataclass(frozen=True, slots=True, eq=False)
class Entities:
    """The entities of the section ENTITIES, each with what belongs to it.

    Attributes:
        kinds: n DXF types.
        first: (n,) tag with which each begins.
        last: (n,) tag past its last.
        paper: (n,) True in paper space.
        sheets: how many entities the blocks of further sheets of paper space hold.
        head: the tags before the end of the first section.
    """

    kinds: list[bytes]
    first: IntArray
    last: IntArray
    paper: BoolArray
    sheets: int
    head: Tags


def entities(table: Columns) -> Entities | None:
    """The entities of a file with one section ENTITIES and an end mark, none of them astray; None for any other."""
    marks = np.nonzero(table.codes == 0)[0]
    names = [value.strip() for value in table.values(marks)]
    ends = [k for k, name in enumerate(names) if name in (b"SECTION", b"ENDSEC", b"EOF")]
    whole = _in_order([names[k] for k in ends]) and marks[-1] == len(table.codes) - 1
    if not whole or not (table.codes[: marks[ends[0]]] == COMMENT).all():
        return None
    titles = _named(table, marks[ends[:-1:2]])
    ours = [k for k, title in enumerate(titles) if title == b"ENTITIES"]
    sheets = _sheets(table, marks, names, list(zip(titles, ends[:-1:2], ends[1::2], strict=True)))
    if len(ours) != 1 or ends[2::2] != [k + 1 for k in ends[1::2]] or sheets is None:
        return None
    after, beyond = ends[2 * ours[0]] + 1, ends[2 * ours[0] + 1]
    first = heads(names, after, beyond)
    bounds = marks[[*first, beyond]]
    head = text_tags(table.data[: int(table.begin[marks[ends[1]]])])
    paper = _paper(table, marks, bounds, _owners(table, marks, names))
    return Entities([names[k] for k in first], bounds[:-1], bounds[1:], paper, sheets, head)


def _named(table: Columns, marks: IntArray) -> list[bytes]:
    """The name (group 2) of each record that begins with a mark (k,), b"" where it does not follow at once."""
    named = [value.strip() for value in table.values(marks + 1)]
    return [name if code == 2 else b"" for code, name in zip(table.codes[marks + 1].tolist(), named, strict=True)]


def _sheets(table: Columns, marks: IntArray, names: list[bytes], sections: list[tuple[bytes, int, int]]) -> int | None:
    """How many entities the blocks of paper space hold; None where an entity of the file may stand astray.

    Args:
        table: the file.
        marks: (n,) tags of group 0.
        names: n names of what begins there.
        sections: title of each, and the marks at its begin and end.
    """
    count = 0
    for title, begin, end in sections:
        if title == b"BLOCKS":
            held = _in_blocks(table, marks, names, begin + 1, end)
            if held is None:
                return None
            count += held
        elif title not in SECTIONS or (title != b"ENTITIES" and not DRAWN.isdisjoint(names[begin:end])):
            return None
    return count


def _in_blocks(table: Columns, marks: IntArray, names: list[bytes], first: int, last: int) -> int | None:
    """How many entities of paper space a section BLOCKS holds; None where its blocks are not whole and well named."""
    begins = [k for k in range(first, last) if names[k] == b"BLOCK"]
    ends = [k for k in range(first, last) if names[k] == b"ENDBLK"]
    follow = [first, *(k + 1 for k in ends)]
    if len(begins) != len(ends) or [*begins, last] != follow:
        return None
    codes = np.nonzero(table.codes == 2)[0]
    at = codes[np.minimum(np.searchsorted(codes, marks[begins]), len(codes) - 1)] if begins else marks[:0]
    called = [name.strip().upper() for name in table.values(at)]
    if (at > marks[np.array(begins, dtype=np.int64) + 1]).any() or len(set(called)) != len(called):
        return None
    held = [len(heads(names, a + 1, b)) for a, b in zip(begins, ends, strict=True)]
    spaces = [(name, count) for name, count in zip(called, held, strict=True) if name.startswith(SPACES)]
    return (
        None if any(count and name.startswith(MODEL) for name, count in spaces) else sum(count for _, count in spaces)
    )


def _in_order(ends: list[bytes]) -> bool:
    """True for sections that each begin and end, and an end mark."""
    count = len(ends) // 2
    return count > 0 and ends == [b"SECTION", b"ENDSEC"] * count + [b"EOF"]


def _owners(table: Columns, marks: IntArray, names: list[bytes]) -> dict[bytes, bool]:
    """Handles of the rows of the table of blocks that stand for model and paper space, True for the latter."""
    found = {}
    for k in [k for k, name in enumerate(names) if name == b"BLOCK_RECORD"]:
        own = np.arange(marks[k] + 1, marks[k + 1])
        row = dict(zip(table.codes[own].tolist()[::-1], table.values(own)[::-1], strict=True))  # the first counts
        name = row.get(2, b"").strip().upper()
        if name in SPACES and 5 in row:
            found[row[5].strip()] = name in PAPER
    return found


def _paper(table: Columns, marks: IntArray, bounds: IntArray, owners: dict[bytes, bool]) -> BoolArray:
    """(n,) True for entities of which tags of their own, not of what belongs to them, say paper space."""
    asked = table.codes == 67
    stated = np.nonzero(table.codes == 330)[0]
    for owner in [owner for owner, paper in owners.items() if paper]:
        asked[stated[table.are(stated, owner)]] = True
    places = np.nonzero(asked)[0]
    places = places[(places > bounds[0]) & (places < bounds[-1])]
    paper = np.zeros(len(bounds) - 1, dtype=np.bool_)
    for number in np.unique(np.searchsorted(bounds, places) - 1).tolist():
        own = np.arange(bounds[number] + 1, bounds[number + 1])
        codes = [b"%d" % code for code in table.codes[own].tolist()]
        values = [value.strip() for value in table.values(own)]
        paper[number] = on_paper(zip(codes, values, strict=True), owners)
    return paper
