"""What is stated twice: the thickness in job, text and file name; sizes of old inch work taken for metric."""

import math
import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

import numpy as np

from fabplan.drawing.metal import at_holes
from fabplan.drawing.say import finding
from fabplan.geom.tolerance import FIGURE
from fabplan.model.drawing import Drawing
from fabplan.model.finding import Finding, Where

SAME = 0.05  # mm: two thicknesses are one
INCH = 25.4  # mm, exact since 1959
NEAR = 0.0125  # mm by which a size may miss a sixteenth of an inch and still be one: 11.1 and 11.11 for 11.1125
METRIC = 0.5  # mm: plates and holes of metric work stand in such steps
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


def thicknesses(words: str, patterns: Sequence[re.Pattern[str]] = _TEXTS) -> list[float]:
    """Thicknesses that a text states, mm, in order.

    >>> thicknesses("F1 t=6 marked face up"), thicknesses('1/4" plate'), thicknesses("P4 at 600 mm")
    ([6.0], [6.35], [])
    """
    found = [match for pattern in patterns for match in pattern.finditer(words)]
    sizes = [_size(match[1]) * _unit(match) for match in sorted(found, key=lambda match: match.start())]
    return [size for size in dict.fromkeys(sizes) if 0.0 < size <= MOST]


def _unit(match: re.Match[str]) -> float:
    inch = (match["unit"] or "").lower() in ('"', "in", "inch") or ("/" in match[1] and not match["unit"])
    return INCH if inch else 1.0


def _size(words: str) -> float:
    try:
        return float(sum(Fraction(word.replace(",", ".")) for word in words.split()))
    except ZeroDivisionError:
        return 0.0


_Told = tuple[float, str, str, tuple[float, float] | None]  # mm, whence, handle, place


def thickness_differs(drawing: Drawing, thickness: float | None) -> Iterator[Finding]:
    """Thicknesses in job, texts and file name that are not one."""
    told: list[_Told] = [(thickness, "the job", "", None)] if thickness is not None else []
    stem = drawing.name.rsplit(".", 1)[0].split(" (")[0]
    told += [(size, "the file name", "", None) for size in thicknesses(stem, _NAMES)]
    for label in drawing.labels if not drawing.shapes else ():
        told += [(size, f'the text "{label.text[:40]}"', label.handle, label.xy) for size in thicknesses(label.text)]
    differing = [one for one in told[1:] if not abs(one[0] - told[0][0]) <= SAME + FIGURE]
    if differing:
        size, whence, handle, at = differing[0]
        what = f"thickness: {told[0][1]} says {told[0][0]:g} mm, {whence} {size:g} mm"
        where = Where(drawing=drawing.name, handles=(handle,) if handle else (), xy=at)
        mend = "Find out which is meant, and correct the others: thickness is not in a DXF."
        yield finding("thickness-differs", what, mend, where, (size, told[0][0], "mm"))


def inch_sizes(drawing: Drawing, thickness: float | None, known: Sequence[float]) -> Iterator[Finding]:
    """Thickness and holes of a metric drawing that are sixteenths of an inch, and of no metric size.

    Args:
        drawing: as read.
        thickness: mm, or None.
        known: diameters that the job states for its rivets: meant as they are.
    """
    if drawing.units != "mm":
        return
    part = sixteenths(thickness) if thickness is not None else ""
    if thickness is not None and part:
        what = f"the thickness of {thickness:g} mm is that of old plate, {part}"
        figures = (thickness, float(Fraction(part[:-3])) * INCH, "mm")
        mend = f"Order metric plate, such as {round(thickness):d} mm, and check what fits against it."
        yield finding("inch-size", what, mend, Where(drawing=drawing.name), figures)
    sizes = np.round(drawing.holes.diameter, 3)
    for size in np.unique(sizes[np.isfinite(sizes)]).tolist():
        part = sixteenths(size)
        bored = [i for i in np.nonzero(sizes == size)[0].tolist() if drawing.holes.purpose[i] != "open"]
        if part and bored and not any(abs(size - one) <= SAME for one in known):
            what = f"{len(bored)} hole{'s' if len(bored) > 1 else ''} of {size:g} mm: {part}, of old inch work"
            figures = (size, float(Fraction(part[:-3])) * INCH, "mm")
            mend = "Take the hole of the rivet or bolt that is bought now, or state it in [[rivet]]."
            yield finding("inch-size", what, mend, at_holes(drawing, *bored), figures)


def sixteenths(size: float) -> str:
    """The fraction of an inch that a size of an eighth or more is, in words; "" for a metric size or none.

    >>> sixteenths(11.11), sixteenths(6.35), sixteenths(9.5), sixteenths(6.0), sixteenths(3.2)
    ('7/16 in', '1/4 in', '', '', '')
    """
    if not math.isfinite(size):
        return ""
    steps = round(size / INCH * 16.0)
    metric = abs(size - METRIC * round(size / METRIC)) <= FIGURE
    if metric or steps < 2 or not abs(size - steps * INCH / 16.0) <= NEAR + FIGURE:
        return ""
    return f"{Fraction(steps, 16)} in"
