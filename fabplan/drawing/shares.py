"""One file of several pieces, shared out among the parts that a job names: each entity and each fault told once.

A piece goes with the part whose mark stands on it. Where its other texts say more, a mark counts that stands among
them as a word of its own. What goes with no part is the rest.
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
from fabplan.model.drawing import Drawing, Entry, Shape
from fabplan.model.finding import Finding, Where

REST = "the rest"
MEND = "Write the mark of its part, as the job has it, on each piece, or give each piece a file of its own."


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """The drawing of each part by its mark; what goes with none of them, None where nothing is left."""

    pieces: Mapping[str, Drawing]
    rest: Drawing | None = None


def shared_out(drawing: Drawing, parts: Mapping[str, float | None]) -> Shares:
    """The pieces of one file among parts.

    Where the file holds one piece, or none of its pieces bears a mark of them, it goes whole to each part.

    Args:
        drawing: as read, without the thickness of any of several parts.
        parts: the thickness of each part that the job draws in this file, mm, by its mark.
    """
    owner = _borne(drawing, list(parts)) if drawing.shapes else {}
    borne = {mark: number for mark, number in owner.items() if number is not None}
    if not borne:
        return Shares(dict.fromkeys(parts, drawing))
    every = one_by_one(drawing)
    shares: dict[str, Drawing] = {}
    of_handle: dict[str, str] = {}
    for mark, number in borne.items():
        of_handle |= {handle: mark for handle in _of_metal(drawing.shapes[number]) if handle not in of_handle}
    for mark, number in borne.items():
        of_handle |= {handle: mark for handle in _beside(every[number]) if handle not in of_handle}
    of_handle |= _twins(drawing, of_handle)
    for mark, number in borne.items():
        shares[mark] = _piece(replace(every[number], thickness=parts[mark]), mark, of_handle)
    shares |= {mark: _missing(drawing, mark) for mark in parts if mark not in borne}
    rest = _rest(drawing, set(borne.values()), of_handle)
    return _told(drawing, Shares({mark: shares[mark] for mark in parts}, rest), of_handle)


def _borne(drawing: Drawing, marks: Sequence[str]) -> dict[str, int | None]:
    """For each mark the number of the one piece that bears it, None where none or several do."""
    labels = [shape.label.casefold() for shape in drawing.shapes]
    owner = label_owners(drawing)
    texts = [[drawing.labels[k].text for k in np.nonzero(owner == n)[0].tolist()] for n in range(len(labels))]
    found: dict[str, int | None] = {}
    for mark in marks:
        own = [n for n, label in enumerate(labels) if label == mark.casefold()]
        word = re.compile(rf"(?<![\w-]){re.escape(mark)}(?![\w-])", re.IGNORECASE)
        own = own or [n for n, lines in enumerate(texts) if any(word.search(line) for line in lines)]
        found[mark] = own[0] if len(own) == 1 else None
    return found


def _of_metal(shape: Shape) -> Iterator[str]:
    """Handles of the outline, the cut-outs and the holes of a piece."""
    yield from (handle for profile in (shape.outline, *shape.cutouts) for handle in profile.handles)
    yield from shape.holes.handle


def _beside(piece: Drawing) -> Iterator[str]:
    """Handles of the lines that run in a piece, and of the texts in it and beside it."""
    lines = (*piece.folds, *piece.rolls, *piece.marks, *piece.open_lines, *piece.aside)
    yield from (line.handle for line in lines)
    yield from (label.handle for label in piece.labels)


def _twins(drawing: Drawing, of_handle: Mapping[str, str]) -> dict[str, str]:
    """What is drawn twice goes with its twin."""
    found = {}
    for one in drawing.findings:
        marks = [of_handle[handle] for handle in one.where.handles if handle in of_handle]
        if one.check == "doubled-line" and marks:
            found.update({handle: marks[0] for handle in one.where.handles if handle not in of_handle})
    return found


def _piece(alone: Drawing, mark: str, of_handle: Mapping[str, str]) -> Drawing:
    """A piece with the entries of the account that go with it, which are all used now, named within its file."""
    assert alone.outline is not None
    reasons = dict.fromkeys(alone.outline.handles, "outer profile")
    reasons |= {handle: "cut-out" for cutout in alone.cutouts for handle in cutout.handles}
    account = tuple(_used(entry, reasons) for entry in alone.account if of_handle.get(entry.handle) == mark)
    handles = {entry.handle for entry in account}
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
    return replace(entry, fate="used", reason=reasons[entry.handle]) if entry.handle in reasons else entry


def _missing(drawing: Drawing, mark: str) -> Drawing:
    """The drawing of a part whose piece is not to be told."""
    labels = ", ".join(shape.label or "without a mark" for shape in drawing.shapes)
    bearing = sum(shape.label.casefold() == mark.casefold() for shape in drawing.shapes) or "none"
    what = f"{bearing} of the {len(drawing.shapes)} pieces in {drawing.name} bears the mark {mark}: {labels}"
    what = what if bearing == "none" else what.replace(" bears ", " bear ")
    name = f"{drawing.name} ({mark})"
    own = replace(Drawing(name), units=drawing.units, dxf_version=drawing.dxf_version)
    told = finding(SEVERAL, what, MEND, Where(drawing=name), (float(len(drawing.shapes)), 1.0, "profiles"))
    return replace(own, findings=(told,))


def _rest(drawing: Drawing, named: set[int], of_handle: Mapping[str, str]) -> Drawing | None:
    """What goes with no part: entities, lines, texts, holes and pieces of metal, each at its place."""
    account = tuple(entry for entry in drawing.account if entry.handle not in of_handle)
    if not account:
        return None
    handles = {entry.handle for entry in account}
    shapes = tuple(shape for number, shape in enumerate(drawing.shapes) if number not in named)
    free = np.array([handle not in of_handle for handle in drawing.holes.handle], dtype=np.bool_)
    own = replace(
        drawing,
        name=f"{drawing.name} ({REST})",
        outline=shapes[0].outline if shapes else None,
        cutouts=shapes[0].cutouts if shapes else (),
        holes=some(drawing.holes, np.nonzero(free)[0]),
        shapes=shapes if len(shapes) > 1 else (),
        folds=tuple(line for line in drawing.folds if line.handle in handles),
        rolls=tuple(line for line in drawing.rolls if line.handle in handles),
        marks=tuple(line for line in drawing.marks if line.handle in handles),
        open_lines=tuple(line for line in drawing.open_lines if line.handle in handles),
        aside=tuple(line for line in drawing.aside if line.handle in handles),
        labels=tuple(label for label in drawing.labels if label.handle in handles),
        account=account,
        scanned=drawing.scanned - (len(drawing.account) - len(account)),
        fits=tuple(fit for fit in drawing.fits if handles & {*fit.handles}),
        findings=(),
    )
    astray = () if shapes else tuple(lines_of_no_piece(own))
    own = replace(own, findings=(*astray, *_unnamed(own, shapes), *outside(replace(drawing, holes=own.holes))))
    return replace(own, fingerprint=fingerprint(own))


def _unnamed(rest: Drawing, shapes: Sequence[Shape]) -> Iterator[Finding]:
    """The pieces that are no part's."""
    if shapes:
        labels = ", ".join(shape.label or "without a mark" for shape in shapes)
        many = "a piece that is" if len(shapes) == 1 else f"{len(shapes)} pieces that are"
        x, y = shapes[0].outline.vertices[0].tolist()
        handles = tuple(handle for shape in shapes for handle in shape.outline.handles)
        where = Where(drawing=rest.name, handles=handles, xy=(x, y))
        figures = (float(len(shapes)), 0.0, "profiles")
        yield finding(SEVERAL, f"{many} no part's of the job: {labels}", MEND, where, figures)


def _told(drawing: Drawing, shares: Shares, of_handle: Mapping[str, str]) -> Shares:
    """The findings of the reader, and those between shares, each with one share: the first that it is about."""
    first = next(mark for mark, piece in shares.pieces.items() if piece.outline is not None)
    own: dict[str, list[Finding]] = {}
    for one in drawing.findings:
        if one.check != SEVERAL:
            marks = [of_handle[handle] for handle in one.where.handles if handle in of_handle]
            own.setdefault(next(iter(marks), REST if shares.rest is not None else first), []).append(one)
    for one in (*overlapping(drawing), *wrong_nesting(drawing)):
        marks = list(dict.fromkeys(of_handle.get(handle, REST) for handle in one.where.handles))
        if len(marks) > 1 or marks == [REST]:
            own.setdefault(marks[0], []).append(one)
    pieces = {mark: _with(piece, own.get(mark, ())) for mark, piece in shares.pieces.items()}
    return Shares(pieces, _with(shares.rest, own.get(REST, ())) if shares.rest is not None else None)


def _with(share: Drawing, found: Sequence[Finding]) -> Drawing:
    """A share with some findings more, under its own name."""
    every = [replace(one, where=replace(one.where, drawing=share.name)) for one in (*found, *share.findings)]
    return replace(share, findings=tuple(every))
