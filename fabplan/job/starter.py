"""A commented job file made from a folder of drawings: what can be read is filled in, the rest is asked for."""

import json
import re
from collections import Counter
from collections.abc import Sequence

from fabplan.model.drawing import Drawing

SIZES = (3, 3.5, 4, 5, 6, 7, 8, 10, 12, 14, 16, 18, 20, 22, 24, 27, 30, 33, 36)
"""Shank diameters of DIN 660 and DIN 124, mm; the larger ones from memory."""

COLD_TO = 8.0  # mm: rivets up to this are proposed to be driven cold (common practice)

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
    rivet = _rivet_size(drawings)
    sections = [
        _HEAD.format(title=_quoted(title), datum=f"# datum = {_quoted(marks[0] if marks else 'F1')}"),
        _rivet(*rivet),
    ]
    sections += [_part(mark, drawing) for mark, drawing in zip(marks, drawings, strict=True)]
    sections += [_seams(marks, drawings, rivet[0]), _FURTHER]
    return "\n".join(sections)


def _quoted(text: str) -> str:
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


def _rivet_size(drawings: Sequence[Drawing]) -> tuple[float, float, int]:
    """Rivet that fits the commonest rivet hole, mm, that hole, mm, and how many there are; zeros for none."""
    sizes = Counter(
        round(float(size), 2)
        for drawing in drawings
        for size, purpose in zip(drawing.holes.diameter, drawing.holes.purpose, strict=True)
        if purpose == "rivet"
    )
    if not sizes:
        return 0.0, 0.0, 0
    hole = min(sizes, key=lambda size: (-sizes[size], size))
    return float(max((size for size in SIZES if size < hole), default=hole)), hole, sizes[hole]


def _rivet(rivet: float, hole: float, count: int) -> str:
    if not count:
        return '# [[rivet]]\n# mark = "R10"\n# diameter = 10\n# hole = 11\n'
    return (
        f"[[rivet]]                           # from {count} holes of {hole:g} mm: is it right?\n"
        f'mark = "R{rivet:g}"\ndiameter = {rivet:g}\nhole = {hole:g}\n'
        '# head = "round"                    # or "countersunk"; point likewise\n'
        f'closing = "{"cold" if rivet <= COLD_TO else "hot"}"\n'
    )


def _part(mark: str, drawing: Drawing) -> str:
    told = _thickness(drawing)
    why = "as its text or file name tells" if told else "fill in, mm"
    lines = [
        "[[part]]",
        f"mark = {_quoted(mark)}",
        f"drawing = {_quoted(drawing.name)}",
        f"# {f'thickness = {told or 6}':<34}# {why}",
        '# grade = "S275"',
        "# quantity = 1",
    ]
    rows = Counter(row for row in drawing.holes.row if row)
    lines += [f"#   row {_quoted(row)}: {count} holes" for row, count in sorted(rows.items())]
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


def _seams(marks: Sequence[str], drawings: Sequence[Drawing], rivet: float) -> str:
    """Seams proposed from rows of one name on several drawings, as comments."""
    rows: dict[str, list[tuple[str, int]]] = {}
    for mark, drawing in zip(marks, drawings, strict=True):
        for row, count in sorted(Counter(row for row in drawing.holes.row if row).items()):
            rows.setdefault(row, []).append((mark, count))
    text = "# Seams: rows of pieces that one run of rivets joins, from the head side.\n"
    for row, plies in sorted(rows.items()):
        if len(plies) > 1:
            listed = ", ".join(_quoted(f"{mark}/{row}") for mark, _ in plies)
            counts = " and ".join(str(count) for _, count in plies)
            text += f"# [[seam]]                          # rows of one name: {counts} holes\n"
            text += f'# mark = {_quoted(row)}\n# parts = [{listed}]\n# rivet = "R{rivet or 10.0:g}"\n# tight = true\n'
    return text
