"""What a layer is for: by the job's own table, else by its name."""

import re
from dataclasses import dataclass

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
