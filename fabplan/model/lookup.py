"""Rows of the shop tables by the names that a job file uses."""

import math
import re
from dataclasses import replace
from difflib import get_close_matches
from string import ascii_uppercase

from fabplan.errors import RuleDataError
from fabplan.model.joints import RivetSpec
from fabplan.model.tables import HeadForm, Section, Tables

BY_CLOSING = {"cold": ("DIN 660", "DIN 661"), "hot": ("DIN 124", "DIN 302")}
"""Head standards by closing: small rivets are driven cold, large ones hot (common practice)."""

HEAD_STANDARDS = tuple(sorted({standard for pair in BY_CLOSING.values() for standard in pair}))
"""All head tables, by the names that a job may give."""

THICKEST_ANGLE = 0.5
"""No angle is as thick as this share of its shorter leg; those of EN 10056-1 reach a quarter."""

_NUMBER = r"(\d+(?:\.\d+)?)"
_FAMILIES = {
    "angle": re.compile(f"L{_NUMBER}X{_NUMBER}X{_NUMBER}"),
    "flat": re.compile(f"FL{_NUMBER}X{_NUMBER}"),
    "half-round": re.compile(f"HR{_NUMBER}(?:X{_NUMBER})?"),
    "channel": re.compile(f"(?:UP[NE]{_NUMBER}|PFC{_NUMBER}X{_NUMBER}X{_NUMBER})"),
    "tee": re.compile(f"T{_NUMBER}"),
}
NAMES = (
    "angles are written L50x50x6, flat bars FL50x6, channels UPN100, UPE100 or PFC100x50x10, tees T50, "
    "half-rounds HR25 or, width and height, HR40x12"
)
"""How the sections are named, for messages."""


def section_kind(name: str) -> str:
    """What kind of section a name is that of, listed or not: a key of `fabplan.model.legs.LEGS`, or "" for none.

    Case, blanks and the sign between the sizes do not matter.

    >>> section_kind("L 75 x 50 x 6"), section_kind("upn 80"), section_kind("HR25"), section_kind("IPE 80")
    ('angle', 'channel', 'half-round', '')
    """
    plain = _plain(name)
    for kind, form in _FAMILIES.items():
        match = form.fullmatch(plain)
        if match and min(float(size) for size in match.groups() if size) > 0.0:
            return kind
    return ""


def section_sizes(name: str) -> tuple[float, ...] | None:
    """Sizes that a section's name states: (a, b, t) of an angle, (width, thickness) of a flat or half-round, else None.

    >>> section_sizes("L 75 x 50 x 6"), section_sizes("fl50X6"), section_sizes("HR25"), section_sizes("UPN 80")
    ((75.0, 50.0, 6.0), (50.0, 6.0), (25.0, 12.5), None)
    """
    kind = section_kind(name)
    if kind not in ("angle", "flat", "half-round"):
        return None
    match = _FAMILIES[kind].fullmatch(_plain(name))
    sizes = tuple(float(size) for size in match.groups() if size) if match else ()
    return (sizes[0], sizes[0] / 2.0) if len(sizes) == 1 else sizes


def impossible_section(name: str) -> tuple[str, str] | None:
    """What is wrong with sizes that no section can have, and how to mend it; None where they may be those of one.

    >>> impossible_section("L50x50x6")
    >>> impossible_section("FL6x50")
    ('the flat bar FL6x50 is thicker than wide', 'Name the width first: FL50x6.')
    """
    kind, sizes = section_kind(name), section_sizes(name)
    if sizes is None:
        return None
    if kind == "angle" and not sizes[2] < THICKEST_ANGLE * min(sizes[:2]):
        a, b, t = sizes
        return f"the angle L{a:g}x{b:g}x{t:g} is too thick for its legs", "Name both legs, then the thickness."
    width, high = sizes[:2]
    if kind == "flat" and width < high:
        return f"the flat bar FL{width:g}x{high:g} is thicker than wide", f"Name the width first: FL{high:g}x{width:g}."
    if kind == "half-round" and high > width / 2.0:
        mend = f"Name the width first; a full half-round is HR{width:g}."
        return f"the half-round HR{width:g}x{high:g} is higher than half its width", mend
    return None


def find_section(tables: Tables, name: str) -> Section:
    """The section that a job names: one of the tables, or a flat or a flat half-round bar of any size.

    Leg a of an angle is the first named.

    Raises:
        RuleDataError: the name is in no table; the message gives the nearest names. No section can have its sizes.
    """
    fault = impossible_section(name)
    if fault is not None:
        raise RuleDataError(*fault)
    kind, sizes, plain = section_kind(name), section_sizes(name), _plain(name)
    if sizes is not None and kind == "flat":
        return _flat(tables, *sizes)
    if sizes is not None and kind == "half-round" and "X" in plain:
        return _flat_half_round(tables, *sizes)
    for section in tables.sections:
        if plain == _plain(section.name) or (section.kind == "angle" and sizes == (section.a, section.b, section.t)):
            return section
        if section.kind == "angle" and sizes == (section.b, section.a, section.t):
            turned = f"L{section.b:g}x{section.a:g}x{section.t:g}"
            return replace(section, name=turned, a=section.b, b=section.a)
    near = _nearest(tables, plain)
    nearest = f"nearest in the table: {', '.join(near)}" if near else NAMES
    raise RuleDataError(f"the section {name!r} is in no table", f"Name a section of the tables; {nearest}.")


def find_head(tables: Tables, rivet: RivetSpec, form: str) -> HeadForm | None:
    """The table row for one end of a rivet, or None where no table lists its diameter in that form.

    The standard that the job states comes first, then the one for its closing, then any other.

    Args:
        tables: shop tables.
        rivet: the rivet.
        form: "round" or "countersunk".
    """
    wanted = [_plain(rivet.standard), *map(_plain, BY_CLOSING.get(rivet.closing, ()))]
    rows = [head for head in tables.heads if head.form == form and abs(head.d - rivet.diameter) < 1e-6]
    ranks = {name: rank for rank, name in reversed(list(enumerate(wanted)))}
    return min(rows, key=lambda head: ranks.get(_plain(head.standard), len(wanted)), default=None)


def is_head_standard(name: str) -> bool:
    """True for the name of a head table; case and blanks do not matter.

    >>> is_head_standard("din124"), is_head_standard("DIN 999")
    (True, False)
    """
    return _plain(name) in map(_plain, HEAD_STANDARDS)


def is_of(head: HeadForm, standard: str) -> bool:
    """True where a row belongs to the standard that a job states, or where it states none."""
    return not standard or _plain(head.standard) == _plain(standard)


def stock_lengths(tables: Tables, standard: str, diameter: float) -> tuple[float, ...]:
    """Lengths, mm, that rivets of this head standard and diameter are stocked in; empty where no table says."""
    for row in tables.lengths:
        if _plain(row.standard) == _plain(standard) and row.d_least <= diameter <= row.d_greatest:
            return row.lengths
    return ()


def _nearest(tables: Tables, plain: str) -> list[str]:
    """Names of the tables: two of the same series that are nearest in size, then those spelt most alike."""
    known = {_plain(section.name): section.name for section in tables.sections}
    series, sizes = _parted(plain)
    away = {
        name: sum(abs(one - other) for one, other in zip(own, sizes, strict=True))
        for name, (letters, own) in ((name, _parted(name)) for name in known)
        if letters == series and len(own) == len(sizes)
    }
    nearest = [*sorted(away, key=lambda name: away[name])[:2], *get_close_matches(plain, known, cutoff=0.5)]
    return [known[name] for name in dict.fromkeys(nearest)][:4]


def _parted(plain: str) -> tuple[str, list[float]]:
    """The letters before the first size, and all sizes."""
    return plain[: len(plain) - len(plain.lstrip(ascii_uppercase))], [
        float(size) for size in re.findall(_NUMBER, plain)
    ]


def _flat(tables: Tables, width: float, thickness: float) -> Section:
    area = width * thickness
    name = f"FL{width:g}x{thickness:g}"
    source = f"its size and {tables.density_source}"
    return Section(name, "flat", width, 0.0, thickness, 0.0, 0.0, area, area * tables.density * 1e-6, source)


def _flat_half_round(tables: Tables, width: float, height: float) -> Section:
    """A segment of a circle: width = chord, area = R2 acos((R - h) / R) - (R - h) w / 2."""
    radius = (width**2 / 4.0 + height**2) / (2.0 * height)
    area = radius**2 * math.acos((radius - height) / radius) - (radius - height) * width / 2.0
    name = f"HR{width:g}x{height:g}"
    source = f"its size and {tables.density_source}"
    return Section(name, "half-round", width, 0.0, height, 0.0, 0.0, area, area * tables.density * 1e-6, source)


def _plain(name: str) -> str:
    return re.sub(r"\s+", "", name).upper().replace("\N{MULTIPLICATION SIGN}", "X").replace("*", "X")
