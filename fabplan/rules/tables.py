"""Published shop tables, read from the data files that stand beside this module."""

import math
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

from fabplan.errors import RuleDataError
from fabplan.model.tables import HeadForm, Section, StockLengths, Tables, Tool

STEEL_DENSITY_UNIT = 1e-6  # kg/m3 times mm2 gives kg/m


@cache
def read_tables() -> Tables:
    """All shop tables, each row with its source. Read once.

    Raises:
        RuleDataError: a row of a data file does not fill its columns with numbers over 0.
    """
    stock = _file("stock.toml")
    density = float(stock["density"]["value"])
    return Tables(
        sections=tuple(_angle(row, density) for row in _rows("angles.toml", "angles")),
        heads=tuple(HeadForm(**{"angle": 0.0, **row}) for row in _rows("heads.toml", "heads")),
        lengths=tuple(_lengths(entry) for entry in stock["lengths"]),
        tools=tuple(_tool(entry) for entry in _file("tools.toml")["tools"]),
        density=density,
        density_source=stock["density"]["source"],
    )


def _file(name: str) -> dict[str, Any]:
    return tomllib.loads((files("fabplan.rules") / "data" / name).read_text("utf-8"))


def _rows(name: str, key: str) -> Iterator[dict[str, Any]]:
    """Rows of all groups of a file, each with the figures of its columns and the texts that its group states."""
    for group in _file(name)[key]:
        columns = group.pop("columns")
        for figures in group.pop("rows"):
            if len(figures) != len(columns) or not all(_sound(figure) for figure in figures):
                raise RuleDataError(
                    f"{name}: row {figures} does not give {', '.join(columns)}", "Give each as a number over 0."
                )
            yield group | dict(zip(columns, map(float, figures), strict=True))


def _sound(figure: object) -> bool:
    return isinstance(figure, int | float) and math.isfinite(figure) and figure > 0


def _angle(row: dict[str, Any], density: float) -> Section:
    """An angle with the area of its true outline: two legs, the root fillet added, both toes taken off."""
    a, b, t, root, toe = (row[key] for key in ("a", "b", "t", "root_radius", "toe_radius"))
    area = t * (a + b - t) + (1.0 - math.pi / 4.0) * (root**2 - 2.0 * toe**2)
    name = f"L{a:g}x{b:g}x{t:g}"
    return Section(name, "angle", a, b, t, root, toe, area, area * density * STEEL_DENSITY_UNIT, row["source"])


def _lengths(entry: dict[str, Any]) -> StockLengths:
    least, greatest = map(float, entry["diameters"])
    lengths = tuple(sorted(float(length) for length in entry["lengths"]))
    return StockLengths(entry["standard"], least, greatest, lengths, entry["source"])


def _tool(entry: dict[str, Any]) -> Tool:
    values: dict[str, Any] = {key: float(value) if isinstance(value, int) else value for key, value in entry.items()}
    return Tool(**values)
