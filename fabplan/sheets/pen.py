"""Measuring and laying text, in mm; the one font of all sheets."""

from functools import cache
from importlib.resources import as_file, files

from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from fabplan.model.page import Text

CAP = 0.729  # height of a capital of DejaVu Sans, in em (read from the font's own table)
LEAST = 2.5  # mm, smallest text of any sheet
LEADING = 1.75  # distance of lines, in heights of a capital
FONTS = {False: "DejaVuSans", True: "DejaVuSans-Bold"}


@cache
def register() -> None:
    """Make the fonts known to the PDF writer, once."""
    for name in FONTS.values():
        with as_file(files("fabplan.sheets") / "data" / f"{name}.ttf") as path:
            pdfmetrics.registerFont(TTFont(name, str(path)))


@cache
def width(text: str, size: float = LEAST, bold: bool = False) -> float:
    """Width of a line of text, mm."""
    register()
    return float(pdfmetrics.stringWidth(text, FONTS[bold], 1000.0)) / 1000.0 * size / CAP


@cache
def _glyphs() -> frozenset[int]:
    register()
    font = pdfmetrics.getFont(FONTS[False])
    assert isinstance(font, TTFont)
    return frozenset(font.face.charToGlyph)


def clean(text: str) -> str:
    """The text on one line, with a box for every sign that the font lacks or that does not print."""
    plain = " ".join(text.split())
    if plain.isascii() and plain.isprintable():
        return plain
    return "".join(sign if sign.isprintable() and ord(sign) in _glyphs() else "\u25a1" for sign in plain)


def short(text: str, room: float, size: float = LEAST, bold: bool = False) -> str:
    """The text cut to `room` mm, with three dots where it was cut."""
    text = clean(text)
    if width(text, size, bold) <= room:
        return text
    while text and width(text + "...", size, bold) > room:
        text = text[:-1]
    return text + "..."


def wrap(text: str, room: float, size: float = LEAST, bold: bool = False) -> list[str]:
    """The text in lines of at most `room` mm; a word that is longer is cut, after a hyphen where it has one."""
    lines: list[str] = []
    line = ""
    for word in clean(text).split():
        longer = f"{line} {word}".strip()
        if width(longer, size, bold) <= room:
            line = longer
            continue
        if line:
            lines.append(line)
        while width(word, size, bold) > room and len(word) > 1:
            cut = next((k for k in range(len(word) - 1, 1, -1) if width(word[:k], size, bold) <= room), 1)
            cut = word.rfind("-", 1, cut) + 1 or cut
            lines.append(word[:cut])
            word = word[cut:]
        line = word
    return [*lines, line] if line or not lines else lines


def balanced(text: str, room: float, size: float = LEAST, bold: bool = False) -> list[str]:
    """As `wrap`, with lines of like length: no word alone on the last."""
    lines = wrap(text, room, size, bold)
    for tried in range(1, 10):
        closer = wrap(text, room * (1.0 - 0.05 * tried), size, bold)
        if len(closer) > len(lines):
            break
        lines = closer
    return lines


Box = tuple[float, float, float, float]


def box(text: Text) -> Box:
    """The rectangle (x0, y0, x1, y1) that a level line of text covers, mm, with descenders."""
    long = width(text.text, text.size, text.bold)
    left = text.at[0] - {"start": 0.0, "middle": long / 2.0, "end": long}[text.anchor]
    return left, text.at[1] - 0.25 * text.size, left + long, text.at[1] + 1.05 * text.size


def overlap(one: Box, other: Box) -> bool:
    """True where two rectangles share more than a touch."""
    slack = 0.05
    return (
        one[0] < other[2] - slack
        and other[0] < one[2] - slack
        and one[1] < other[3] - slack
        and other[1] < one[3] - slack
    )
