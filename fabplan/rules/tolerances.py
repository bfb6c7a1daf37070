"""Tolerances of cutting, drilling, bending, rolling and plate, read from the data file beside this module."""

import tomllib
from functools import cache
from importlib.resources import files

from fabplan.errors import RuleDataError
from fabplan.model.tolerances import LengthTolerance, Tolerances


@cache
def read_tolerances() -> Tolerances:
    """All tolerances, each with its source. Read once.

    Raises:
        RuleDataError: a row does not give a deviation for each of its lengths.
    """
    data = tomllib.loads((files("fabplan.rules") / "data" / "tolerances.toml").read_text("utf-8"))
    lengths = []
    for group in data["lengths"]:
        for over, to, *deviations in group["rows"]:
            if len(deviations) != len(group["lengths"]):
                what = f"tolerances.toml: {len(deviations)} deviations for {len(group['lengths'])} lengths"
                raise RuleDataError(what, "Give one for each length, 0 for none.")
            ends = tuple(map(float, group["lengths"]))
            row = LengthTolerance(tuple(group["processes"]), over, to, ends, tuple(deviations), group["source"])
            lengths.append(row)
    rolls = data["rolls"]
    return Tolerances(
        lengths=tuple(lengths),
        thickness=tuple((a, b, c, d) for a, b, c, d in data["thickness"]["rows"]),
        plates=tuple((a, b, c, d) for a, b, c, d in data["plates"]["rows"]),
        folds=tuple((a, b) for a, b in data["folds"]["rows"]),
        girth=rolls["deviation"] / rolls["each"],
        out=data["out"]["limit"],
        sources=tuple(data[part]["source"] for part in ("thickness", "plates", "folds", "rolls", "out")),
    )
