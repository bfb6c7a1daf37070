"""HTML written so that no text of a drawing can become markup: what is not `Markup` is escaped."""

import html
import math
import re
from collections.abc import Iterable, Sequence

LONGEST = 300  # signs of one text: more is cut, and the length told
UNSEEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]")
"""Control signs, and those that turn the direction of reading: a name that holds them would read as another."""


class Markup(str):
    """Text that is HTML already."""

    __slots__ = ()

    def __add__(self, other: str) -> "Markup":
        """Markup followed by any text, which is escaped."""
        return Markup(f"{self}{words(other)}")


def words(text: object, most: int = LONGEST) -> Markup:
    """Any text made safe between tags and inside quoted attributes; a very long one is cut, and says so.

    >>> words('<b> & "c"')
    '&lt;b&gt; &amp; &quot;c&quot;'
    """
    if isinstance(text, Markup):
        return text
    plain = str(text)
    if len(plain) > most:
        plain = f"{plain[:most]} ... ({len(plain)} signs)"
    plain = UNSEEN.sub("\ufffd", plain).encode("utf-8", "replace").decode("utf-8")
    return Markup(html.escape(plain))


def element(tag: str, content: object, **attributes: object) -> Markup:
    """One element; attributes by name (`for_` and `class_` without their underscore, others with hyphens)."""
    named = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{words(value)}"' for name, value in attributes.items() if value != ""
    )
    return Markup(f"<{tag}{named}>{words(content)}</{tag}>")


def joined(parts: Iterable[object], between: str = "\n") -> Markup:
    """Parts one after the other; what is not markup is escaped."""
    return Markup(between.join(words(part) for part in parts))


def table(title: str, heads: Sequence[str], rows: Iterable[Markup], kind: str = "") -> Markup:
    """A table with a caption; the roles keep it a table where a narrow screen stacks its cells.

    Args:
        title: its caption.
        heads: of the columns.
        rows: as `row` makes them.
        kind: class.
    """
    top = joined((element("th", head, scope="col", role="columnheader") for head in heads), "")
    return element(
        "table",
        joined(
            [
                element("caption", title),
                element("thead", element("tr", top, role="row"), role="rowgroup"),
                element("tbody", joined(rows), role="rowgroup"),
            ]
        ),
        role="table",
        class_=kind,
    )


def row(heads: Sequence[str], cells: Sequence[object], figures: Iterable[int] = (), **attributes: object) -> Markup:
    """A row of a table; each cell carries its column's head for narrow screens.

    Args:
        heads: of the columns.
        cells: one for each head; what is not markup is escaped.
        figures: indices of the columns of numbers.
        attributes: of the row.
    """
    numbers = set(figures)
    told = [
        element("td", cell, role="cell", data_head=head, class_="figure" if k in numbers else "")
        for k, (head, cell) in enumerate(zip(heads, cells, strict=True))
    ]
    return element("tr", joined(told, ""), role="row", **attributes)


def listed(items: Iterable[object]) -> Markup:
    """A plain list."""
    return element("ul", joined(element("li", item) for item in items))


def figure(value: float | None, unit: str = "") -> str:
    """A number as printed, two decimals at most, three under 1; a dash where there is none.

    >>> figure(25.612496949731394, "mm"), figure(0.004, "mm"), figure(1.0, "entities"), figure(None)
    ('25.61 mm', '0.004 mm', '1 entity', '-')
    """
    if value is None:
        return "-"
    if not math.isfinite(value):
        return "no number"
    one = abs(value) == 1.0 and unit not in ("", "mm")
    named = re.sub("ies$", "y", unit) if unit.endswith("ies") else unit.removesuffix("s")
    return f"{number(value, 3 if abs(value) < 1.0 else 2)} {named if one else unit}".rstrip()


def number(value: float, places: int = 3) -> str:
    """A finite number in the fewest signs, rounded to `places` decimals; huge ones with an exponent.

    >>> number(12.5), number(-0.0001), number(2400.0), number(1e30)
    ('12.5', '0', '2400', '1e+30')
    """
    if abs(value) >= 1e9:
        return f"{value:.9g}"
    short = f"{value:.{places}f}"
    if "." in short:
        short = short.rstrip("0").rstrip(".")
    return "0" if short == "-0" else short
