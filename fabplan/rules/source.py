"""Reading the published data files: plain TOML that lies beside this package."""

import tomllib
from functools import cache
from importlib.resources import files
from typing import Any

from fabplan.errors import Fault, RuleDataError


@cache
def data_file(name: str) -> dict[str, Any]:
    """One data file, parsed once; callers do not change it."""
    return tomllib.loads(files("fabplan.rules").joinpath("data", name).read_text(encoding="utf-8"))


def hold(name: str, faults: list[Fault]) -> None:
    """Raise where a data file does not hold together, with all its faults.

    Raises:
        RuleDataError: there are faults.
    """
    if faults:
        raise RuleDataError(f"{name}: " + "; ".join(str(fault).rstrip(".") for fault in faults), "Mend the data file")


def unknown_keys(place: str, row: dict[str, Any], known: tuple[str, ...], needed: tuple[str, ...]) -> list[Fault]:
    """Faults of one row: keys that nobody reads, keys that are missing."""
    strange = [Fault(place, f"unknown key '{key}'", f"Known: {', '.join(known)}") for key in row if key not in known]
    missing = [Fault(place, f"'{key}' is missing", "") for key in needed if key not in row]
    return strange + missing
