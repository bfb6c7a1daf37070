"""The hole schedule: holes of one row, diameter and purpose to a line, with letters for diameters and runs."""

from dataclasses import dataclass, replace

import numpy as np

from fabplan.geom.holders import one_by_one
from fabplan.model.arrays import FloatArray
from fabplan.model.drawing import Drawing
from fabplan.model.holes import Holes
from fabplan.sheets.pieces import piece_names

MOST_RUNS = 6  # unlike runs of one row that are written out


@dataclass(frozen=True, slots=True, eq=False)
class HoleGroup:
    """Holes of one row, diameter and purpose.

    Attributes:
        letter: of the diameter.
        diameter: mm.
        purpose: "rivet", "bolt" or "open".
        row: name of the row, or "".
        holes: indices of the holes, in the order of their numbers.
        runs: spacings along the row, "" where the holes stand in none.
    """

    letter: str
    diameter: float
    purpose: str
    row: str
    holes: tuple[int, ...]
    runs: str


def hole_schedule(holes: Holes) -> tuple[HoleGroup, ...]:
    """All holes of a plate in groups, in the order in which the plate names them."""
    letters = diameter_letters(holes.diameter)
    groups: dict[tuple[str, str, str], list[int]] = {}
    for i, key in enumerate(zip(letters, holes.purpose, holes.row, strict=True)):
        groups.setdefault(key, []).append(i)
    diameters = np.round(holes.diameter, 2).tolist()
    return tuple(
        HoleGroup(letter, diameters[own[0]], purpose, row, tuple(own), runs(holes.xy[own]) if row else "")
        for (letter, purpose, row), own in groups.items()
    )


def drawing_schedule(drawing: Drawing) -> tuple[HoleGroup, ...]:
    """All holes of a drawing in groups; of several pieces each by itself, the name of the piece behind that of the row.

    Letters and numbers of holes are those of the whole drawing.
    """
    if not drawing.shapes:
        return hole_schedule(drawing.holes)
    place = {number: k for k, number in enumerate(drawing.holes.number)}
    letters = diameter_letters(drawing.holes.diameter)
    found = []
    for name, piece in zip(piece_names(drawing), one_by_one(drawing), strict=True):
        for group in hole_schedule(piece.holes):
            own = tuple(place[piece.holes.number[k]] for k in group.holes)
            row = f"{group.row} of {name}" if group.row else ""
            found.append(replace(group, letter=letters[own[0]], row=row, holes=own))
    held = {k for group in found for k in group.holes}
    alone = [k for k in range(len(drawing.holes)) if k not in held]
    sizes = np.round(drawing.holes.diameter, 2).tolist()
    found += [HoleGroup(letters[k], sizes[k], drawing.holes.purpose[k], "", (k,), "") for k in alone]
    return tuple(found)


def diameter_letters(diameters: FloatArray) -> tuple[str, ...]:
    """The letter of each hole's diameter, rounded to 0.01 mm, the commonest first: A to Z, then AA, AB."""
    values, places, counts = np.unique(np.round(diameters, 2), return_inverse=True, return_counts=True)
    ranked = sorted(range(len(values)), key=lambda k: (-counts[k], k))
    letters = {k: _letter(place) for place, k in enumerate(ranked)}
    return tuple(letters[k] for k in places.tolist())


def _letter(place: int) -> str:
    more, last = divmod(place, 26)
    return (_letter(more - 1) if more else "") + chr(65 + last)


def runs(places: FloatArray) -> str:
    """Spacings along a row in the trade's way: "7 @ 40 = 280"; unlike runs are joined by "+"."""
    exact = np.linalg.norm(np.diff(places, axis=0), axis=1)
    if len(exact) == 0:
        return "single"
    starts = [0]
    for k in range(1, len(exact)):
        if not abs(round(float(exact[k]), 1) - round(float(exact[starts[-1]]), 1)) <= 0.11:
            starts.append(k)
    told = [_run(exact[start:end]) for start, end in zip(starts, [*starts[1:], len(exact)], strict=True)]
    return " + ".join(told[:MOST_RUNS]) + (" ..." if len(told) > MOST_RUNS else "")


def _run(spaces: FloatArray) -> str:
    each = f"{float(spaces.mean()):.2f}".rstrip("0").rstrip(".")
    whole = f"{float(spaces.sum()):.1f}".removesuffix(".0")
    return f"{len(spaces)} @ {each} = {whole}" if len(spaces) > 1 else each
