"""What is stated twice: the thickness in job, text and file name; sizes of old inch work taken for metric."""

import re
from collections.abc import Collection, Iterator, Sequence
from fractions import Fraction

import numpy as np

from fabplan.drawing.metal import at_holes
from fabplan.drawing.roles import role_of
from fabplan.drawing.say import finding
from fabplan.drawing.units import of_size
from fabplan.geom.boxes import side_boxes
from fabplan.geom.profile import flattened
from fabplan.geom.tolerance import FIGURE, SAGITTA
from fabplan.model.drawing import Drawing
from fabplan.model.figures import INCH, sixteenths
from fabplan.model.finding import Finding, Where
from fabplan.model.ordered import NOTHING_ORDERED, Ordered

SAME = 0.05  # mm: two thicknesses are one
PLATES = (2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 50.0)
"""Thicknesses, mm, in which plate is stocked (common practice)."""

RIVETS = ((3.0, 3.2), (4.0, 4.2), (5.0, 5.3), (6.0, 6.3), (8.0, 8.4), *((d, d + 1.0) for d in (10.0, 12.0, 14.0, 16.0,
          18.0, 20.0, 22.0, 24.0, 27.0, 30.0, 33.0, 36.0)))  # fmt: skip
"""Metric rivets of DIN 660 and DIN 124 and their holes, mm: from 10 mm d + 1 (common practice), below from memory."""

MOST = 150.0  # mm: what is more is no thickness (ISO 9013 goes to as much for plasma)

_SIZE = r"(\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?)\s*(?P<unit>mm\b|\"|in\b|inch\b)?"
_NOT_MORE = r"(?![\d.,/]|\s*[x*\N{MULTIPLICATION SIGN}]\s*\d)"
_TEXTS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        rf"(?<![A-Za-z])t\s*[=:]\s*{_SIZE}{_NOT_MORE}",
        rf"\b(?:thk|thickness|thick)\.?\s*[=:]?\s*{_SIZE}{_NOT_MORE}",
        rf"(?<![\d.,/x]){_SIZE}\s*-?\s*(?:thk|thick)\b",
        r"(?<![\d.,/x])(\d+\s+\d+/\d+|\d+/\d+|\d+(?:[.,]\d+)?)\s*(?P<unit>mm|\"|in|inch)\s+plate\b",
        r"(?<![\d.,/x])(\d+\s+\d+/\d+|\d+/\d+)(?P<unit>)\s*-?\s*plate\b",
        rf"\bPL\.?\s?{_SIZE}{_NOT_MORE}(?![A-Za-z])",
        r"\bplate\s+(\d+(?:[.,]\d+)?)\s*(?P<unit>mm|\"|in|inch)(?![A-Za-z\d])",
        r"(?-i:(?<![A-Za-z\d-])t)(\d+(?:[.,]\d+)?)(?P<unit>mm)?(?![\d.,A-Za-z])",
        r"\b\d{3,}(?:[.,]\d+)?\s*[x*\N{MULTIPLICATION SIGN}]\s*\d{3,}(?:[.,]\d+)?\s*[x*\N{MULTIPLICATION SIGN}]\s*"
        r"(\d{1,2}(?:[.,]\d+)?)\s*(?P<unit>mm)?(?![\d.,A-Za-z]|\s*(?:[x*\N{MULTIPLICATION SIGN}]|angle|bar|L\b))",
    )
)
_NAMES = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"(?:^|[ _-])t\s*=\s*(\d+(?:[.,]\d+)?)(?P<unit>mm)?(?![\d.,A-Za-z])",
        r"(?:^|[ _-])t?(\d+(?:[.,]\d+)?)\s?(?P<unit>mm)(?![A-Za-z\d])",
    )
)


_LIKE_MARKS = tuple(
    re.compile(pattern, re.IGNORECASE)
    for pattern in (
        r"(?-i:(?<![A-Za-z\d-])(T(\d+(?:[.,]\d+)?)))(?![\d.,A-Za-z-])",
        r"^\s*(plate\s+(\d+(?:[.,]\d+)?))\s*$",
    )
)
"""What may be a thickness or the mark of a piece: T8, plate 8."""

_NAME_LIKE_MARK = re.compile(r"[ _-](t(\d+(?:[.,]\d+)?))(?=$|[ _-])", re.IGNORECASE)
LIKELY = (1.5, 30.0)  # mm: a figure between is a thickness; T30 is the least tee of EN 10055


def thicknesses(words: str, patterns: Sequence[re.Pattern[str]] = _TEXTS) -> list[float]:
    """Thicknesses that a text states, mm, in order.

    >>> thicknesses("F1 t=6 marked face up"), thicknesses('1/4" plate'), thicknesses("P4 at 600 mm")
    ([6.0], [6.35], [])
    """
    found = [match for pattern in patterns for match in pattern.finditer(words)]
    sizes = [_size(match[1]) * _unit(match) for match in sorted(found, key=lambda match: match.start())]
    return [size for size in dict.fromkeys(sizes) if 0.0 < size <= MOST]


def likely_thicknesses(
    words: str, names: Collection[str], patterns: Sequence[re.Pattern[str]] = _LIKE_MARKS
) -> list[float]:
    """Thicknesses, mm, that a text states in a way in which it could name a piece: T8, plate 8.

    Args:
        words: the text.
        names: all names that the job gives, which are no thicknesses; without a job nobody can tell, and none is read.
        patterns: how such a thickness is written: a name, and the figure in it.

    >>> likely_thicknesses("T8", ["P1"]), likely_thicknesses("T8", ["P1", "T8"]), likely_thicknesses("T8", [])
    ([8.0], [], [])
    """
    taken = {part.casefold() for name in names for part in (name, f"plate {name}")}
    found = [match for pattern in patterns for match in pattern.finditer(words)] if names else []
    sizes = [_size(match[2]) for match in found if " ".join(match[1].split()).casefold() not in taken]
    return [size for size in sizes if LIKELY[0] <= size < LIKELY[1]]


def _unit(match: re.Match[str]) -> float:
    inch = (match["unit"] or "").lower() in ('"', "in", "inch") or ("/" in match[1] and not match["unit"])
    return INCH if inch else 1.0


def _size(words: str) -> float:
    try:
        return float(sum(Fraction(word.replace(",", ".")) for word in words.split()))
    except ZeroDivisionError:
        return 0.0


_Told = tuple[float, str, str, tuple[float, float] | None]  # mm, whence, handle, place


def thickness_differs(
    drawing: Drawing, thickness: float | None, ordered: Ordered = NOTHING_ORDERED
) -> Iterator[Finding]:
    """Thicknesses in job, texts and file name that are not one."""
    told: list[_Told] = [(thickness, "the job", "", None)] if thickness is not None else []
    stem, names = drawing.name.rsplit(".", 1)[0].split(" (")[0], ordered.names
    in_name = [*thicknesses(stem, _NAMES), *likely_thicknesses(stem, names, (_NAME_LIKE_MARK,) * (stem not in names))]
    told += [(size, "the file name", "", None) for size in in_name]
    for label in drawing.labels:
        sizes = thicknesses(label.text)
        if role_of(label.layer, ordered.roles).name != "MARK":  # what is written on the steel is its mark
            sizes += likely_thicknesses(label.text, names)
        told += [(size, f'the text "{label.text[:40]}"', label.handle, label.xy) for size in sizes]
    differing = [one for one in told[1:] if not abs(one[0] - told[0][0]) <= SAME + FIGURE]
    if differing:
        size, whence, handle, at = differing[0]
        what = f"thickness: {told[0][1]} says {told[0][0]:g} mm, {whence} {size:g} mm"
        where = Where(drawing=drawing.name, handles=(handle,) if handle else (), xy=at)
        mend = "Find out which is meant, and correct the others: thickness is not in a DXF."
        yield finding("thickness-differs", what, mend, where, (size, told[0][0], "mm"))


def size_differs(drawing: Drawing, stated: tuple[float, float] | None) -> Iterator[Finding]:
    """An overall size, square to one of the sides, that is not the stated one."""
    if stated is None or drawing.outline is None:
        return
    boxes = side_boxes(flattened(drawing.outline, SAGITTA))
    if not of_size(boxes, stated):
        size, wanted = boxes[int(np.argmin(np.prod(boxes, axis=1)))].tolist(), (max(stated), min(stated))
        what = f"overall size is {size[0]:.1f} x {size[1]:.1f} mm, stated {wanted[0]:g} x {wanted[1]:g} mm"
        worse = 0 if abs(size[0] - wanted[0]) >= abs(size[1] - wanted[1]) else 1
        where, figures = Where(drawing=drawing.name), (size[worse], wanted[worse], "mm")
        yield finding("size-differs", what, "Correct the drawing or the stated size.", where, figures)


def inch_sizes(drawing: Drawing, thickness: float | None, known: Sequence[float]) -> Iterator[Finding]:
    """Thickness and holes of a metric drawing that are sixteenths of an inch, and of no metric size.

    Args:
        drawing: as read.
        thickness: mm, or None.
        known: diameters that the job states for its rivets, or that were measured: meant as they are.
    """
    if drawing.units != "mm":
        return
    part = sixteenths(thickness) if thickness is not None else ""
    if thickness is not None and part:
        what = f"the thickness of {thickness:g} mm is that of old plate, {part}"
        figures = (thickness, float(Fraction(part[:-3])) * INCH, "mm")
        stock = min(PLATES, key=lambda size: abs(size - thickness))
        mend = f"Order metric plate, the nearest in stock {stock:g} mm, and check what fits against it."
        yield finding("inch-size", what, mend, Where(drawing=drawing.name), figures)
    sizes = np.round(drawing.holes.diameter, 3)
    for size in np.unique(sizes[np.isfinite(sizes)]).tolist():
        part = sixteenths(size)
        bored = [i for i in np.nonzero(sizes == size)[0].tolist() if drawing.holes.purpose[i] != "open"]
        if part and bored and not any(abs(size - one) <= SAME for one in known):
            what = f"{len(bored)} hole{'s' if len(bored) > 1 else ''} of {size:g} mm: {part}, of old inch work"
            figures = (size, float(Fraction(part[:-3])) * INCH, "mm")
            d, hole = min(RIVETS, key=lambda pair: abs(pair[1] - size))
            mend = f"In metric stock the nearest is a rivet of {d:g} mm in a hole of {hole:g} mm; draw that, or state "
            mend += f"the hole of {part} in [[rivet]] where it is meant."
            yield finding("inch-size", what, mend, at_holes(drawing, *bored), figures)
