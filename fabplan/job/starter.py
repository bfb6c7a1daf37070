"""A commented job file made from a folder of drawings: what can be read is filled in, the rest is asked for."""

import json
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from fabplan.model.drawing import Drawing

SIZES = (3, 3.5, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20, 22, 24, 27, 30, 33, 36)
"""Shank diameters of DIN 660 and DIN 124, mm; the larger ones from memory."""

COLD_TO = 8.0  # mm: rivets up to this are proposed to be driven cold (common practice)

HOLES = (3.0, 60.0)  # mm: a circle outside is no hole for a rivet, and its drawing is in another unit
UNITS = ((1.0, ""), (25.4, "inches"), (10.0, "centimetres"), (1000.0, "metres"))
PLAY = (0.2, 0.5, 1.0)  # mm: what a hole is wider than its rivet, in stock sizes (DIN 660, DIN 124)

_NUMBER = r"(\d+(?:\.\d+)?)"
_ON_DRAWING = (
    rf"\b(?:t|thk|thick|thickness)\s*[=:]\s*{_NUMBER}\b",
    rf"\b(?:plate|pl|thk|thick|thickness)\s*{_NUMBER}\s*(?:mm)?\b",
    rf"\b{_NUMBER}\s*mm\s*(?:plate|thk|thick)\b",
)
_IN_NAME = (rf"(?<=\S )t\s*=?\s*{_NUMBER}\b", rf"\b{_NUMBER}\s*mm\b")
THICKNESSES = (0.5, 60.0)  # mm: a number outside is no thickness of a plate for riveting
_HEAD = """\
# A job for fabplan. Lines that start with # are hints: take the sign away and fill them in.
[job]
title = {title}
number = ""
revision = "A"
# date = 2026-01-31                 # the only date that the papers print
rules = "en1993-1-8-2005"           # rule set for spacing
{datum:<36}# the piece that all others are set from
# exposed = true                    # does the body stand in the weather?
"""
_FURTHER = """\
# Further tables, when they are needed:
# [[part]]                          # a bar; its rows run from the marked end and from the heel
# mark = "A1"
# section = "L50x50x6"
# length = 1000
# rows = [{ row = "floor", leg = "a", back_mark = 28, first = 20, last = 980, count = 25, diameter = 11 }]
# [[supplier]]                      # a cutter's own limits, with their date
# name = "cutter"
# limits_dated = 2026-01-31
# smallest_hole = "1.0 t"
# [[place]]                         # where a piece stands in the body, when two-bodies asks for it
# part = "F1"
# origin = [0, 0, 0]                # of its drawing, mm
# x = [1, 0, 0]                     # the ways its x and y run
# y = [0, 1, 0]
# [layers]                          # layers whose names do not tell their role
# "0" = "CUT"
"""


def starter(title: str, drawings: Sequence[Drawing]) -> str:
    """Text of a job file for a folder of drawings; it reads back without faults.

    The thickness is proposed where a text of the drawing or its file name tells one, the rivet from the commonest hole;
    rows that bear the same name on several drawings are proposed as seams. Proposals stand in comments, but for the
    rivet.
    """
    marks = _marks(drawings)
    guess = _guess(drawings)
    sections = [
        _HEAD.format(title=quoted(title), datum=f"# datum = {quoted(marks[0] if marks else 'F1')}"),
        _rivet(guess),
    ]
    sections += [_part(mark, drawing) for mark, drawing in zip(marks, drawings, strict=True)]
    sections += [_seams(marks, drawings, f"R{guess.rivet if guess else 10.0:g}"), _FURTHER]
    return "\n".join(sections)


def quoted(text: str) -> str:
    """A text as a TOML string on one line."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _marks(drawings: Sequence[Drawing]) -> list[str]:
    """Piece marks from file names; a second of the same name gets a number."""
    marks: list[str] = []
    for drawing in drawings:
        stem = re.sub(r"[/\x00-\x1f\x7f]", "-", drawing.name.rsplit(".", 1)[0]).strip()[:50] or "P"
        mark, number = stem, 2
        while mark in marks:
            mark, number = f"{stem}_{number}", number + 1
        marks.append(mark)
    return marks


@dataclass(frozen=True, slots=True)
class _Guess:
    """The rivet that the commonest hole is for: its diameter and hole, mm, of how many, and the unit if not mm."""

    rivet: float
    hole: float
    count: int
    unit: str


def _guess(drawings: Sequence[Drawing]) -> _Guess | None:
    """The rivet that fits the commonest rivet hole, read in that unit in which it is nearest to a stock size."""
    sizes = Counter(
        round(float(size), 4)
        for drawing in drawings
        for size, purpose in zip(drawing.holes.diameter, drawing.holes.purpose, strict=True)
        if purpose == "rivet"
    )
    if not sizes:
        return None
    hole = min(sizes, key=lambda size: (-sizes[size], size))
    read = [(1.0, "")] if HOLES[0] <= hole <= HOLES[1] else UNITS[1:]
    likely = [(factor, unit) for factor, unit in read if HOLES[0] <= hole * factor <= HOLES[1]]
    if not likely:
        return None
    factor, unit = min(likely, key=lambda one: _off_stock(hole * one[0]))
    wide = round(hole * factor, 2)
    return _Guess(float(max((size for size in SIZES if size < wide), default=wide - PLAY[0])), wide, sizes[hole], unit)


def _off_stock(hole: float) -> float:
    return min(abs(hole - size - play) for size in SIZES for play in PLAY)


def rivet_table(drawings: Sequence[Drawing]) -> tuple[str, str]:
    """The table of the rivet that the commonest hole is for, and its mark."""
    guess = _guess(drawings)
    text = _rivet(guess) if guess else _rivet(_Guess(10.0, 11.0, 0, ""))
    return text, f"R{guess.rivet if guess else 10.0:g}"


def _rivet(guess: _Guess | None) -> str:
    if guess is None:
        return '# [[rivet]]\n# mark = "R10"\n# diameter = 10\n# hole = 11\n'
    read = f", read in {guess.unit}" if guess.unit else ""
    return (
        f"[[rivet]]                           # from {guess.count} holes of {guess.hole:g} mm{read}: is it right?\n"
        f'mark = "R{guess.rivet:g}"\ndiameter = {guess.rivet:g}\nhole = {guess.hole:g}\n'
        '# head = "round"                    # or "countersunk"; point likewise\n'
        f'closing = "{"cold" if guess.rivet <= COLD_TO else "hot"}"\n'
    )


def _part(mark: str, drawing: Drawing) -> str:
    told = _thickness(drawing)
    why = "as its text or file name tells" if told else "fill in, mm"
    lines = [
        "[[part]]",
        f"mark = {quoted(mark)}",
        f"drawing = {quoted(drawing.name)}",
        f"# {f'thickness = {told or 6}':<34}# {why}",
        '# marked = "inside"                 # or "outside": where the face that the drawing shows will look',
        '# grade = "S275"',
        "# quantity = 1",
    ]
    rows = Counter(row for row in drawing.holes.row if row)
    lines += [f"#   row {quoted(row)}: {count} holes" for row, count in sorted(rows.items())]
    return "\n".join(lines) + "\n"


def _thickness(drawing: Drawing) -> str:
    """The first thickness that a text or else the file name tells, as written; "" for none."""
    name = re.sub(r"[_-]", " ", drawing.name.rsplit(".", 1)[0])
    told = [(pattern, label.text) for pattern in _ON_DRAWING for label in drawing.labels]
    for pattern, text in [*told, *((pattern, name) for pattern in _IN_NAME)]:
        found = re.search(pattern, text, re.IGNORECASE)
        if found and THICKNESSES[0] <= float(found[1]) <= THICKNESSES[1]:
            return found[1]
    return ""


def _seams(marks: Sequence[str], drawings: Sequence[Drawing], rivet: str) -> str:
    """Seams proposed from rows of one name on several drawings, as comments."""
    rows: dict[str, list[tuple[str, int]]] = {}
    for mark, drawing in zip(marks, drawings, strict=True):
        for row, count in sorted(Counter(row for row in drawing.holes.row if row).items()):
            rows.setdefault(row, []).append((mark, count))
    text = "# Seams: rows of pieces that one run of rivets joins, from the head side.\n"
    for row, plies in sorted(rows.items()):
        if len(plies) > 1:
            listed = ", ".join(quoted(f"{mark}/{row}") for mark, _ in plies)
            counts = " and ".join(str(count) for _, count in plies)
            text += f"# [[seam]]                          # rows of one name: {counts} holes\n"
            text += f'# mark = {quoted(row)}\n# parts = [{listed}]\n# rivet = "{rivet}"\n# tight = true\n'
            text += '# head = "inside"                   # or "outside": where the made heads lie, once you know it\n'
    return text
