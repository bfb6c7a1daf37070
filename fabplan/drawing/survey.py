"""Every entity of a DXF file by its bare tags, and where it stands: model space, paper space, a block, or nowhere.

record   the tags of one entity: from its group 0 to the next that does not belong to it
astray   an entity where the DXF reference has none: outside all sections, in a section of another kind, between blocks
"""

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from fabplan.drawing.tags import Tags

OWNED = {b"VERTEX": b"POLYLINE", b"ATTRIB": b"INSERT"}  # kinds that belong to the record before them
SECTIONS = frozenset(
    {b"HEADER", b"CLASSES", b"TABLES", b"BLOCKS", b"ENTITIES", b"OBJECTS", b"THUMBNAILIMAGE", b"ACDSDATA"}
)
DRAWN = frozenset(  # entities of the DXF reference, as objects and rows of tables are not called
    b"3DFACE 3DSOLID ACAD_PROXY_ENTITY ACAD_TABLE ARC ARC_DIMENSION ATTDEF ATTRIB BODY CIRCLE DIMENSION ELLIPSE HATCH "
    b"HELIX IMAGE INSERT LARGE_RADIAL_DIMENSION LEADER LINE LWPOLYLINE MESH MLINE MPOLYGON MTEXT MULTILEADER OLE2FRAME "
    b"OLEFRAME POINT POLYLINE RAY REGION SHAPE SOLID SPLINE SURFACE TEXT TOLERANCE TRACE VERTEX VIEWPORT WIPEOUT "
    b"XLINE".split()
)
MARKS = frozenset(b"SECTION ENDSEC EOF TABLE ENDTAB BLOCK ENDBLK SEQEND CLASS".split())  # what is no entity itself
MODEL = b"*MODEL_SPACE", b"$MODEL_SPACE"  # how the blocks are called that stand for the two, the second up to R12
PAPER = b"*PAPER_SPACE", b"$PAPER_SPACE"
SPACES = *MODEL, *PAPER


@dataclass(frozen=True, slots=True)
class Record:
    """One entity of the file by its tags.

    Attributes:
        kind: DXF type.
        first, last: its first tag, and the one past its last.
        paper: True in paper space.
        astray: why it stands nowhere, "" where it stands in one of the two spaces or in a block.
    """

    kind: str
    first: int
    last: int
    paper: bool = False
    astray: str = ""


@dataclass(slots=True)
class Block:
    """One block: its name as written, its own record and those in it, and whether its end is there."""

    name: bytes
    head: Record
    body: list[Record] = field(default_factory=list)
    ended: bool = False


@dataclass(slots=True)
class Survey:
    """All entities of a file: of model and paper space in their order, of the blocks, and those that stand nowhere.

    `sections` tells how many sections ENTITIES it has.
    """

    spaces: list[Record] = field(default_factory=list)
    blocks: list[Block] = field(default_factory=list)
    astray: list[Record] = field(default_factory=list)
    sections: int = 0

    @property
    def model(self) -> int:
        """How many entities the model space has."""
        return sum(not record.paper for record in self.spaces)

    @property
    def paper(self) -> int:
        """How many entities the paper space has, all sheets together."""
        return len(self.spaces) - self.model

    @property
    def sound(self) -> bool:
        """True where nothing stands astray, and each block ends and has a name of its own."""
        names = Counter(block.name.upper() for block in self.blocks)
        return not self.astray and all(block.ended for block in self.blocks) and max(names.values(), default=1) == 1


def survey(tags: Tags) -> Survey:
    """The entities of a file; those of no section are of the model space where the file has no sections at all."""
    marks = [place for place, code in enumerate(tags.codes) if code == b"0"]
    names = [tags.values[place].strip() for place in marks]
    found, place = Survey(), _Place(tags, whole=b"SECTION" not in names)
    bounds = [*(marks[k] for k in heads(names, 0, len(names))), len(tags.codes)]
    for first, last in pairwise(bounds):
        place.put(tags.values[first].strip(), first, last, found)
    found.spaces = list(_spaced(tags, found.spaces))
    return found


def heads(names: Sequence[bytes], first: int, last: int) -> list[int]:
    """Numbers of the names that begin an entity: all but those of what belongs to the one before."""
    found, kind = [], b""
    for k in range(first, last):
        if OWNED.get(names[k]) != kind and (names[k] != b"SEQEND" or kind not in OWNED.values()):
            kind = names[k]
            found.append(k)
    return found


class _Place:
    """Where in the file the reading is."""

    def __init__(self, tags: Tags, whole: bool) -> None:
        """Begin before the first section; `whole` takes all that follows for entities."""
        self.tags = tags
        self.section, self.inside = (b"ENTITIES", True) if whole else (b"", False)
        self.block: Block | None = None

    def put(self, name: bytes, first: int, last: int, found: Survey) -> None:
        """Put one record where it belongs."""
        if name in (b"SECTION", b"ENDSEC", b"EOF"):
            self.inside = name == b"SECTION"
            self.section = _named(self.tags, first, last) if self.inside else b""
            found.sections += self.section == b"ENTITIES"
            self.block = None
            return
        record = Record(name.decode("ascii", "replace"), first, last)
        if self.section == b"ENTITIES":
            found.spaces.append(record)
        elif self.section == b"BLOCKS" and name in (b"BLOCK", b"ENDBLK"):
            self._turn(name, record, found)
        elif self.section == b"BLOCKS" and self.block is not None:
            _into(self.block, record, found)
        elif self._is_astray(name, first, last):
            found.astray.append(replace(record, astray=self._why()))

    def _turn(self, name: bytes, record: Record, found: Survey) -> None:
        """Begin or end a block."""
        if name == b"BLOCK":
            self.block = Block(_named(self.tags, record.first, record.last), record)
            found.blocks.append(self.block)
        else:
            if self.block is not None:
                self.block.ended = True
            self.block = None

    def _is_astray(self, name: bytes, first: int, last: int) -> bool:
        """True for what is drawn, and where nothing else is known for anything that states a layer."""
        elsewhere = self.section not in SECTIONS
        return name in DRAWN or (elsewhere and name not in MARKS and b"8" in self.tags.codes[first:last])

    def _why(self) -> str:
        if not self.inside:
            return "it stands outside the sections of the file"
        if self.section == b"BLOCKS":
            return "it stands between the blocks of the file, in none of them"
        return (
            f"it stands in the section {self.section.decode('ascii', 'replace') or 'without a name'}, not in ENTITIES"
        )


def _named(tags: Tags, first: int, last: int) -> bytes:
    """The name (group 2) of a section or block, b"" where it has none."""
    named = (tags.values[k].strip() for k in range(first + 1, last) if tags.codes[k] == b"2")
    return next(named, b"")


def _into(block: Block, record: Record, found: Survey) -> None:
    """Put a record into its block; the blocks of the two spaces are these themselves."""
    name = block.name.upper()
    if name.startswith(SPACES):
        found.spaces.append(replace(record, paper=name.startswith(PAPER)))
    else:
        block.body.append(record)


def _spaced(tags: Tags, records: Iterable[Record]) -> Iterator[Record]:
    """Records with their space: that of the block which they say holds them, or else as their flag says."""
    owners = owners_of_spaces(tags)
    asked = [k for k, code in enumerate(tags.codes) if code == b"67" or (code == b"330" and _paper(tags, k, owners))]
    for record in records:
        at = bisect_right(asked, record.first)
        if at < len(asked) and asked[at] < record.last and not record.paper:
            own = range(record.first + 1, record.last)
            paper = on_paper(((tags.codes[k], tags.values[k].strip()) for k in own), owners)
            record = replace(record, paper=paper)
        yield record


def _paper(tags: Tags, place: int, owners: dict[bytes, bool]) -> bool:
    return owners.get(tags.values[place].strip(), False)


def owners_of_spaces(tags: Tags) -> dict[bytes, bool]:
    """Handles of the rows of the table of blocks that stand for the two spaces, True for paper space."""
    found = {}
    for place, code in enumerate(tags.codes):
        if code == b"0" and tags.values[place].strip() == b"BLOCK_RECORD":
            row = dict[bytes, bytes]()
            for k in range(place + 1, len(tags.codes)):
                if tags.codes[k] == b"0":
                    break
                row.setdefault(tags.codes[k], tags.values[k].strip())
            name = row.get(b"2", b"").upper()
            if name in SPACES and b"5" in row:
                found[row[b"5"]] = name in PAPER
    return found


def on_paper(own: Iterable[tuple[bytes, bytes]], owners: dict[bytes, bool]) -> bool:
    """True for an entity of paper space: its owner tells before its flag does, wherever among its tags that stands.

    Args:
        own: codes and values of its tags, the first left out; what follows the next group 0 is not asked.
        owners: handles of the two spaces, True for that of paper space.
    """
    flag, apart, base = b"", False, True
    for code, value in own:
        if code == b"0":
            break
        if code == b"102" and base:
            apart = value.startswith(b"{")
        elif code == b"100":
            base = False
        elif code == b"330" and base and not apart and value in owners:
            return owners[value]
        elif code == b"67" and not apart:
            flag = value
    return flag.lstrip(b"+-").isdigit() and int(flag) != 0
