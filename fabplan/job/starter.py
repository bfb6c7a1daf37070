"""A commented job file made from a folder of drawings: what can be read is filled in, the rest is asked for."""

import re
from collections import Counter
from collections.abc import Sequence

from fabplan.model.drawing import Drawing

_THICKNESS = re.compile(r"(?:\bt\s*=?\s*|\bthk\s*)(\d+(?:\.\d+)?)\b|\b(\d+(?:\.\d+)?)\s*mm\b", re.IGNORECASE)
_HEAD = """\
# A job for fabplan. Lines that start with # are hints: take the sign away and fill them in.
[job]
title = {title}
number = ""
revision = "A"
# date = 2026-01-31                 # the only date that the papers print
rules = "en1993-1-8-2005"           # rule set for spacing
# datum = {datum}                   # the piece that all others are set from
# exposed = true                    # does the body stand in the weather?
"""


def starter(title: str, drawings: Sequence[Drawing]) -> str:
    """Text of a job file for a folder of drawings; it reads back without faults.

    Thickness is proposed where a text on the drawing or its file name tells one; rivets from the commonest hole; rows
    that bear the same name on two drawings are proposed as seams. Proposals are comments.
    """
    marks = _marks(drawings)
    sections = [_HEAD.format(title=_quoted(title), datum=_quoted(marks[0] if marks else "F1")), _rivet(drawings)]
    sections += [_part(mark, drawing) for mark, drawing in zip(marks, drawings, strict=True)]
    sections.append(_seams(marks, drawings))
    return "\n".join(sections)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(sign if sign.isprintable() else f"\\u{ord(sign):04x}" for sign in escaped) + '"'


def _marks(drawings: Sequence[Drawing]) -> list[str]:
    """Piece marks from file names; a second of the same name gets a number."""
    marks: list[str] = []
    for drawing in drawings:
        stem = drawing.name.rsplit(".", 1)[0].replace("/", "-") or "P"
        mark, number = stem, 2
        while mark in marks:
            mark, number = f"{stem}_{number}", number + 1
        marks.append(mark)
    return marks


def _rivet(drawings: Sequence[Drawing]) -> str:
    sizes = Counter(
        round(float(size), 2)
        for drawing in drawings
        for size, purpose in zip(drawing.holes.diameter, drawing.holes.purpose, strict=True)
        if purpose == "rivet"
    )
    if not sizes:
        return '# [[rivet]]\n# mark = "R10"\n# diameter = 10\n# hole = 11\n'
    hole = min(sizes, key=lambda size: (-sizes[size], size))
    rivet = max(1.0, float(int(hole - 0.4)))
    return (
        f"[[rivet]]                           # from {sizes[hole]} holes of {hole:g} mm: is it right?\n"
        f'mark = "R{rivet:g}"\ndiameter = {rivet:g}\nhole = {hole:g}\n'
        '# head = "round"                    # or "countersunk"; point likewise\n# closing = "hot"\n'
    )


def _part(mark: str, drawing: Drawing) -> str:
    lines = ["[[part]]", f"mark = {_quoted(mark)}", f"drawing = {_quoted(drawing.name)}"]
    told = _thickness(drawing)
    lines.append(f"# thickness = {told or 6:<4}                 # " + ("as its text tells" if told else "fill in, mm"))
    lines += ['# grade = "S275"', "# quantity = 1"]
    rows = Counter(row for row in drawing.holes.row if row)
    lines += [f"#   row {_quoted(row)}: {count} holes" for row, count in sorted(rows.items())]
    return "\n".join(lines) + "\n"


def _thickness(drawing: Drawing) -> str:
    for text in [*(label.text for label in drawing.labels), drawing.name.rsplit(".", 1)[0].replace("_", " ")]:
        found = _THICKNESS.search(text)
        if found and 0.5 <= float(found[1] or found[2]) <= 60.0:
            return found[1] or found[2]
    return ""


def _seams(marks: Sequence[str], drawings: Sequence[Drawing]) -> str:
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
            text += f'# mark = {_quoted(row)}\n# parts = [{listed}]\n# rivet = "R10"\n'
    return text
