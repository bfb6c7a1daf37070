"""What a layer is for: by the job's own table, else by its name."""

import re
from dataclasses import dataclass
from difflib import get_close_matches

NAMES = ("CUT", "RIVET", "BOLT", "MARK", "FOLD", "ROLL", "NOTE")
_PATTERN = re.compile(rf"^({'|'.join(NAMES)})(?:[ _-]+(.+))?$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Role:
    """The role of a layer: one of `NAMES`, or "" for none; `row` names the row of a RIVET or BOLT layer."""

    name: str
    row: str = ""


def role_of(layer: str, roles: tuple[tuple[str, str], ...] = ()) -> Role:
    """The role of one layer.

    >>> role_of("rivet_left")
    Role(name='RIVET', row='left')
    >>> role_of("Holes", (("HOLES", "RIVET left"),))
    Role(name='RIVET', row='left')
    >>> role_of("Outline")
    Role(name='', row='')
    """
    for name, role in roles:
        if name.casefold() == layer.casefold():
            return role_of(role)
    found = _PATTERN.match(layer.strip())
    if not found:
        return Role("")
    name = found[1].upper()
    return Role(name, (found[2] or "").strip() if name in ("RIVET", "BOLT") else "")


def likely_name(layer: str) -> str:
    """The name that a layer without a role was perhaps meant to have; "" for none.

    >>> likely_name("RIVETS A"), likely_name("rivit_lap"), likely_name("WINDOW")
    ('RIVET A', 'RIVET lap', '')
    """
    first, _, rest = re.sub(r"[ _-]+", " ", layer.strip()).partition(" ")
    near = get_close_matches(first.upper(), NAMES, n=1, cutoff=0.75)
    return f"{near[0]} {rest}".strip() if near else ""
