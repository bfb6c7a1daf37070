"""The tags of a sound text file as columns, no object a tag: where each value lies, its group code, the entities."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from fabplan.drawing.tags import OWNED, Tags, text_tags
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
        head: the tags before the end of the first section.
    """

    kinds: list[bytes]
    first: IntArray
    last: IntArray
    paper: BoolArray
    head: Tags


def entities(table: Columns) -> Entities | None:
    """The entities of a file with one section ENTITIES and an end mark; None for any other."""
    marks = np.nonzero(table.codes == 0)[0]
    names = [value.strip() for value in table.values(marks)]
    ends = [k for k, name in enumerate(names) if name in (b"SECTION", b"ENDSEC", b"EOF")]
    whole = _in_order([names[k] for k in ends]) and marks[-1] == len(table.codes) - 1
    if not whole or not (table.codes[: marks[ends[0]]] == COMMENT).all():
        return None
    sections = np.array(ends[:-1:2])
    named = marks[sections] + 1
    titles = [value.strip() for value in table.values(named)]
    ours = [k for k, title in enumerate(titles) if table.codes[named[k]] == 2 and title == b"ENTITIES"]
    if len(ours) != 1:
        return None
    after, beyond = ends[2 * ours[0]] + 1, ends[2 * ours[0] + 1]
    heads = _heads(names, after, beyond)
    bounds = marks[[*heads, beyond]]
    head = text_tags(table.data[: int(table.begin[marks[ends[1]]])])
    return Entities([names[k] for k in heads], bounds[:-1], bounds[1:], _paper(table, marks, bounds), head)


def _in_order(ends: list[bytes]) -> bool:
    """True for sections that each begin and end, and an end mark."""
    count = len(ends) // 2
    return count > 0 and ends == [b"SECTION", b"ENDSEC"] * count + [b"EOF"]


def _heads(names: list[bytes], first: int, last: int) -> list[int]:
    """Numbers of the names that begin an entity: all but those of what belongs to the one before."""
    heads, kind = [], b""
    for k in range(first, last):
        if OWNED.get(names[k]) != kind and (names[k] != b"SEQEND" or kind not in OWNED.values()):
            kind = names[k]
            heads.append(k)
    return heads


def _paper(table: Columns, marks: IntArray, bounds: IntArray) -> BoolArray:
    """(n,) True for entities of which a tag of their own, not of what belongs to them, says paper space."""
    flags = np.nonzero(table.codes == 67)[0]
    flags = flags[(flags > bounds[0]) & (flags < bounds[-1])]
    flags = flags[[value.strip() == b"1" for value in table.values(flags)]]
    mark, number = marks[np.searchsorted(marks, flags) - 1], np.searchsorted(bounds, flags) - 1
    paper = np.zeros(len(bounds) - 1, dtype=np.bool_)
    paper[number[mark == bounds[number]]] = True
    return paper
