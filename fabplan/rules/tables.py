"""Published shop tables, read from the data files that stand beside this module."""

import math
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files
from typing import Any

from fabplan.errors import RuleDataError
from fabplan.model.tables import (
    BendRadius,
    BoltHole,
    FastenerLimits,
    Gauge,
    HeadForm,
    LegLimits,
    LengthLimit,
    NearLimits,
    Section,
    StockLengths,
    Tables,
)
from fabplan.model.tool import Tool

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
        sections=tuple(_sections(density)),
        heads=tuple(HeadForm(**{"angle": 0.0, **row}) for row in _rows("heads.toml", "heads")),
        lengths=tuple(_lengths(entry) for entry in stock["lengths"]),
        tools=tuple(_tool(entry) for entry in _file("tools.toml")["tools"]),
        near=NearLimits(**_file("tools.toml")["near"]),
        density=density,
        density_source=stock["density"]["source"],
        gauges=tuple(Gauge(**row) for row in _rows("gauges.toml", "gauges")),
        bend_radii=tuple(BendRadius(**row) for row in _rows("bending.toml", "radii")),
        lengths_off=tuple(LengthLimit(**row) for row in _rows("bending.toml", "lengths")),
        leg_limits=_leg_limits(_file("gauges.toml")["limits"]),
        fasteners=FastenerLimits(**_file("fasteners.toml")["limits"]),
        bolt_holes=tuple(BoltHole(**row) for row in _rows("fasteners.toml", "bolt_holes")),
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


def _sections(density: float) -> Iterator[Section]:
    for row in _rows("angles.toml", "angles"):
        yield _angle(row, density)
    for row in _rows("channels.toml", "tapered"):
        yield _channel(row, density)
    for row in _rows("channels.toml", "parallel"):
        yield _channel(row | {"toe_radius": 0.0, "taper": 0.0}, density)
    for row in _rows("tees.toml", "tees"):
        yield _tee(row, density)
    for row in _rows("half_rounds.toml", "half_rounds"):
        yield _half_round(row, density)


def _angle(row: dict[str, Any], density: float) -> Section:
    """An angle with the area of its true outline: two legs, the root fillet added, both toes taken off."""
    a, b, t, root, toe = (row[key] for key in ("a", "b", "t", "root_radius", "toe_radius"))
    area = t * (a + b - t) + _corner(root) - 2.0 * _corner(toe)
    name = f"L{a:g}x{b:g}x{t:g}"
    return Section(name, "angle", a, b, t, root, toe, area, area * density * STEEL_DENSITY_UNIT, row["source"])


def _channel(row: dict[str, Any], density: float) -> Section:
    """A channel with the area of its true outline; the flange that stands out is thinner than at half its width."""
    h, b, web, t, root, toe = (row[key] for key in ("h", "b", "web_thickness", "t", "root_radius", "toe_radius"))
    slope = row["taper"]
    flange = (b - web) * (t - slope * web / 2.0)
    area = h * web + 2.0 * (flange + _corner(root, slope) - _corner(toe, slope))
    nominal = f"x{b:g}x{row['nominal']:g}" if "nominal" in row else ""
    mass = area * density * STEEL_DENSITY_UNIT
    name = f"{row['series']}{h:g}{nominal}"
    return Section(name, "channel", b, b, t, root, toe, area, mass, row["source"], h, web, slope)


def _corner(radius: float, slope: float = 0.0) -> float:
    """Area between an arc and its two tangents, which meet at a right angle and `slope` more."""
    angle = math.pi / 2.0 - math.atan(slope)
    return radius**2 * (math.tan(angle / 2.0) - angle / 2.0)


def _tee(row: dict[str, Any], density: float) -> Section:
    """A tee with its published area: both legs taper."""
    a, b, t, root, toe, area = (row[key] for key in ("a", "b", "t", "root_radius", "toe_radius", "area"))
    mass, stem = area * density * STEEL_DENSITY_UNIT, row["web_thickness"]
    return Section(f"T{b:g}", "tee", a, b, t, root, toe, area, mass, row["source"], web_thickness=stem)


def _half_round(row: dict[str, Any], density: float) -> Section:
    d = row["d"]
    area = math.pi * d**2 / 8.0
    mass = area * density * STEEL_DENSITY_UNIT
    return Section(f"HR{d:g}", "half-round", d, 0.0, d / 2.0, 0.0, 0.0, area, mass, row["source"])


def _leg_limits(entry: dict[str, Any]) -> LegLimits:
    values: dict[str, Any] = {key: float(value) if isinstance(value, int) else value for key, value in entry.items()}
    return LegLimits(**values)


def _lengths(entry: dict[str, Any]) -> StockLengths:
    least, greatest = map(float, entry["diameters"])
    lengths = tuple(sorted(float(length) for length in entry["lengths"]))
    return StockLengths(entry["standard"], least, greatest, lengths, entry["source"])


def _tool(entry: dict[str, Any]) -> Tool:
    values: dict[str, Any] = {key: float(value) if isinstance(value, int) else value for key, value in entry.items()}
    return Tool(**values)
