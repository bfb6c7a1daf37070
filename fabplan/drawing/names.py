"""Names of layers and blocks with signs that no name may have: readable all the same, and told."""

import re
from collections.abc import Sequence

SIGNS = '<>/\\":;?*=`'  # no name may hold them (DXF reference, 'Names'; a star may lead one that a program has given)
_REFUSED = re.compile(r'[<>/":;?=`]|(?<!\A)\*|\\(?![UM]\+)')
_NAMED = ("BLOCK", "INSERT", "BLOCK_RECORD", "LAYER", "DIMENSION")  # kinds that bear the name of a layer or block


def refused(name: str) -> bool:
    r"""True for a name with a sign that no name may have.

    >>> refused("RIVET a/b"), refused("*U12"), refused("a*b"), refused(r"S\U+00FCd")
    (True, False, True, False)
    """
    return _REFUSED.search(name) is not None


def readable(lines: Sequence[str]) -> list[str]:
    r"""The lines of a DXF file with each such sign of a name written by its number, which readers take.

    `Words.plain` gives the sign back.

    >>> readable(["0", "LINE", "8", "a/b", "1", "a/b"])
    ['0', 'LINE', '8', 'a\\U+002Fb', '1', 'a/b']
    """
    found, kind = list(lines), ""
    for k in range(0, len(found) - 1, 2):
        code = found[k].strip()
        if code == "0":
            kind = found[k + 1].strip()
        elif code == "8" or (code in ("2", "3") and kind in _NAMED):
            found[k + 1] = _REFUSED.sub(lambda sign: f"\\U+{ord(sign[0]):04X}", found[k + 1])
    return found
