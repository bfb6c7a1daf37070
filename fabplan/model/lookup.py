"""Rows of the shop tables by the names that a job file uses."""

import re
from dataclasses import replace
from difflib import get_close_matches

from fabplan.errors import RuleDataError
from fabplan.model.job import RivetSpec
from fabplan.model.tables import HeadForm, Section, Tables

BY_CLOSING = {"cold": ("DIN 660", "DIN 661"), "hot": ("DIN 124", "DIN 302")}
"""Head standards by closing: small rivets are driven cold, large ones hot (common practice)."""

_NUMBER = r"(\d+(?:\.\d+)?)"
_ANGLE = re.compile(f"L{_NUMBER}X{_NUMBER}X{_NUMBER}")
_FLAT = re.compile(f"FL{_NUMBER}X{_NUMBER}")


def section_sizes(name: str) -> tuple[float, ...] | None:
    """Sizes that a section's name states: (a, b, t) of an angle, (width, thickness) of a flat, None of another name.

    Case, blanks and the sign between the sizes do not matter.

    >>> section_sizes("L 75 x 50 x 6"), section_sizes("fl50X6"), section_sizes("UPN 80")
    ((75.0, 50.0, 6.0), (50.0, 6.0), None)
    """
    plain = _plain(name)
    match = _ANGLE.fullmatch(plain) or _FLAT.fullmatch(plain)
    sizes = tuple(float(size) for size in match.groups()) if match else ()
    return sizes if sizes and min(sizes) > 0.0 else None


def find_section(tables: Tables, name: str) -> Section:
    """The section that a job names: an angle of the table, leg a being the first named, or a flat bar of any size.

    Raises:
        RuleDataError: the name is in no table; the message gives the nearest names. A flat bar is thicker than wide.
    """
    sizes = section_sizes(name)
    if sizes is not None and len(sizes) == 2:
        return _flat(tables, *sizes)
    for section in tables.sections:
        if sizes == (section.a, section.b, section.t):
            return section
        if sizes == (section.b, section.a, section.t):
            turned = f"L{section.b:g}x{section.a:g}x{section.t:g}"
            return replace(section, name=turned, a=section.b, b=section.a)
    known = {_plain(section.name): section.name for section in tables.sections}
    near = [known[match] for match in get_close_matches(_plain(name), known, cutoff=0.5)]
    nearest = f"nearest in the table: {', '.join(near)}" if near else "angles are written L50x50x6, flat bars FL50x6"
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


def stock_lengths(tables: Tables, standard: str, diameter: float) -> tuple[float, ...]:
    """Lengths, mm, that rivets of this head standard and diameter are stocked in; empty where no table says."""
    for row in tables.lengths:
        if _plain(row.standard) == _plain(standard) and row.d_least <= diameter <= row.d_greatest:
            return row.lengths
    return ()


def _flat(tables: Tables, width: float, thickness: float) -> Section:
    if width < thickness:
        what = f"the flat bar FL{width:g}x{thickness:g} is thicker than wide"
        raise RuleDataError(what, f"Name the width first: FL{thickness:g}x{width:g}.")
    area = width * thickness
    name = f"FL{width:g}x{thickness:g}"
    source = f"its size and {tables.density_source}"
    return Section(name, "flat", width, 0.0, thickness, 0.0, 0.0, area, area * tables.density * 1e-6, source)


def _plain(name: str) -> str:
    return re.sub(r"\s+", "", name).upper().replace("\N{MULTIPLICATION SIGN}", "X").replace("*", "X")
