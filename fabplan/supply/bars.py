"""The bar list: what to saw, and each row of holes as a sentence that a man can drill from."""

import math

import numpy as np

from fabplan.model.body import Body
from fabplan.model.job import PartSpec, RowSpec
from fabplan.model.part import Part
from fabplan.model.supply import BarLine

EVEN = 0.001  # mm: spaces of one row that differ by no more than this are equal; places are worked out in doubles
OPPOSITE = "opposite hand: rows measured from the far end, the one that is not marked"


def bar_lines(body: Body) -> tuple[BarLine, ...]:
    """One line for each bar that is made for the kit, in the order of the job."""
    quantity = body.quantity()
    return tuple(
        _line(part, quantity[part.mark]) for part in body.kinds() if part.section is not None and part.spec.made
    )


def _line(part: Part, quantity: int) -> BarLine:
    spec = part.spec
    opposite = bool(part.hand) and part.hand != spec.drawn
    name = part.section.name if part.section is not None else spec.section
    return BarLine(
        mark=part.mark,
        quantity=quantity,
        section=name,
        length=math.nan if spec.length is None else round(spec.length, 2),
        grade=spec.grade,
        mass_each=part.mass,
        holes=sum(len(row.at) for row in spec.rows),
        rows=tuple(row_sentence(row, part.section.kind if part.section else "", opposite) for row in spec.rows),
        note=". ".join(filter(None, (OPPOSITE if opposite else "", _bent(spec), _ends(spec, opposite)))),
    )


def _bent(spec: PartSpec) -> str:
    """What the saw and the drill must know of a bar that is bent."""
    if spec.ring is None:
        return ""
    return (
        f"bent to {spec.ring.inside_radius:g} inside radius, see its forming sheet: length straight, by the centroid; "
        "holes by angle after bending"
    )


def _ends(spec: PartSpec, opposite: bool) -> str:
    """What the saw must know of ends that are not square."""
    words = []
    for one in spec.ends:
        end = "marked end" if (one.end == "first") != opposite else "far end"
        if one.mitre is not None:
            longest = "heel" if one.mitre > 0.0 else "toe"
            words.append(
                f"{end} mitred {abs(one.mitre):g} degrees off square, seen on leg {one.leg}, {longest} longest"
            )
        elif one.cope is not None:
            deep = "up to the leg that it stands on" if one.depth is None else f"{one.depth:g} deep from the toe"
            words.append(f"{end}: leg {one.leg} coped {one.cope:g} long, {deep}, inner corner drilled round")
    return "; ".join([*words, "length over the longest point"]) if words else ""


_LINES = {
    ("angle", "a"): "leg a, back mark {} from the heel",
    ("angle", "b"): "leg b, back mark {} from the heel",
    ("channel", "w"): "web, {} from the outer face of flange a",
    ("channel", "a"): "flange a, back mark {} from the back of the web",
    ("channel", "b"): "flange b, back mark {} from the back of the web",
    ("tee", "a"): "flange, {} from the edge",
    ("tee", "b"): "stem, back mark {} from the face of the flange",
}
"""Where a row lies, by kind of section and leg; a flat or half-round has but its edge."""


def row_sentence(row: RowSpec, kind: str, opposite: bool) -> str:
    """One row of holes in words, as the man at the drill reads it; `kind` as in `fabplan.model.legs.LEGS`.

    >>> row = RowSpec("A", "a", 28.0, (20.0, 60.0, 100.0), 11.0)
    >>> row_sentence(row, "angle", opposite=False)
    'Row A, leg a, back mark 28 from the heel: 3 holes 11 diameter, from marked end 20, then 2 @ 40 = 80 to 100.'
    """
    line = _LINES.get((kind, row.leg), "{} from the edge").format(_mm(row.back_mark))
    end = "from far end" if opposite else "from marked end"
    purpose = "" if row.purpose == "rivet" else f" ({row.purpose})"
    count = len(row.at)
    holes = f"{count} hole{'' if count == 1 else 's'} {_mm(row.diameter)} diameter{purpose}"
    return f"Row {row.row}, {line}: {holes}, {end} {_places(row.at)}."


def _places(at: tuple[float, ...]) -> str:
    """Places along the bar: the first and the run of equal spaces to the last, or each one."""
    spaces = np.diff(at)
    if len(spaces) == 0 or not np.ptp(spaces) <= EVEN:
        return ", ".join(map(_mm, at))
    run = f"{len(spaces)} @ {_mm(float(spaces.mean()))} = {_mm(at[-1] - at[0])} to {_mm(at[-1])}"
    whole = abs(at[1] - at[0] - round(at[1] - at[0], 1)) <= EVEN
    return f"{_mm(at[0])}, then {run}" + ("" if whole else "; set out both ends first, then divide")


def _mm(value: float) -> str:
    return f"{round(value, 2):.10g}"
