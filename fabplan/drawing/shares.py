"""One file of several pieces, shared out among the parts that a job names: each entity and each fault told once.

A piece goes with the part whose mark it bears: as its largest text, as another of its texts, or at the head of one
("PART P2", "P2 t = 10"). What goes with no part is the rest.
"""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from fabplan.drawing.fingerprint import fingerprint
from fabplan.drawing.folding import lines_of_no_piece
from fabplan.drawing.hole_faults import outside, overlapping
from fabplan.drawing.nesting import wrong_nesting
from fabplan.drawing.say import finding
from fabplan.drawing.split import SEVERAL, label_owners, one_by_one, some
from fabplan.geom.holders import holders
from fabplan.geom.inside import near_edge
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import SAGITTA
from fabplan.model.drawing import Drawing, Entry, Line, Shape
from fabplan.model.finding import Finding, Where

REST = "the rest"
BESIDE = 1.0  # mm from the edge of a piece within which a fault is its own
MEND = "Write the mark of its part, as the job has it, on each piece, or give each piece a file of its own."
_HEAD = r"^\W*(?:(?:part|piece|mark|item|plate|pos|no)\b[.:]?\s*)"


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """The drawing of each part by its mark; what goes with none of them, None where nothing is left."""

    pieces: Mapping[str, Drawing]
    rest: Drawing | None = None


@dataclass(frozen=True, slots=True, eq=False)
class _Owners:
    """Whose the pieces of a file are, and what belongs to which.

    Attributes:
        drawing: the file.
        marks: (k,) of the part of each piece, "" for no part's.
        every: (k,) each piece by itself.
        metal: for each handle the pieces of which it draws metal or a line.
        account: for each handle of the account the mark that it is counted with, those of the rest left out.
        hole: for each hole by its number the piece in which it lies, -1 for none.
    """

    drawing: Drawing
    marks: Sequence[str]
    every: Sequence[Drawing]
    metal: Mapping[str, Sequence[int]]
    account: Mapping[str, str]
    hole: Mapping[str, int]

    def of(self, one: Finding) -> str:
        """The mark of the part that a finding is about, or `REST`: by its holes, its handles, else its place."""
        if one.where.holes:
            at = self.hole[one.where.holes[0]]
            return self.marks[at] or REST if at >= 0 else REST
        known = [{*self.metal.get(handle, ())} for handle in one.where.handles]
        about = dict.fromkeys(number for own in known for number in sorted(own))
        if len(about) != 1 and one.where.xy is not None:
            at = self._at(one.where.xy)
            if at >= 0 and (at in about or not about):
                about = {at: None}
        counted = next((self.account[handle] for handle in one.where.handles if handle in self.account), REST)
        return next((self.marks[number] or REST for number in about), counted)

    def _at(self, xy: tuple[float, float]) -> int:
        """The piece in which a place lies, or at most `BESIDE` from its edge; -1 for none."""
        outlines, place = [piece.outline for piece in self.every if piece.outline is not None], np.array([xy])
        inner = int(holders(outlines, place)[0])
        near = (k for k, outline in enumerate(outlines) if near_edge(outline, place, BESIDE)[0])
        return inner if inner >= 0 else next(near, -1)


def shared_out(drawing: Drawing, parts: Mapping[str, float | None]) -> Shares:
    """The pieces of one file among parts.

    Where the file holds one piece, or none of its pieces bears a mark of them, it goes whole to each part.

    Args:
        drawing: as read.
        parts: the thickness of each part that the job draws in this file, mm, by its mark.
    """
    borne = _borne(drawing, list(parts)) if drawing.shapes else {}
    if not borne:
        return Shares(dict.fromkeys(parts, drawing))
    owners = _owners(drawing, borne)
    shares = {
        mark: _piece(replace(owners.every[borne[mark]], thickness=parts[mark]), mark, owners)
        if mark in borne
        else _missing(drawing, mark)
        for mark in parts
    }
    rest = _rest(owners)
    told: dict[str, list[Finding]] = {REST: list(_of_no_part(owners))}
    first = next(iter(borne))
    for one in (*(found for found in drawing.findings if found.check != SEVERAL), *_between(owners)):
        mark = owners.of(one)
        told.setdefault(first if mark == REST and rest is None else mark, []).append(one)
    named = {mark: _with(share, told.get(mark, ())) for mark, share in shares.items()}
    return Shares(named, _with(rest, told[REST]) if rest is not None else None)


def _borne(drawing: Drawing, marks: Sequence[str]) -> dict[str, int]:
    """The piece of each part whose mark it alone bears: as its label, as another text, else at the head of one."""
    owner = label_owners(drawing)
    texts = [
        [drawing.labels[k].text.strip() for k in np.nonzero(owner == n)[0].tolist()] for n in range(len(drawing.shapes))
    ]
    labels = [[shape.label.strip()] for shape in drawing.shapes]
    found: dict[str, int] = {}
    for written, whole in ((labels, True), (texts, True), (texts, False)):
        fresh: dict[str, list[int]] = {}
        for mark in marks:
            if mark not in found:
                bears = _names(mark, marks, whole)
                free = [n for n in range(len(written)) if n not in found.values()]
                fresh[mark] = [n for n in free if any(bears.search(line) for line in written[n])]
        taken = [own[0] for own in fresh.values() if len(own) == 1]
        found |= {mark: own[0] for mark, own in fresh.items() if len(own) == 1 and taken.count(own[0]) == 1}
    return found


def _names(mark: str, marks: Sequence[str], whole: bool) -> re.Pattern[str]:
    """What says that a piece is a part's: its mark alone, or with the hand of one of a pair; or at a text's head."""
    hands = "".join(hand for hand in "RL" if f"{mark}{hand}".casefold() not in {one.casefold() for one in marks})
    name = re.escape(mark) + (f"[{hands}]?" if hands else "")
    if whole:
        return re.compile(rf"^{name}$", re.IGNORECASE)
    head = _HEAD if mark.isdigit() else f"{_HEAD}?"  # a figure at the head of a text may count
    return re.compile(rf"{head}{name}(?![\w/-]|\.\w)", re.IGNORECASE)


def _owners(drawing: Drawing, borne: Mapping[str, int]) -> _Owners:
    every, by_piece = one_by_one(drawing), {number: mark for mark, number in borne.items()}
    metal: dict[str, list[int]] = {}
    account: dict[str, str] = {}
    marks = [by_piece.get(number, "") for number in range(len(drawing.shapes))]
    for of_piece in (_of_metal, _of_lines):
        for number, shape in enumerate(drawing.shapes):
            for handle in of_piece(shape, every[number]):
                metal.setdefault(handle, []).append(number)
    for number, piece in enumerate(every):
        for label in piece.labels:
            metal.setdefault(label.handle, []).append(number)
    for handle, numbers in metal.items():
        named = [marks[number] for number in numbers if marks[number]]
        if named:
            account[handle] = named[0]
    held = holders([shape.outline for shape in drawing.shapes], drawing.holes.xy)
    hole = dict(zip(drawing.holes.number, held.tolist(), strict=True))
    return _Owners(drawing, marks, every, metal, account | _twins(drawing, account), hole)


def _of_metal(shape: Shape, piece: Drawing) -> Iterator[str]:
    """Handles of the outline, the cut-outs and the holes of a piece."""
    yield from (handle for profile in (shape.outline, *shape.cutouts) for handle in profile.handles)
    yield from piece.holes.handle


def _of_lines(shape: Shape, piece: Drawing) -> Iterator[str]:
    """Handles of the lines that run in a piece."""
    yield from (line.handle for line in (*piece.folds, *piece.rolls, *piece.marks, *piece.open_lines, *piece.aside))


def _twins(drawing: Drawing, account: Mapping[str, str]) -> dict[str, str]:
    """What is drawn twice is counted with its twin."""
    found = {}
    for one in drawing.findings:
        marks = [account[handle] for handle in one.where.handles if handle in account]
        if one.check == "doubled-line" and marks:
            found.update({handle: marks[0] for handle in one.where.handles if handle not in account})
    return found


def _piece(alone: Drawing, mark: str, owners: _Owners) -> Drawing:
    """A piece with the entries of the account that are counted with it, named within its file."""
    assert alone.outline is not None
    reasons = dict.fromkeys(alone.outline.handles, "outer profile")
    reasons |= {handle: "cut-out" for cutout in alone.cutouts for handle in cutout.handles}
    account = tuple(_used(entry, reasons) for entry in alone.account if owners.account.get(entry.handle) == mark)
    handles = {*reasons, *alone.holes.handle}
    own = replace(
        alone,
        name=f"{alone.name} ({mark})",
        account=account,
        scanned=len(account),
        fits=tuple(fit for fit in alone.fits if handles & {*fit.handles}),
        findings=(),
        paper=(),
    )
    return replace(own, fingerprint=fingerprint(own))


def _used(entry: Entry, reasons: Mapping[str, str]) -> Entry:
    """The entry of an outline that is one too many for a file, but its part's own."""
    if entry.reason == "one profile too many" and entry.handle in reasons:
        return replace(entry, fate="used", reason=reasons[entry.handle])
    return entry


def _missing(drawing: Drawing, mark: str) -> Drawing:
    """The drawing of a part whose piece is not to be told."""
    labels = ", ".join(shape.label or "without a mark" for shape in drawing.shapes)
    what = f"which of the {len(drawing.shapes)} pieces in {drawing.name} is {mark} is not to be told: {labels}"
    own = Drawing(f"{drawing.name} ({mark})", units=drawing.units, dxf_version=drawing.dxf_version)
    figures = (float(len(drawing.shapes)), 1.0, "profiles")
    return replace(own, findings=(finding(SEVERAL, what, MEND, Where(drawing=own.name), figures),))


def _rest(owners: _Owners) -> Drawing | None:
    """What goes with no part, each at its place, the pieces of the others beside it; None where that is nothing."""
    drawing, marks = owners.drawing, owners.marks
    shapes = tuple(shape for shape, mark in zip(drawing.shapes, marks, strict=True) if not mark)
    free = np.array([k < 0 or not marks[k] for k in owners.hole.values()], dtype=np.bool_)
    named = [piece for piece, mark in zip(owners.every, marks, strict=True) if mark]

    def left(kind: str) -> tuple[Line, ...]:
        taken = {id(line) for piece in named for line in getattr(piece, kind)}
        return tuple(line for line in getattr(drawing, kind) if id(line) not in taken)

    account = tuple(entry for entry in drawing.account if entry.handle not in owners.account)
    own = replace(
        drawing,
        name=f"{drawing.name} ({REST})",
        outline=shapes[0].outline if shapes else None,
        cutouts=shapes[0].cutouts if shapes else (),
        holes=some(drawing.holes, np.nonzero(free)[0]),
        shapes=shapes if len(shapes) > 1 else (),
        folds=left("folds"),
        rolls=left("rolls"),
        marks=left("marks"),
        open_lines=left("open_lines"),
        aside=left("aside"),
        labels=tuple(label for label in drawing.labels if label.handle not in owners.account),
        account=account,
        scanned=drawing.scanned - (len(drawing.account) - len(account)),
        fits=tuple(fit for fit in drawing.fits if not {*fit.handles} & {*owners.account}),
        findings=(),
    )
    lines = (*own.folds, *own.rolls, *own.marks, *own.open_lines)
    if not (account or shapes or free.any() or lines):
        return None
    return replace(own, fingerprint=fingerprint(own), aside=(*own.aside, *_neighbours(named)))


def _neighbours(pieces: Sequence[Drawing]) -> Iterator[Line]:
    """The outlines of pieces, to show where something lies beside them."""
    for piece in pieces:
        if piece.outline is not None:
            ring = flattened(piece.outline, SAGITTA)
            yield Line("", np.vstack([ring, ring[:1]]))


def _between(owners: _Owners) -> Iterator[Finding]:
    """Holes of unlike pieces, or of none, that run into one another."""
    for one in overlapping(owners.drawing):
        if len({owners.hole[name] for name in one.where.holes}) > 1:
            yield one


def _of_no_part(owners: _Owners) -> Iterator[Finding]:
    """What lies in no piece, or in one that is no part's."""
    drawing, marks = owners.drawing, owners.marks
    shapes = [shape for shape, mark in zip(drawing.shapes, marks, strict=True) if not mark]
    free = [k for k, piece in enumerate(owners.hole.values()) if piece < 0]
    alone = replace(drawing, holes=some(drawing.holes, np.array(free, dtype=np.int64)))
    yield from outside(alone)
    yield from overlapping(alone)
    for one in wrong_nesting(drawing):
        if any({*one.where.handles} & {*shape.outline.handles} for shape in shapes):
            yield one
    if shapes:
        labels = ", ".join(shape.label or "without a mark" for shape in shapes)
        many = "a piece that is" if len(shapes) == 1 else f"{len(shapes)} pieces that are"
        x, y = shapes[0].outline.vertices[0].tolist()
        handles = tuple(handle for shape in shapes for handle in shape.outline.handles)
        where, figures = Where(drawing=drawing.name, handles=handles, xy=(x, y)), (float(len(shapes)), 0.0, "profiles")
        yield finding(SEVERAL, f"{many} no part's of the job: {labels}", MEND, where, figures)
    yield from lines_of_no_piece(replace(drawing, folds=_of_none(owners, "folds"), rolls=_of_none(owners, "rolls")))


def _of_none(owners: _Owners, kind: str) -> tuple[Line, ...]:
    """The lines of a kind that run in no piece."""
    taken = {id(line) for piece in owners.every for line in getattr(piece, kind)}
    return tuple(line for line in getattr(owners.drawing, kind) if id(line) not in taken)


def _with(share: Drawing, found: Sequence[Finding]) -> Drawing:
    """A share with some findings more, under its own name."""
    every = [replace(one, where=replace(one.where, drawing=share.name)) for one in (*found, *share.findings)]
    return replace(share, findings=tuple(every))
